"""What cannot be read is refused with one plain sentence, and nothing else is opened."""

import gzip
import io
import os
import sys
import zipfile
from functools import partial
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from drawing.making import (
    circle_tags,
    draw_plate,
    fact,
    kinds,
    line_tags,
    read_made,
    read_text,
    square,
    tags_text,
)

from analyzer.budgets import Budgets
from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.errors import DrawingError, InputError

GOOD = tags_text(square(0, 0, 50))


def zipped() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("part.dxf", GOOD)
    return out.getvalue()


FOREIGN = {
    "empty": b"",
    "a line end": b"\n",
    "zeros": bytes(1000),
    "zip": zipped(),
    "gzip": gzip.compress(GOOD.encode()),
    "pdf": b"%PDF-1.7\n1 0 obj",
    "png": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
    "dwg": b"AC1027\x00\x00",
    "html": b"<!DOCTYPE html><html><body>404</body></html>",
    "svg": b'<svg xmlns="http://www.w3.org/2000/svg"/>',
    "utf-16": GOOD.encode("utf-16"),
    "prose": b"Dear Sir,\nplease find the drawing enclosed.\n",
    "noise": bytes(range(255, 0, -1)) * 40,
    "binary mark alone": b"AutoCAD Binary DXF\r\n\x1a\x00",
    "binary noise": b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(range(1, 200)),
    "one line": b"0",
    "no entities": b"0\nSECTION\n2\nHEADER\n0\nENDSEC\n0\nEOF\n",
}
NAMED = {
    "empty": "is empty", "zip": "zip archive", "gzip": "gzip archive", "pdf": "PDF document",
    "png": "PNG picture", "dwg": "DWG drawing", "html": "web page", "svg": "SVG picture",
    "utf-16": "UTF-16", "no entities": "no ENTITIES section",
}  # fmt: skip


@pytest.mark.parametrize("name", FOREIGN)
def test_foreign_files_are_named(tmp_path: Path, name: str) -> None:
    with pytest.raises(DrawingError) as caught:
        read_text(tmp_path, FOREIGN[name])
    said = str(caught.value)
    assert said.startswith("made.dxf: ")
    assert NAMED.get(name, "") in said
    assert "\n" not in said
    assert caught.value.exit_code == 2


def test_what_is_no_file_is_refused_without_waiting(tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match=r"missing\.dxf: cannot be opened: No such file"):
        read_drawing(tmp_path / "missing.dxf")
    with pytest.raises(DrawingError, match="is a folder"):
        read_drawing(tmp_path)
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.dxf")
        with pytest.raises(DrawingError, match="is a pipe or device"):
            read_drawing(tmp_path / "pipe.dxf")
        (tmp_path / "zero.dxf").symlink_to("/dev/zero")
        with pytest.raises(DrawingError, match="is a pipe or device"):
            read_drawing(tmp_path / "zero.dxf")
        (tmp_path / "loop.dxf").symlink_to("loop.dxf")
        with pytest.raises(DrawingError, match="cannot be opened"):
            read_drawing(tmp_path / "loop.dxf")


@pytest.mark.parametrize("extra", [0, 1])
def test_size_at_the_limit_and_one_byte_over(tmp_path: Path, extra: int) -> None:
    text = GOOD.encode() + b" " * (100_000 - len(GOOD))
    options = ReadOptions(budgets=Budgets(file_mb=1))
    text += b" " * (900_000 + extra)
    if extra:
        with pytest.raises(DrawingError, match="file_mb = 1"):
            read_text(tmp_path, text, options)
    else:
        assert len(read_text(tmp_path, text, options).cuts) == 1


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9, 0.99])
@pytest.mark.parametrize("binary", [False, True])
def test_a_file_that_is_cut_off_is_refused(tmp_path: Path, share: float, binary: bool) -> None:
    read_made(tmp_path, draw_plate, binary=binary)
    data = (tmp_path / "made.dxf").read_bytes()
    with pytest.raises(DrawingError, match=r"cut off|cut-off|damaged"):
        read_text(tmp_path, data[: int(len(data) * share)])


