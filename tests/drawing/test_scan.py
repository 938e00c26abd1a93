"""Plain entities read straight from the tags, against the library reading the whole drawing.

Both ways must give the same content, number for number and name for name: the library (ezdxf)
is the reference.
"""

import io
import random
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from drawing.making import draw_plate
from shared import SAMPLES, SHARED, corpus_drawings, needs_corpus, spread_drawings

from analyzer.budgets import DEFAULT as BUDGETS
from analyzer.drawing.content import Content
from analyzer.drawing.load import load_document
from analyzer.drawing.raw import RawDrawing
from analyzer.drawing.scan import scan
from analyzer.drawing.sniff import read_bytes
from analyzer.drawing.space import read_space
from analyzer.errors import DrawingError

SAME = (
    "types", "layers", "linetypes", "handles", "reasons", "closed", "texts", "repeated_points",
    "dimensions", "conics", "conic_source", "spline_source",
)  # fmt: skip
HOSTILE = SHARED / "hostile" / "make_hostile.py"


def content_of(path: Path, *, direct: bool) -> tuple[Content, list[str], int] | str:
    """Return content, facts and how many entities were read straight; or the refusal."""
    try:
        tags = RawDrawing(read_bytes(path, BUDGETS), path.name)
        document, facts, plain = load_document(tags, BUDGETS, direct=direct)
        content = read_space(document, tags, plain)
    except DrawingError as error:
        return str(error)
    return content, [fact.message for fact in facts], len(plain.row) if plain else 0


def read_straight(path: Path) -> int:
    """Hold both ways against each other; return how many entities were read straight."""
    whole, straight = content_of(path, direct=False), content_of(path, direct=True)
    if isinstance(whole, str) or isinstance(straight, str):
        assert whole == straight, path.name
        return 0
    (a, said, none), (b, also_said, count) = whole, straight
    assert none == 0
    assert said == also_said
    for name in SAME:
        assert getattr(a, name) == getattr(b, name), (path.name, name)
    assert [(i.name, i.source) for i in a.inserts] == [(i.name, i.source) for i in b.inserts]
    for one, two in zip(a.all_segments(), b.all_segments(), strict=True):
        np.testing.assert_array_equal(one, two, err_msg=path.name)
    return count


@needs_corpus
@pytest.mark.parametrize("path", spread_drawings(3))
def test_real_drawings_are_read_alike(path: Path) -> None:
    read_straight(path)


@needs_corpus
def test_most_real_drawings_are_read_straight() -> None:
    """Those of which nothing is are few: the check above is not about nothing."""
    some = corpus_drawings()[::6]
    assert sum(read_straight(path) > 0 for path in some) > 0.7 * len(some)


def test_the_samples_are_read_alike() -> None:
    counts = [read_straight(path) for path in sorted(SAMPLES.glob("*.dxf"))]
    assert sum(count > 0 for count in counts) >= len(counts) - 1  # one holds nothing but blocks


@pytest.mark.slow
@pytest.mark.skipif(not HOSTILE.is_file(), reason="the hostile set (../shared/hostile) is not here")
def test_the_hostile_set_is_read_alike(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, str(HOSTILE), str(tmp_path), "--no-big"], check=True, capture_output=True
    )
    drawings = sorted(tmp_path.rglob("*.dxf"))
    assert len(drawings) > 200
    for path in drawings:
        read_straight(path)


# --- made drawings ------------------------------------------------------------------------


def _line(space: Any, x: float, y: float, at: dict[str, Any], rng: random.Random) -> None:
    space.add_line((x, y, rng.choice((0, 5))), (x + 9, y, rng.choice((0, 5))), at)


def _circle(space: Any, x: float, y: float, at: dict[str, Any], rng: random.Random) -> None:
    space.add_circle((x, y), rng.choice((3.0, 0.0, -1.0, 1e13)), at)


def _arc(space: Any, x: float, y: float, at: dict[str, Any], rng: random.Random) -> None:
    first, sweep = rng.uniform(-400, 800), rng.choice((0.0, 90.0, 359.0, 360.0, 720.0))
    space.add_arc((x, y), 4.0, first, first + sweep, dxfattribs=at)


def _polyline(space: Any, x: float, y: float, at: dict[str, Any], rng: random.Random) -> None:
    points = [(x, y, rng.choice((0, 0.5, -2))) for _ in range(rng.randrange(1, 3))]
    points += [(x + 5, y + j, rng.choice((0, 1))) for j in range(rng.randrange(4))]
    old = space.doc.dxfversion == "AC1009" or rng.random() < 0.4
    make = space.add_polyline2d if old else space.add_lwpolyline
    make(points, format="xyb", close=rng.random() < 0.5, dxfattribs=at)


