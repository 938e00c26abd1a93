"""Files about a whole batch: whole after every run, and left alone where nothing changes."""

from pathlib import Path

import pytest

from analyzer.batch.overview import overview_of
from analyzer.batch.places import INDEX, LINES, SUMMARY
from analyzer.batch.row import REFUSED, Row
from analyzer.batch.run import Batch
from analyzer.batch.store import Store
from analyzer.batch.summary import write_summary
from analyzer.batch.tell import line_of

FILES = (SUMMARY, LINES, INDEX)


def write(folder: Path, *reasons: str) -> dict[str, tuple[bytes, int]]:
    """Write the summary of drawings refused for `reasons`; return bytes and inode of its files."""
    rows = [Row(f"{k}.dxf", REFUSED, reason) for k, reason in enumerate(reasons)]
    batch = Batch(rows, [""] * len(rows), [()] * len(rows))
    store = Store(folder)
    write_summary(batch, overview_of(rows), store, "drawings")
    store.close()
    return {name: ((folder / name).read_bytes(), (folder / name).stat().st_ino) for name in FILES}


def test_what_tells_the_same_is_left_alone(tmp_path: Path) -> None:
    first = write(tmp_path, "a", "b")
    assert write(tmp_path, "a", "b") == first


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_was_lost_or_touched_is_written_again(tmp_path: Path, name: str) -> None:
    first = write(tmp_path, "a", "b")
    (tmp_path / name).unlink()
    again = write(tmp_path, "a", "b")
    assert again[name][0] == first[name][0]
    (tmp_path / name).write_bytes(b"spoilt")
    assert write(tmp_path, "a", "b")[name][0] == first[name][0]


def test_another_row_or_reason_is_told(tmp_path: Path) -> None:
    first = write(tmp_path, "a", "b")
    assert write(tmp_path, "a", "c")[SUMMARY][0] != first[SUMMARY][0]
    assert len(write(tmp_path, "a", "c", "d")[LINES][0].splitlines()) == 3
    assert {name: told for name, (told, _) in write(tmp_path, "a", "b").items()} == {
        name: told for name, (told, _) in first.items()
    }


def test_a_refused_drawing_is_named_once() -> None:
    """Not "a/b.dxf: REFUSED: b.dxf: is empty"."""
    row = Row("a/b.dxf", REFUSED, "b.dxf: is empty (save or copy the drawing again)")
    assert line_of(row) == "a/b.dxf: REFUSED: is empty (save or copy the drawing again)"
    other = Row("a/b.dxf", "failed", "list.csv, line 3: gone")
    assert line_of(other) == "a/b.dxf: FAILED: list.csv, line 3: gone"