def test_a_missing_end_marker_is_said(tmp_path: Path) -> None:
    drawing = read_text(tmp_path, tags_text(square(0, 0, 50), end=False))
    assert kinds(drawing) == ["no-end-marker"]
    assert drawing.cuts.length.tolist() == [200.0]


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ("50.0", "50,0", r"line \d+ should be a number but is '50,0'"),
        ("50.0", "50.0mm", "should be a number but is '50.0mm'"),
        ("\n8\n0\n", "\nabc\n0\n", r"line \d+ should be a group code but is b'abc'"),
        ("\n8\n0\n", "\n8\n", "should be a group code|cut off|cannot be read"),
    ],
)
def test_damaged_tags_are_refused_with_the_line(
    tmp_path: Path, old: str, new: str, match: str
) -> None:
    text = tags_text(square(0.0, 0.0, 50.0))
    assert old in text
    with pytest.raises(DrawingError, match=match):
        read_text(tmp_path, text.replace(old, new, 1))


def test_the_line_told_is_the_line_meant(tmp_path: Path) -> None:
    text = tags_text([circle_tags(1.0, 2.0, 3.5)]).replace("3.5", "3,5")
    line = text.split("\n").index("3,5") + 1
    with pytest.raises(DrawingError, match=f"line {line} "):
        read_text(tmp_path, text)


@pytest.mark.parametrize("change", ["crlf", "cr", "bom", "padded", "comments", "junk after"])
def test_other_ways_to_write_text_change_nothing(tmp_path: Path, change: str) -> None:
    lines = GOOD.split("\n")
    pairs = zip(lines[0::2], lines[1::2], strict=False)
    text = {
        "crlf": GOOD.replace("\n", "\r\n"),
        "cr": GOOD.replace("\n", "\r"),
        "bom": "\ufeff" + GOOD,
        "padded": "\n".join(f" \t{a} \n{b}  " for a, b in pairs),
        "comments": "999\nby hand\n" + GOOD.replace("0\nLINE\n", "0\nLINE\n999\nnote\n"),
        "junk after": GOOD + "\n\nnot a tag\n",
    }[change]
    drawing = read_text(tmp_path, text)
    assert drawing.cuts.length.tolist() == [200.0]
    assert drawing.facts == ()


def test_coordinates_out_of_order_are_read_by_repair_and_said(tmp_path: Path) -> None:
    """Old exporters write a LINE as 10, 11, 20, 21."""
    entities = [[tags[0], tags[1], tags[2], tags[4], tags[3], tags[5]] for tags in square(0, 0, 50)]
    drawing = read_text(tmp_path, tags_text(entities))
    assert drawing.cuts.length.tolist() == [200.0]
    assert "read by repair" in fact(drawing, "recovered").message


def test_two_entities_sections_are_joined_and_said(tmp_path: Path) -> None:
    more = "0\nSECTION\n2\nENTITIES\n" + "".join(
        f"{code}\n{value}\n" for code, value in circle_tags(25, 25, 5)
    )
    text = GOOD.replace("0\nEOF\n", more + "0\nENDSEC\n0\nEOF\n")
    drawing = read_text(tmp_path, text)
    assert len(drawing.cuts) == 2
    assert kinds(drawing) == ["two-sections"]
    assert drawing.account.total == 5


def test_entities_outside_every_section_are_taken_in_and_said(tmp_path: Path) -> None:
    more = "".join(f"{code}\n{value}\n" for code, value in circle_tags(25, 25, 5))
    drawing = read_text(tmp_path, GOOD.replace("0\nEOF\n", more + "0\nEOF\n"))
    assert len(drawing.cuts) == 2
    assert kinds(drawing) == ["outside-sections"]