def _text(space: Any, x: float, y: float, at: dict[str, Any], rng: random.Random) -> None:
    space.add_text("M6", dxfattribs=at).set_placement((x, y))


def _solid_polyline(space: Any, x: float, y: float, at: dict[str, Any], rng: random.Random) -> None:
    space.add_polyline3d([(x, y, 0), (x, y + 3, 0), (x + 2, y, 0)], dxfattribs=at)


def _spline(space: Any, x: float, y: float, at: dict[str, Any], rng: random.Random) -> None:
    if space.doc.dxfversion > "AC1009":
        space.add_spline([(x, y, 0), (x + 4, y + 9, 0), (x + 9, y, 0)], dxfattribs=at)


KINDS = (_line, _circle, _arc, _polyline, _polyline, _text, _solid_polyline, _spline)


def draw_all(space: Any, rng: random.Random) -> None:
    """Draw entities of all kinds, plain ones and odd ones, in no order."""
    for k in range(80):
        at: dict[str, Any] = {"layer": rng.choice(["0", "Käse", "A"]), "color": k % 7}
        if rng.random() < 0.2:
            at["linetype"] = "Continuous"
        if rng.random() < 0.1:
            at["extrusion"] = (0, 0, rng.choice((1, -1)))
        if rng.random() < 0.1:
            at["invisible"] = 1
        if rng.random() < 0.1:
            at["paperspace"] = 1
        rng.choice(KINDS)(space, rng.uniform(-1e3, 1e3), rng.uniform(-1e3, 1e3), at, rng)


@pytest.mark.parametrize("ends", [b"\n", b"\r\n"], ids=["LF", "CRLF"])
@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
def test_made_drawings_are_read_alike(tmp_path: Path, version: str, ends: bytes) -> None:
    counts = 0
    for seed in range(3):
        document = ezdxf.new(version)
        draw_all(document.modelspace(), random.Random(f"{version}:{seed}"))
        path = tmp_path / f"{seed}.dxf"
        document.saveas(path)
        text = path.read_bytes().replace(b"\r\n", b"\n")
        path.write_bytes(text.replace(b"\n", ends))
        counts += read_straight(path)
    assert counts > 60


@pytest.fixture(scope="module")
def body() -> list[bytes]:
    document = ezdxf.new("R2000")
    draw_all(document.modelspace(), random.Random("body"))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode().split(b"\n")


CODES = (b"  0", b" 10", b"20", b" 8", b"67", b"70", b"42", b"210", b"100", b"1001", b"5", b" 60")
VALUES = (
    b"0.0", b"1", b"nan", b"1e400", b"1,5", b"", b" A ", b"LINE", b"VERTEX", b"SEQEND",
    b"POLYLINE", b"ATTRIB", b"INSERT", b"CIRCLE", b"AcDbEntity", b"-1.0", b"2B", b"0", b" 1_0 ",
)  # fmt: skip


def damaged(body: list[bytes], rng: random.Random) -> bytes:
    """Return the drawing with tags dropped, doubled, moved, or with another code or value."""
    lines = list(body)
    begin = lines.index(b"ENTITIES")
    for _ in range(rng.randint(1, 4)):
        tag = 2 * rng.randint(begin // 2 + 1, len(lines) // 2 - 4)
        how = rng.choice(("drop", "double", "swap", "code", "value"))
        if how == "drop":
            del lines[tag : tag + 2]
        elif how == "double":
            lines[tag:tag] = lines[tag : tag + 2]
        elif how == "swap":
            lines[tag : tag + 4] = lines[tag + 2 : tag + 4] + lines[tag : tag + 2]
        elif how == "code":
            lines[tag] = rng.choice(CODES)
        else:
            lines[tag + 1] = rng.choice(VALUES)
    return b"\n".join(lines)


@pytest.mark.parametrize(
    "part", [0, *(pytest.param(part, marks=pytest.mark.slow) for part in range(1, 4))]
)
def test_damaged_tags_are_read_alike(tmp_path: Path, body: list[bytes], part: int) -> None:
    path = tmp_path / "damaged.dxf"
    for seed in range(40):
        path.write_bytes(damaged(body, random.Random(f"{part}:{seed}")))
        read_straight(path)


def test_what_is_read_straight_does_not_reach_the_library(tmp_path: Path) -> None:
    document = ezdxf.new("R2010")
    draw_plate(document.modelspace())
    document.modelspace().add_text("t=8")
    path = tmp_path / "plate.dxf"
    document.saveas(path)
    tags = RawDrawing(read_bytes(path, BUDGETS), path.name)
    plain = scan(tags)
    assert plain is not None
    assert len(plain.row) == 4 + 4 + 4 + 1
    entities = plain.rest(tags).split(b"ENTITIES")[1].split(b"ENDSEC")[0]
    assert re.findall(rb"\n  0\n(\w+)", entities) == [b"TEXT"]
