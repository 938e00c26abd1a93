"""What a batch finds to do: folders, lists, and all that can be wrong with them."""

import os
import sys
from pathlib import Path

import pytest

from analyzer.batch.places import Places, check_folder
from analyzer.batch.tasks import Task, Unusable, tasks_of
from analyzer.errors import InputError
from analyzer.request import Request

ASKED = Request(material="mild-steel", thickness_mm=5.0, power_kw=6.0)


def names_in(source: Path, **options: object) -> list[str]:
    return [one.name for one in tasks_of(source, ASKED, **options)]  # type: ignore[arg-type]


def test_a_folder_is_searched_whole_and_in_order(tmp_path: Path) -> None:
    for name in ("b.dxf", "a.DXF", "sub/c.dxf", "sub/deep/d.dxf", "sub/note.txt", "out/e.dxf"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("0")
    found = names_in(tmp_path, leave_out=tmp_path / "out")
    assert found == ["a.DXF", "b.dxf", "sub/c.dxf", "sub/deep/d.dxf"]
    assert names_in(tmp_path, pattern="c*") == ["sub/c.dxf"]


def test_names_may_hold_anything(tmp_path: Path) -> None:
    for name in ("with blank.dxf", "two\nlines.dxf", "hammer\N{HAMMER}.dxf", "=1+1.dxf"):
        (tmp_path / name).write_text("0")
    (tmp_path / os.fsdecode(b"half\xff.dxf")).write_text("0")
    assert len(names_in(tmp_path)) == 5


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights on Windows")
def test_links_in_a_loop_end(tmp_path: Path) -> None:
    (tmp_path / "a.dxf").write_text("0")
    (tmp_path / "loop").symlink_to(tmp_path)
    (tmp_path / "self.dxf").symlink_to(tmp_path / "self.dxf")
    assert names_in(tmp_path) == ["a.dxf", "self.dxf"]


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_a_closed_folder_is_named(tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0)
    (one,) = tasks_of(tmp_path, ASKED)
    assert isinstance(one, Unusable)
    assert "cannot be searched" in one.reason
    closed.chmod(0o700)


def test_a_list_tells_the_job_of_every_row(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(
        "drawing,material,thickness_mm,next,quantity\n"
        "a.dxf,stainless,3,visible,7\nb.dxf,,,,\nc.dxf,,abc,,\nd.dxf,,,,0\n,stainless,,,\n"
    )
    one, two, *bad = tasks_of(path, ASKED)
    assert isinstance(one, Task)
    assert isinstance(two, Task)
    assert (one.request.material, one.request.thickness_mm, one.quantity) == ("stainless", 3.0, 7)
    assert one.request.next_step == "visible"
    assert two.request == ASKED
    assert two.path == tmp_path / "b.dxf"
    assert [isinstance(row, Unusable) for row in bad] == [True] * 3
    assert [row.number for row in (one, two, *bad)] == [0, 1, 2, 3, 4]


def test_a_text_file_lists_drawings(tmp_path: Path) -> None:
    path = tmp_path / "list.txt"
    path.write_text("# Monday\na.dxf\n\n sub/b.dxf \n")
    assert names_in(path) == ["a.dxf", "sub/b.dxf"]


def test_a_drawing_is_no_list(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    path.write_text("0\nSECTION\n2\nENTITIES\n")
    with pytest.raises(InputError, match="not a list"):
        list(tasks_of(path, ASKED))
    with pytest.raises(InputError, match="neither"):
        list(tasks_of(tmp_path / "nothing", ASKED))


def test_every_drawing_has_a_page_of_its_own(tmp_path: Path) -> None:
    places = Places(tmp_path)
    names = ("a.dxf", "A.DXF", "sub/a.dxf", "../a.dxf", "/etc/passwd", "..", "summary.x")
    pages = [places.page(name, "html") for name in names]
    assert pages[:3] == ["a.html", "A-2.html", "sub/a.html"]
    assert len({page.casefold() for page in pages}) == len(pages)
    assert all(tmp_path in (tmp_path / page).resolve().parents for page in pages)
    assert Places(tmp_path).page("summary.dxf", "csv") == "summary-2.csv"  # the batch's own


def test_a_folder_with_other_things_is_refused(tmp_path: Path) -> None:
    check_folder(tmp_path / "new", force=False)
    check_folder(tmp_path, force=False)
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(InputError, match="other files"):
        check_folder(tmp_path, force=False)
    check_folder(tmp_path, force=True)
    with pytest.raises(InputError, match="is a file"):
        check_folder(tmp_path / "letter.txt", force=True)