def test_one_handle_for_all_loses_nothing(tmp_path: Path) -> None:
    """The library keeps entities by handle; we count the tags and give new handles."""
    entities = [[tags[0], (5, "AB"), *tags[1:]] for tags in square(0, 0, 50)]
    drawing = read_text(tmp_path, tags_text(entities))
    assert drawing.cuts.length.tolist() == [200.0]
    assert fact(drawing, "double-handles").count == 4
    assert drawing.account.total == 4


def test_what_the_reader_does_not_deliver_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A reader that swallows circles: the tags are the witness."""
    from analyzer.drawing import reading, space

    honest = space.read_content

    def swallow(entities: Any, raw: Any = None, numbers: Any = None) -> Any:
        return honest([e for e in entities if e.dxftype() != "CIRCLE"], raw, numbers)

    monkeypatch.setattr(space, "read_content", swallow)
    monkeypatch.setattr(reading, "load_document", partial(reading.load_document, direct=False))
    text = tags_text([*square(0, 0, 50), circle_tags(9, 9, 3, "A"), circle_tags(30, 9, 3, "A")])
    drawing = read_text(tmp_path, text)
    (row,) = drawing.account.ignored
    assert (row.type, row.layer, row.reason, row.count) == ("CIRCLE", "A", "lost by the reader", 2)
    assert drawing.account.total == 6


def test_errors_of_the_library_never_get_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import ezdxf.filemanagement
    import ezdxf.recover

    def fail(*_: Any) -> None:
        raise RecursionError("0x7f00deadbeef went round")

    monkeypatch.setattr(ezdxf.filemanagement, "read", fail)
    monkeypatch.setattr(ezdxf.recover, "read", fail)
    with pytest.raises(DrawingError, match="cannot be read as DXF") as caught:
        read_text(tmp_path, GOOD)
    assert "0x" not in str(caught.value)  # an address differs from run to run


@pytest.mark.parametrize(
    "options",
    [ReadOptions(units="furlong"), ReadOptions(layer_roles=(("slice", "CUT"),))],
    ids=["unit", "role"],
)
def test_wrong_options_are_input_errors(tmp_path: Path, options: ReadOptions) -> None:
    with pytest.raises(InputError, match="is not known"):
        read_text(tmp_path, GOOD, options)


def test_no_path_in_a_drawing_is_opened(tmp_path: Path) -> None:
    """An audit hook sees every file the interpreter opens."""
    document = ezdxf.new("R2010")
    space = document.modelspace()
    draw_plate(space)
    secret = tmp_path / "secret.dxf"
    secret.write_text("never")
    picture = document.add_image_def(str(secret), size_in_pixel=(10, 10))
    space.add_image(picture, (0, 0), (10, 10))
    document.add_xref_def(str(secret), "OUTSIDE")
    space.add_blockref("OUTSIDE", (0, 0))
    path = tmp_path / "made.dxf"
    document.saveas(path)
    read_drawing(path)  # loads what the library loads lazily
    opened: list[str] = []
    listening = True

    def listen(event: str, arguments: tuple[Any, ...]) -> None:
        if listening and event in ("open", "socket.connect", "socket.getaddrinfo"):
            opened.append(str(arguments[0]))

    sys.addaudithook(listen)
    drawing = read_drawing(path)
    listening = False
    assert [name for name in opened if "secret" in name] == []
    assert str(path) in opened
    assert {row.type for row in drawing.account.ignored} == {"IMAGE", "INSERT"}


def test_a_long_line_of_bytes_is_a_refusal_not_a_crash(tmp_path: Path) -> None:
    text = tags_text([line_tags((0.0, 0.0), (1.0, 1.0))])
    for cut in range(0, len(text), 7):
        broken = text[:cut] + text[cut + 3 :]
        try:
            drawing = read_text(tmp_path, broken)
        except DrawingError:
            continue
        assert drawing.account.total == drawing.account.used + sum(
            row.count for row in drawing.account.ignored
        )
