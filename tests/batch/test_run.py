"""A whole batch: the same for any number of processes, resumed without repeating, never lost."""

import csv
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from shared import SAMPLES

from analyzer.batch.local import Todo, work_through
from analyzer.batch.overview import overview_of
from analyzer.batch.row import Row
from analyzer.batch.run import Plan, run_batch
from analyzer.batch.store import FILE_NAME, Store
from analyzer.batch.tasks import tasks_of
from analyzer.batch.tell import line_of, summary_csv
from analyzer.batch.work import Pages, work
from analyzer.errors import InputError
from analyzer.request import Request

ASKED = Request(material="mild-steel", thickness_mm=8.0, power_kw=6.0)
FILES = ("summary.csv", "results.jsonl", "index.html", "overview.png")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder: Path = tmp_path_factory.mktemp("drawings")
    for name in ("gusset", "base_plate", "name_plate"):
        shutil.copy(SAMPLES / f"{name}.dxf", folder)
    (folder / "customer").mkdir()
    shutil.copy(SAMPLES / "splice_plate.dxf", folder / "customer" / "a =plate.dxf")
    (folder / "broken.dxf").write_text("0\nSECTION\n2\nENTITIES\n0\nLINE\n")
    return folder


def burrcast(*args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "analyzer", "batch", *args, "--material=mild-steel",
         "--thickness=8mm", "--power=6kW"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith(FILE_NAME)
    }


@pytest.fixture(scope="module")
def once(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The results of one run with one process, and what it printed."""
    out = tmp_path_factory.mktemp("once") / "out"
    run = burrcast(str(folder), "--out", str(out), "--format=json", "--jobs=1")
    assert run.returncode == 3  # one drawing is refused
    return out, run.stdout


def test_what_one_run_leaves(once: tuple[Path, str]) -> None:
    out, told = once
    assert set(contents(out)) == {
        *FILES, "gusset.json", "base_plate.json", "name_plate.json", "customer/a =plate.json",
    }  # fmt: skip
    rows = list(csv.DictReader((out / "summary.csv").open(newline="", encoding="utf-8-sig")))
    names = [row["drawing"] for row in rows]
    assert names == [
        "base_plate.dxf", "broken.dxf", "gusset.dxf", "name_plate.dxf", "customer/a =plate.dxf",
    ]  # fmt: skip
    assert [row["status"] for row in rows].count("refused") == 1
    lines = [json.loads(line) for line in (out / "results.jsonl").read_text().splitlines()]
    assert [line["name"] for line in lines] == names
    page = json.loads((out / "gusset.json").read_text())
    assert page.items() <= lines[2].items()  # the page is the line without name and quantity
    gusset = next(row for row in rows if row["drawing"] == "gusset.dxf")
    advised = next(g for g in page["gases"] if g["gas"] == page["advice"]["gas"])
    assert float(gusset["time_s"]) == advised["time_s"]["total"]
    assert told.count("\n") > 5
    assert "4 drawings done, 1 refused, 0 failed" in told


def test_any_number_of_processes_gives_the_same(
    folder: Path, once: tuple[Path, str], tmp_path: Path
) -> None:
    burrcast(str(folder), "--out", str(tmp_path / "out"), "--format=json", "--jobs=3")
    assert contents(tmp_path / "out") == contents(once[0])


def test_a_second_run_does_nothing_twice(
    folder: Path, once: tuple[Path, str], tmp_path: Path
) -> None:
    out = tmp_path / "out"
    shutil.copytree(once[0], out)
    before = {path: path.stat().st_mtime_ns for path in out.rglob("*.json")}
    found = list(tasks_of(folder, ASKED))
    worked: list[str] = []
    store = Store(out)
    plan = Plan(Pages(("json",)), out=out)
    batch = run_batch(found, plan, store, lambda row, far: worked.append(f"{far.done}"))
    assert worked[-1] == "0"  # all rows, the refused one too, came from the store
    assert {path: path.stat().st_mtime_ns for path in out.rglob("*.json")} == before
    assert summary_csv(batch.rows) == (out / "summary.csv").read_bytes()
    store.close()


def test_what_changed_is_done_anew(folder: Path, tmp_path: Path) -> None:
    drawings, out = tmp_path / "in", tmp_path / "out"
    shutil.copytree(folder, drawings)
    store = Store(out)
    plan = Plan(Pages(("json",)), out=out)
    run_batch(list(tasks_of(drawings, ASKED)), plan, store)
    shutil.copy(SAMPLES / "deck_plate.dxf", drawings / "gusset.dxf")
    (out / "base_plate.json").unlink()
    done: list[str] = []

    def tell(row: Row, far: object) -> None:
        done.append(row.drawing)

    fresh = [row.drawing for row in _new_rows(drawings, plan, store)]
    assert fresh == ["base_plate.dxf", "gusset.dxf"]
    assert (out / "base_plate.json").is_file()
    store.close()


def _new_rows(drawings: Path, plan: Plan, store: Store) -> list[Row]:
    rows: list[Row] = []
    last = 0

    def tell(row: Row, far: object) -> None:
        nonlocal last
        if far.done > last:  # type: ignore[attr-defined]
            rows.append(row)
            last = far.done  # type: ignore[attr-defined]

    run_batch(list(tasks_of(drawings, ASKED)), plan, store, tell)
    return sorted(rows, key=lambda row: row.drawing)


def test_other_settings_are_other_answers(folder: Path, tmp_path: Path) -> None:
    store = Store(tmp_path)
    one = run_batch(list(tasks_of(folder, ASKED)), Plan(), store)
    thin = Request(material="mild-steel", thickness_mm=3.0, power_kw=6.0)
    two = run_batch(list(tasks_of(folder, thin)), Plan(), store)
    assert not set(one.keys) & set(two.keys)
    (folder / "burrcast.toml").write_text("[machine]\nlift_s = 0.4\n")
    try:
        three = run_batch(list(tasks_of(folder, ASKED)), Plan(), store)
    finally:
        (folder / "burrcast.toml").unlink()
    assert not set(one.keys) & set(three.keys)
    assert any(a.time_s < b.time_s for a, b in zip(one.rows, three.rows, strict=True))
    store.close()


def test_a_drawing_that_takes_too_long_is_given_up(folder: Path) -> None:
    found = list(tasks_of(folder, ASKED, pattern="gusset*"))
    (row,) = run_batch(found, Plan(time_limit_s=0.05)).rows
    assert row.status == "failed"
    assert "longer than 0.05 s" in row.reason


def test_a_drawing_changed_while_it_is_read_is_read_again(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "gusset.dxf"
    shutil.copy(SAMPLES / "gusset.dxf", path)
    (task,) = tasks_of(tmp_path, ASKED)
    honest, times = Request.answer, []

    def meddled(self: Request, drawing: Path, shop: object = None) -> object:
        times.append(1)
        told = honest(self, drawing, shop)  # type: ignore[arg-type]
        if len(times) == 1:
            shutil.copy(SAMPLES / "deck_plate.dxf", drawing)
        return told

    monkeypatch.setattr(Request, "answer", meddled)
    done = work(task)  # type: ignore[arg-type]
    monkeypatch.undo()
    assert len(times) == 2
    assert done == work(task)  # type: ignore[arg-type]  # the answer for what is there now


def test_pages_that_are_not_ours_stay(folder: Path, tmp_path: Path) -> None:
    store = Store(tmp_path)
    (tmp_path / "gusset.json").write_text("mine")
    plan = Plan(Pages(("json",)), out=tmp_path)
    with pytest.raises(InputError, match="there already"):
        run_batch(list(tasks_of(folder, ASKED)), plan, store)
    assert (tmp_path / "gusset.json").read_text() == "mine"
    store.close()


def test_a_page_that_cannot_be_written_ends_the_batch(folder: Path, tmp_path: Path) -> None:
    (task,) = tasks_of(folder, ASKED, pattern="gusset*")
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="cannot write"):
        list(work_through(
            iter([Todo(task, (str(tmp_path / "file" / "gusset.json"),))]),  # type: ignore[arg-type]
            Pages(("json",)), jobs=1,
        ))  # fmt: skip


def test_the_overview_adds_up() -> None:
    rows = [
        Row("a/x.dxf", "done", quantity=3, material="mild-steel", gas="mixed", time_s=1200.0,
            rework_min=10.0, small_holes=2),
        Row("a/y.dxf", "done", material="mild-steel", gas="mixed", time_s=600.0),
        Row("b/z.dxf", "done", material="stainless", gas="nitrogen", time_s=60.0, rework_min=40.0,
            small_holes=5),
        Row("q.dxf", "refused", "is empty"),
    ]  # fmt: skip
    view = overview_of(rows)
    assert (view.done, view.refused, view.failed) == (3, 1, 0)
    steel, stainless = view.hours
    assert (steel.machine_h, steel.hand_h) == pytest.approx((3 * 1200 / 3600 + 1 / 6, 0.5))
    assert (stainless.drawings, stainless.gas) == (1, "nitrogen")
    assert [row.drawing for row in view.rework] == ["b/z.dxf", "a/x.dxf"]
    assert [(s.folder, s.holes) for s in view.small_holes] == [("b", 5), ("a", 2)]


def test_names_are_data() -> None:
    row = Row("=cmd|' /C calc'!A0\x1b[31m.dxf", "refused", "=2+2")
    assert "\x1b" not in line_of(row)
    (_, cells) = csv.reader(summary_csv([row]).decode("utf-8-sig").splitlines())
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in cells)


def test_what_is_not_known_is_empty_and_not_nought() -> None:
    """A mean over a column of a spreadsheet would count it."""
    rows = [
        Row("a.dxf", "refused", "is empty"), Row("b.dxf", "done", parts=1, entities=4, losses=1),
        Row("c.dxf", "done", parts=1, gas="air", time_s=3.0),
    ]  # fmt: skip
    refused, without_gas, whole = csv.DictReader(summary_csv(rows).decode("utf-8-sig").splitlines())
    told = {"drawing", "status", "reason", "quantity"}
    assert {name for name, cell in refused.items() if cell} == told
    assert (without_gas["time_s"], without_gas["losses"]) == ("", "1")
    assert (whole["time_s"], whole["losses"]) != ("", "")
    assert whole["notes"] == "0"
