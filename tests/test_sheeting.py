"""Sheets from lists and from drawings: sums that must hold, sheets worked by hand."""

import csv
import io
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import jsonschema
import numpy as np
import pytest
from shared import ROOT, SAMPLES

from analyzer.money import Bill
from analyzer.motion.running import move_times
from analyzer.motion.timing import Timing
from analyzer.orders import Given
from analyzer.packing.stock import Stock
from analyzer.packing.stock_section import parse_size
from analyzer.process.flow import GasUse
from analyzer.process.machine import Machine
from analyzer.process.rates import Rates
from analyzer.process.supply import NO_SUPPLIES
from analyzer.reasons import money
from analyzer.report import strict
from analyzer.report.to_sheet import sheet_page
from analyzer.report.to_sheet_csv import sheeting_csv
from analyzer.report.to_sheet_json import sheeting_object
from analyzer.sheet_order import SheetOptions
from analyzer.sheet_planning import plan_sheets
from analyzer.sheet_results import sheet_cost
from analyzer.sheeting import Sheeting, SheetJob
from analyzer.shop import Shop, load_shop, parse_shop
from analyzer.units import by_hand, span

TEN = Given("mild-steel", 10.0, 10.0)
BIG = Stock("3000x1500", 3000.0, 1500.0)
QUICK = SheetOptions((BIG,), effort_s=0.0, what_if=False)
SCHEMA = json.loads((ROOT / "docs/schemas/burrcast.sheet-1.json").read_text(encoding="utf-8"))
RATES = """
[rates]
machine_per_h = 120
labour_per_h = 60
[gases]
available = ["oxygen", "nitrogen"]
"""


def plate(
    path: Path, length: float, width: float, holes: tuple[tuple[float, float, float], ...] = ()
) -> Path:
    """Draw a rectangle with round holes (x, y, diameter) into `path`."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (length, 0), (length, width), (0, width)], close=True)
    for x, y, diameter in holes:
        space.add_circle((x, y), diameter / 2.0)
    document.saveas(path)
    return path


def listed(folder: Path, *rows: str, head: str = "drawing,quantity") -> Path:
    path = folder / "list.csv"
    path.write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
    return path


def only(sheeting: Sheeting) -> SheetJob:
    (job,) = sheeting.jobs
    return job


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with a plain plate, one with holes, and a drawing of two parts."""
    plate(tmp_path / "plain.dxf", 200, 100)
    plate(tmp_path / "holes.dxf", 300, 200, ((50, 50, 12), (250, 50, 12), (150, 100, 60)))
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for x in (0, 150, 300):  # three squares, the first two alike
        side = 100 if x < 300 else 80
        points = [(x, 0), (x + side, 0), (x + side, side), (x, side)]
        space.add_lwpolyline(points, close=True)
    document.saveas(tmp_path / "several.dxf")
    return tmp_path


# --- worked by hand ----------------------------------------------------------------------


@pytest.mark.outside("Three plain plates on a sheet [mm, s]", "worked by hand")
def test_three_plates_take_what_a_pencil_says(folder: Path) -> None:
    """Path, leads, starts, pierces and pallet of three plain plates, and the moves between."""
    job = only(plan_sheets(listed(folder, "plain.dxf,3"), TEN, Shop(), QUICK))
    (sheet,) = job.sheets
    assert len(sheet.layout.placements) == 3
    for one in sheet.gases:
        setting, time = one.setting, one.timing
        path = 2.0 * (200.0 + 100.0) + 4.0 * setting.kerf_mm  # offset by half a kerf, mitred
        assert time.cut == pytest.approx(3.0 * path / setting.speed_mm_s, rel=1e-9)
        assert time.leads == pytest.approx(3.0 * setting.lead_mm / setting.speed_mm_s, rel=1e-9)
        assert time.starts == pytest.approx(3 * 0.3)
        assert time.pierce == pytest.approx(3 * setting.pierce_s)
        assert time.handling == 25.0
        between = np.diff(one.plan.pierces, axis=0)
        moves = move_times(np.hypot(between[:, 0], between[:, 1]), Shop().machine)
        assert time.traverse == pytest.approx(float(moves.sum()))
        assert sum(time.terms().values()) == pytest.approx(time.total)
    # 0.2 x 0.1 m x 10 mm of steel at 7.85 kg/dm3 is 1.57 kg
    assert sheet.parts_kg == pytest.approx(3 * 1.57, rel=1e-3)
    assert sheet.use == pytest.approx(3 * 200 * 100 / (3000 * 1500))


@pytest.mark.outside(
    "The same sheet laid out and timed [min]", "worked by hand, common practice, no source"
)
def test_the_sheet_of_92_m_and_200_pierces_takes_what_was_worked_by_hand(tmp_path: Path) -> None:
    """20 plates of 372 with nine holes of 110: 92 m, 200 pierces on 3000 x 1500, 10 mm, 10 kW.

    Worked by hand from our starter speeds with 8 % for corners and 0.6 s a jump (common
    practice, no source): 25.25 / 23.32 / 49.87 min, gas 26.9 / 24.6 / 1.1 Nm3 in nitrogen,
    mixed gas and oxygen.
    """
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (3000, 0), (3000, 1500), (0, 1500)], close=True,
                         dxfattribs={"layer": "SHEET"})  # fmt: skip
    side, hole = 372.0, 110.0
    for k in range(20):
        x, y = 40.0 + 395.0 * (k % 7), 60.0 + 395.0 * (k // 7)
        space.add_lwpolyline(
            [(x, y), (x + side, y), (x + side, y + side), (x, y + side)], close=True
        )
        for n in range(9):
            centre = (x + side / 6.0 * (1 + 2 * (n % 3)), y + side / 6.0 * (1 + 2 * (n // 3)))
            space.add_circle(centre, hole / 2.0)
    path = tmp_path / "sheet.dxf"
    document.saveas(path)
    job = only(plan_sheets(path, TEN, Shop(), SheetOptions(what_if=False)))
    (sheet,) = job.sheets
    drawn = 20 * (4 * side + 9 * math.pi * hole)
    assert job.answer.analysis.totals.cut_length == pytest.approx(drawn, abs=1e-3)
    assert drawn / 1000.0 == pytest.approx(92.0, abs=0.1)
    worked = {"nitrogen": (25.25, 26.9), "mixed": (23.32, 24.6), "oxygen": (49.87, 1.1)}
    for gas, (minutes, used) in worked.items():
        one = sheet.under(gas)
        assert one is not None
        assert one.plan.pierces_count == 200
        assert (one.timing.total - one.timing.handling) / 60.0 == pytest.approx(minutes, rel=0.08)
        assert one.gas_nm3.total_nm3 == pytest.approx(used, rel=0.15)


def test_money_of_the_worked_sheet() -> None:
    """Machine 50.5, gas 5.4, hand 20.8 at 120 and 60 an hour: 76.7, and 14 min of unloading."""
    told = dict.fromkeys(
        ("electricity_per_kwh", "consumables_per_beam_h", "mild_steel_per_kg"), 0.0
    )
    told |= {"machine_per_h": 120.0, "labour_per_h": 60.0, "nitrogen_per_nm3": 0.2}
    bill = Bill(Timing(cut=1515.0), GasUse(26.9), 0.0, 20.8, 0.0, 40, "mild-steel")
    cost = sheet_cost(bill, 14.0, Rates("EUR", told, NO_SUPPLIES))
    assert cost is not None
    assert cost.total - cost.unloading == pytest.approx(76.7, abs=0.05)
    assert cost.unloading == pytest.approx(14.0)
    assert sheet_cost(bill, 14.0, None) is None


# --- sums --------------------------------------------------------------------------------


def test_shares_sheets_and_totals_add_up(folder: Path) -> None:
    shop = parse_shop(RATES, folder / "burrcast.toml")
    path = listed(folder, "holes.dxf,30", "plain.dxf,40", "several.dxf,12")
    job = only(plan_sheets(path, TEN, shop, SheetOptions(
        (Stock("s", 1500.0, 1000.0),), effort_s=0.0, what_if=False
    )))  # fmt: skip
    assert job.count > 1
    analysis = job.answer.analysis
    for k, result in enumerate(analysis.gases):
        total = 0.0
        for sheet in job.sheets:
            one = sheet.gases[k]
            assert sum(s.time_s for s in one.shares) == pytest.approx(one.timing.total)
            assert one.cost is not None
            assert sum(s.cost or 0.0 for s in one.shares) == pytest.approx(one.cost.total)
            assert sum(s.rework_min for s in one.shares) == pytest.approx(one.rework_min)
            assert sum(one.edge_m) * 1000.0 == pytest.approx(sum(s.cut_mm for s in one.shares))
            total += sheet.copies * one.timing.total
        assert result.timing.total == pytest.approx(total)
        assert result.cost is not None
        assert result.cost.total == pytest.approx(
            sum(s.copies * c.total for s in job.sheets if (c := s.gases[k].cost))
        )
    assert analysis.totals.parts == 30 + 40 + 3 * 12 == job.parts
    assert job.count >= job.bound >= 1


def test_the_net_price_takes_plate_by_the_weight_of_the_parts(folder: Path) -> None:
    """By pencil: 0.95 EUR/kg, 7850 kg/m3, sheets of 1.5 m2 and 10 mm; the rest stays the same."""
    shop = parse_shop(RATES, folder / "burrcast.toml")
    path = listed(folder, "plain.dxf,40", "several.dxf#2,9")
    sheeting = plan_sheets(path, TEN, shop, replace(QUICK, stock=(Stock("s", 1500.0, 1000.0),)))
    (gas, *_), job = checked(only(sheeting))["totals"]["gases"], only(sheeting)
    parts_kg = (40 * 0.02 + 9 * 0.0064) * 0.01 * 7850.0
    kept = job.count * 1.5 * 0.01 * 7850.0 - parts_kg
    assert gas["cost"] - gas["cost_net"] == pytest.approx(0.95 * kept, rel=1e-6)
    shares = [s for sheet in job.sheets for s in sheet.gases[0].shares]
    small = [s for s in shares if s.part == 1]
    assert sum((s.cost or 0.0) - (s.net_cost or 0.0) for s in small) == pytest.approx(
        0.95 * kept * 9 * 0.0064 / (40 * 0.02 + 9 * 0.0064), rel=1e-6
    )
    rows = list(csv.DictReader(io.StringIO(sheeting_csv(sheeting).decode("utf-8-sig"))))
    written = sum(float(r["cost_net"]) * int(r["copies"]) for r in rows if r["gas"] == gas["gas"])
    assert written == pytest.approx(gas["cost_net"])
    page = " ".join(sheet_page(sheeting).split())
    assert f"({money(job.net_cost(job.read))} in all with plate by the weight of the parts)" in page
    assert "each: all of the plate shared out by area; net: plate by its own weight" in page


def test_findings_are_counted_over_all_copies_of_all_sheets(folder: Path) -> None:
    """Five sheets with two plates each of two lost holes: twenty holes lost, said once."""
    plate(folder / "lost.dxf", 100, 200, ((50, 50, 2), (50, 150, 2)))
    stock = Stock("s", 240.0, 250.0)
    job = only(plan_sheets(listed(folder, "lost.dxf,10"), TEN, Shop(), SheetOptions(
        (stock,), turns="180", effort_s=0.0, what_if=False
    )))  # fmt: skip
    ((sheet,), found) = job.sheets, checked(job)
    assert (sheet.copies, len(sheet.layout.placements)) == (5, 2)
    for k, result in enumerate(job.answer.analysis.gases):
        (hole,) = (f for f in result.findings if f.rule == "hole-too-small")
        assert (hole.count, hole.level) == (2, "loss")  # of one copy
        laid = list(sheet.gases[k].findings)
        ours = {f.mark: f for f in result.findings}
        assert laid, "the plates tip"
        for finding in laid:  # of one sheet there, of all here
            assert ours[finding.mark].count == 5 * finding.count
            assert ours[finding.mark].message == f"On each of 5 sheets: {finding.message}"
        lost = sum(5 * f.count for f in laid if f.level == "loss")
        assert found["totals"]["gases"][k]["places"]["loss"] == 20 + lost
        marks = {f["mark"] for f in found["findings"][k]["findings"]}
        assert not marks & {f.mark for f in laid}  # no finding is written twice
    page = sheet_page(Sheeting(Path("x"), (job,)))
    assert "lost.dxf" in page
    assert "On each of 5 sheets: " in page
    (row,) = (line for line in page.splitlines() if "places of loss" in line)
    assert row.split()[3:] == [str(gas["places"]["loss"]) for gas in found["totals"]["gases"]]


def test_the_overview_of_several_jobs_ends_in_their_sum(folder: Path) -> None:
    path = listed(
        folder, "holes.dxf,20,10", "several.dxf,9,6", head="drawing,quantity,thickness_mm"
    )
    sheeting = plan_sheets(path, TEN, Shop(), QUICK)
    rows = sheet_page(sheeting).splitlines()
    (last,) = (row.split() for row in rows if row.startswith("  all "))
    best = [job.answer.analysis.under(job.read) for job in sheeting.jobs]
    hand = sum(job.unload_min for job in sheeting.jobs) + sum(b.rework_min for b in best if b)
    assert last[1:4] == ["2", "2", "47"]
    assert " ".join(last[4:]) == " ".join(
        (span(sum(b.timing.total for b in best if b)), by_hand(60.0 * hand))
    )


def test_the_overview_has_room_for_whole_names_beside_money(folder: Path) -> None:
    path = listed(
        folder, "holes.dxf,200,S235,6mm", "plain.dxf,300,1.4301,4mm",
        head="drawing,quantity,material,thickness",
    )  # fmt: skip
    shop = parse_shop(RATES, folder / "burrcast.toml")
    top = sheet_page(plan_sheets(path, Given(power_kw=10.0), shop, QUICK)).split("\n\n")[0]
    assert "  stainless steel 4 mm  nitrogen" in top
    assert max(map(len, top.splitlines())) <= 80


def test_quantities_of_a_drawing_with_several_parts(folder: Path) -> None:
    """Its first part is drawn twice: 12 of the drawing are 24 of it and 12 of the second."""
    job = only(plan_sheets(listed(folder, "several.dxf,12"), TEN, Shop(), QUICK))
    counts = {p.id: p.count for p in job.answer.analysis.parts.parts}
    assert counts == {"several.dxf": 24, "several.dxf#2": 12}
    one = only(plan_sheets(listed(folder, "several.dxf#2,5"), TEN, Shop(), QUICK))
    assert {p.id: p.count for p in one.answer.analysis.parts.parts} == {"several.dxf#2": 5}
    assert one.answer.analysis.parts.parts[0].width == pytest.approx(80.0)


def test_materials_and_thicknesses_part_into_jobs_but_next_steps_do_not(folder: Path) -> None:
    head = "drawing,quantity,material,thickness_mm,next"
    path = listed(
        folder, "plain.dxf,3,S355,10,weld", "holes.dxf,2,S355,10,paint", "plain.dxf,1,304,10,",
        "plain.dxf,1,S355,5,", head=head,
    )  # fmt: skip
    jobs = plan_sheets(path, TEN, Shop(), QUICK).jobs
    assert [(j.job.material, j.job.thickness_mm, j.parts) for j in jobs] == [
        ("mild-steel", 10.0, 5), ("stainless", 10.0, 1), ("mild-steel", 5.0, 1)
    ]  # fmt: skip
    assert jobs[0].steps == ("weld", "paint")
    assert jobs[0].job.next_step is None
    oxygen = jobs[0].answer.analysis.under("oxygen")
    assert oxygen is not None  # each part is judged by its own step
    asked = {f.part for f in oxygen.findings if f.rule == "edge-unfit-for-next-step"}
    assert len([f for f in oxygen.findings if f.rule == "edge-unfit-for-next-step"]) == 2, asked


def test_every_part_is_placed_or_named(folder: Path) -> None:
    plate(folder / "long.dxf", 3500, 200)
    path = listed(folder, "long.dxf,2", "plain.dxf,30", "gone.dxf,1", "plain.dxf,0")
    sheeting = plan_sheets(path, TEN, Shop(), SheetOptions(
        (parse_size("600x400:1"), parse_size("500x300:1")), effort_s=0.0, what_if=False
    ))  # fmt: skip
    job = only(sheeting)
    left = {row.name: row.count for row in job.unplaced}
    assert left["long.dxf"] == 2
    assert left["plain.dxf"] + job.parts == 30
    assert [row.line for row in sheeting.refused] == [4, 5]
    for result in job.answer.analysis.gases:
        large = [f for f in result.findings if f.rule == "part-larger-than-sheet"]
        assert [(f.level, f.part, f.count) for f in large] == [("loss", "long.dxf", 2)]
    page = sheet_page(sheeting)
    assert "2 x long.dxf" in page
    assert "gone.dxf" in page


def test_pieces_in_a_file_name_are_held_against_the_list(folder: Path) -> None:
    """A file named 4x of which four are ordered is right; of which five are, it is asked about."""
    plate(folder / "foot_4x.dxf", 200, 150)

    def asked(quantity: int) -> list[str]:
        job = only(plan_sheets(
            listed(folder, f"foot_4x.dxf,{quantity}", "plain.dxf,1"), TEN, Shop(), QUICK
        ))  # fmt: skip
        found = job.answer.analysis.gases[0].findings
        return [f.message for f in found if f.rule == "note-disagrees"]

    assert asked(4) == []
    (message,) = asked(5)
    assert message.startswith("foot_4x.dxf: ")
    assert message.endswith("the list orders 5.")


# --- gaps, gases, what if ------------------------------------------------------------------


def test_the_gap_is_the_largest_any_gas_needs(folder: Path) -> None:
    """Web: oxygen max(t, 5), nitrogen max(t / 2, 3); room for a pierce on top (practice)."""
    path = listed(folder, "plain.dxf,2")
    every = only(plan_sheets(path, TEN, Shop(), QUICK))
    one = only(plan_sheets(path, Given("mild-steel", 10.0, 10.0, gases=("nitrogen",)), Shop(),
                           QUICK))  # fmt: skip
    for job in (every, one):
        needs = [
            max(
                max(10.0, 5.0) if r.gas == "oxygen" else max(5.0, 3.0),
                r.setting.lead_mm + r.setting.crater_mm + r.setting.kerf_mm + 1.0,
            )
            for r in job.answer.analysis.gases
        ]
        assert max(needs) <= job.gap.value_mm < max(needs) + 0.5
    assert one.gap.value_mm < every.gap.value_mm
    assert "oxygen" in every.gap.why
    told = only(plan_sheets(path, TEN, Shop(), SheetOptions((BIG,), gap_mm=17.0, effort_s=0.0,
                                                            what_if=False)))  # fmt: skip
    assert (told.gap.value_mm, told.gap.why) == (17.0, "as you said")


@pytest.mark.parametrize(
    ("many", "turns", "size", "standing", "remedy"),
    [
        (12, "90", (1000.0, 640.0), 0, ""),
        (15, "90", (1000.0, 640.0), 3, "No room was found for a turn that is safe without another"),
        (12, "180", (1000.0, 640.0), 12, "Turned a quarter they would be safe: allow turns 90"),
        (2, "90", (500.0, 640.0), 2, "Turned so that they would be safe they fit on no sheet"),
    ],
)
def test_bars_lie_across_the_slats_where_that_costs_no_sheet(
    folder: Path, many: int, turns: str, size: tuple[float, float], standing: int, remedy: str
) -> None:
    """45 x 600 is never safe along the slats and always across them (trade scenario).

    Along: it finds no slat at (66.7 - 2 - 45) / 66.7 of all offsets. Across 600 it cannot tip.
    """
    plate(folder / "bar.dxf", 45, 600)
    path = listed(folder, f"bar.dxf,{many},{turns}", head="drawing,quantity,turns")
    options = replace(QUICK, stock=(Stock("s", *size),), gap_mm=5.0, margin_mm=10.0)
    (sheet,) = only(plan_sheets(path, Given("mild-steel", 4.0, 6.0), options=options)).sheets
    along = [p.turn_deg % 180.0 == 0.0 for p in sheet.layout.placements]
    assert (len(along), sum(along)) == (many, standing)
    found = [f for f in sheet.gases[0].findings if f.rule == "part-falls-through"]
    assert [f.count for f in found] == [standing] * bool(standing)
    for finding in found:
        assert finding.measured == pytest.approx(19.7 / 66.7, abs=1e-6)
        assert finding.remedy.startswith(remedy)


def test_squares_stand_on_a_corner_where_they_may_and_are_safe_so(folder: Path) -> None:
    """100 x 100 tips at 2 x 14.7 / 66.7 of all offsets; on a corner it reaches two slats always.

    From the middle to either corner 70.7, more than the 64.7 between two slats.
    """
    plate(folder / "square.dxf", 100, 100)
    options = replace(QUICK, stock=(Stock("s", 1000.0, 640.0),), gap_mm=5.0, margin_mm=10.0)
    for turns, safe in (("free", True), ("90", False)):
        path = listed(folder, f"square.dxf,10,{turns}", head="drawing,quantity,turns")
        (sheet,) = only(plan_sheets(path, Given("mild-steel", 4.0, 6.0), options=options)).sheets
        assert {p.turn_deg % 90.0 for p in sheet.layout.placements} == {45.0 if safe else 0.0}
        found = [f for f in sheet.gases[0].findings if f.rule == "part-tips"]
        assert len(found) == (0 if safe else 1)
        assert not [f for f in sheet.gases[0].findings if f.rule == "parts-too-close"]
        for finding in found:
            assert finding.measured == pytest.approx(2.0 * 14.7 / 66.7, abs=1e-6)
            assert finding.remedy.startswith("Turned 45 degrees they would be safe: allow turns")


def test_grain_comes_before_lying_safely(folder: Path) -> None:
    plate(folder / "bar.dxf", 45, 600)
    path = listed(folder, "bar.dxf,2")
    shop = replace(load_shop(None, None), sheets=replace(Shop().sheets, grain="x"))
    options = replace(QUICK, gap_mm=5.0, margin_mm=10.0)
    (sheet,) = only(plan_sheets(path, Given("mild-steel", 4.0, 6.0), shop, options)).sheets
    assert [p.turn_deg % 180.0 for p in sheet.layout.placements] == [0.0, 0.0]
    (found,) = [f for f in sheet.gases[0].findings if f.rule == "part-falls-through"]
    assert found.remedy.startswith("Turned a quarter they would be safe, but off the grain: hold")


def test_what_keeps_parts_off_every_sheet_is_told(folder: Path) -> None:
    """A strip of 600 drawn at 30 degrees: 542 x 339 by quarters, 600 x 45 laid freely."""
    document = ezdxf.new("R2010", units=4)
    turn = np.radians(30.0)
    along, up = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    corners = [a * along + b * up for a, b in ((0, 0), (600, 0), (600, 45), (0, 45))]
    document.modelspace().add_lwpolyline([tuple(c) for c in corners], close=True)
    document.saveas(folder / "strip.dxf")
    flat = replace(QUICK, stock=(Stock("s", 700.0, 300.0),))

    def why(turns: str, options: SheetOptions = flat) -> list[str]:
        path = listed(folder, f"strip.dxf,2,{turns}", head="drawing,quantity,turns")
        job = only(plan_sheets(path, Given("mild-steel", 4.0, 6.0), options=options))
        return [row.reason for row in job.unplaced]

    assert why("free") == []
    (quarters,) = why("90")
    assert quarters.endswith("turned freely it would (turns free)")
    (small,) = why("90", replace(flat, stock=(Stock("t", 500.0, 300.0),)))
    assert small.startswith(
        "larger than every sheet: 542 x 339 mm as drawn; the largest, t, leaves"
    )
    (wide,) = why("90", replace(flat, margin_mm=150.0))
    assert wide == "the margins of 150 mm leave no room on s"
    plate(folder / "huge.dxf", 5000, 5000)
    nothing = plan_sheets(listed(folder, "huge.dxf,1"), TEN, options=replace(QUICK, stock=()))
    assert "Said of the list\n  No sheet size given" in sheet_page(nothing)


def test_what_is_not_checked_of_one_job_only_names_it(folder: Path) -> None:
    path = listed(
        folder, "holes.dxf,4,S235,8mm,", "holes.dxf,4,1.4301,3mm,weld",
        head="drawing,quantity,material,thickness,next",
    )  # fmt: skip
    page = " ".join(sheet_page(plan_sheets(path, Given(power_kw=10.0), options=QUICK)).split())
    assert " mild steel 8 mm: next step not told" in page
    assert page.count("plate surface not told, taken as clean") == 1
    assert " plate surface not told" in page
    assert "mm: plate surface not told" not in page
    assert "stainless steel 3 mm: next step" not in page


def test_what_if_names_the_sheet_that_costs_least(folder: Path) -> None:
    shop = parse_shop(RATES, folder / "burrcast.toml")
    stock = (BIG, Stock("1000x1000", 1000.0, 1000.0))
    job = only(plan_sheets(listed(folder, "plain.dxf,12"), TEN, shop, SheetOptions(
        stock, effort_s=0.0
    )))  # fmt: skip
    assert {row.name for row in job.sizes} == {"3000x1500", "1000x1000"}
    assert job.sizes[0].name == "1000x1000"  # 12 plates fill a quarter of it
    assert [row.cost for row in job.sizes] == sorted(row.cost or 0.0 for row in job.sizes)
    assert all(row.sheets == 1 and row.left == 0 for row in job.sizes)


def test_common_lines_save_time_and_pierces_where_they_may(folder: Path) -> None:
    """Plain plates face each other; not above 12 mm in a melting gas (common practice)."""
    plate(folder / "wide.dxf", 300, 250)
    path = listed(folder, "wide.dxf,12")
    options = SheetOptions((BIG,), effort_s=0.0)
    thin = only(plan_sheets(path, Given("mild-steel", 8.0, 10.0, gases=("nitrogen",)), Shop(),
                            options)).common  # fmt: skip
    assert thin is not None
    assert thin.able
    assert thin.saved_min > 0.0
    assert 0 < thin.pierces <= 11
    assert thin.length_mm <= 12 * (300.0 + 250.0)
    thick = only(plan_sheets(path, Given("mild-steel", 15.0, 20.0, gases=("nitrogen",)), Shop(),
                             options)).common  # fmt: skip
    assert thick is not None
    assert not thick.able
    plate(folder / "upright.dxf", 100, 200)
    loose = only(plan_sheets(listed(folder, "upright.dxf,12"), Given("mild-steel", 8.0, 10.0),
                             Shop(), replace(options, turns="180"))).common  # fmt: skip
    assert loose is not None  # 100 mm across slats every 66.7: unstable half the time
    assert not loose.able
    assert loose.risky > 0


def test_a_few_parts_that_decide_the_gas_for_all_are_named(folder: Path) -> None:
    """A slot of a third of 3 mm stainless is lost in nitrogen, and mixed gas oxidises an edge.

    Two name plates must not send forty good plates to the pickling bath (common practice).
    """
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (240, 0), (240, 160), (0, 160)], close=True)
    space.add_lwpolyline([(100, 80), (140, 80), (140, 81), (100, 81)], close=True)
    document.saveas(folder / "name.dxf")
    plate(folder / "wide.dxf", 300, 250)
    told = Given("stainless", 3.0, 10.0, plate="clean", next_step="visible")
    options = SheetOptions((BIG,), effort_s=0.0)
    both = only(plan_sheets(listed(folder, "name.dxf,2", "wide.dxf,20"), told, Shop(), options))
    assert both.answer.advice.gas == "mixed"
    assert both.without.startswith("Without name.dxf (2 of 22 parts) nitrogen for the others")
    alone = only(plan_sheets(listed(folder, "wide.dxf,20"), told, Shop(), options))
    assert (alone.answer.advice.gas, alone.without) == ("nitrogen", "")


# --- a drawn sheet -------------------------------------------------------------------------


def test_a_drawn_sheet_is_timed_as_it_lies_and_a_common_line_is_cut_once(tmp_path: Path) -> None:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (500, 0), (500, 300), (0, 300)], close=True,
                         dxfattribs={"layer": "SHEET"})  # fmt: skip
    for x in (50, 150):
        space.add_lwpolyline([(x, 50), (x + 100, 50), (x + 100, 250), (x, 250)], close=True)
    path = tmp_path / "laid.dxf"
    document.saveas(path)
    job = only(plan_sheets(path, TEN, Shop(), SheetOptions(what_if=False)))
    (sheet,) = job.sheets
    assert (sheet.layout.length_mm, sheet.layout.width_mm) == (500.0, 300.0)
    assert job.answer.analysis.totals.cut_length == pytest.approx(2 * 600 - 200)
    for one in sheet.gases:
        assert one.plan.pierces_count == 1
        assert sum(s.cut_mm for s in one.shares) == pytest.approx(1000.0)
        assert sum(s.time_s for s in one.shares) == pytest.approx(one.timing.total)
    assert {p["name"] for p in checked(job)["sheets"][0]["parts"]} == {"laid.dxf"}


def test_what_common_lines_would_save_leaves_out_those_there_are(tmp_path: Path) -> None:
    """Two plates share a side, two more lie 4 mm apart, and a cut runs through the skeleton.

    One line more can be cut once: a side of 250 less at 10 kW nitrogen, 4.64 m/min, and one
    pierce with its lead-in; the cut through the skeleton is paid for either way.
    """
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (2000, 0), (2000, 1000), (0, 1000)], close=True,
                         dxfattribs={"layer": "SHEET"})  # fmt: skip
    for x in (50, 350, 900, 1204):
        space.add_lwpolyline([(x, 50), (x + 300, 50), (x + 300, 300), (x, 300)], close=True)
    space.add_line((1600, 0), (1600, 1000))
    path = tmp_path / "laid.dxf"
    document.saveas(path)
    told = replace(TEN, gases=("nitrogen",))
    job = only(plan_sheets(path, told, Shop(), SheetOptions(effort_s=0.0)))
    assert job.sheets[0].gases[0].plan.skeleton is not None
    assert job.common is not None
    assert (job.common.lines, job.common.pierces) == (1, 1)
    assert job.common.length_mm == pytest.approx(250.0)
    setting = job.sheets[0].gases[0].setting
    straight = 250.0 / setting.speed_mm_s + setting.pierce_s
    assert straight < job.common.saved_min * 60.0 < straight + 1.5


def test_gas_blows_while_a_film_is_burnt_off(tmp_path: Path) -> None:
    """The pass is in the minutes, so it is in the gas: its time at the flow of the cut."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (500, 0), (500, 300), (0, 300)], close=True)
    path = tmp_path / "laid.dxf"
    document.saveas(path)
    told = Given("stainless", 2.0, 6.0, gases=("nitrogen",))
    clean, film = (
        only(plan_sheets(path, replace(told, plate=plate_is), Shop(), SheetOptions(what_if=False)))
        .sheets[0].gases[0] for plate_is in ("clean", "film")
    )  # fmt: skip
    beam = sum(clean.timing.terms()[k] for k in ("cut", "slowed", "leads", "pierce"))
    purge = Machine().purge_s * clean.plan.pierces_count
    flow = clean.gas_nm3.nitrogen_nm3 / (beam + purge)
    more = film.gas_nm3.nitrogen_nm3 - clean.gas_nm3.nitrogen_nm3
    assert more == pytest.approx(flow * film.timing.film, rel=1e-6)


# --- JSON ----------------------------------------------------------------------------------


def checked(job: SheetJob) -> dict[str, Any]:
    written = strict.dumps(sheeting_object(Sheeting(Path("x"), (job,)), why=True))
    found: dict[str, Any] = json.loads(written)
    jsonschema.validate(found, SCHEMA)
    return found


def test_json_keeps_to_its_schema_and_its_own_sums(folder: Path) -> None:
    shop = parse_shop(RATES, folder / "burrcast.toml")
    path = listed(folder, "holes.dxf,20", "several.dxf,9")
    job = only(plan_sheets(path, TEN, shop, SheetOptions((Stock("s", 1000.0, 1000.0),),
                                                          effort_s=0.0)))  # fmt: skip
    found = checked(job)
    assert list(found)[:4] == ["schema", "sheets", "totals", "advice"]
    assert list(found["sheets"][0])[:7] == [
        "copies", "length_mm", "width_mm", "use_percent", "parts", "placements", "gases"
    ]  # fmt: skip
    assert list(found["sheets"][0]["gases"][0])[:6] == [
        "gas", "time_s", "gas_nm3", "energy_kwh", "rework_min", "cost"
    ]  # fmt: skip
    placed: dict[str, int] = {}
    for sheet in found["sheets"]:
        assert sum(p["count"] for p in sheet["parts"]) == len(sheet["placements"])
        for part in sheet["parts"]:
            placed[part["name"]] = placed.get(part["name"], 0) + sheet["copies"] * part["count"]
        for gas in sheet["gases"]:
            terms = dict(gas["time_s"])
            total = terms.pop("total")
            assert total == pytest.approx(sum(terms.values()), abs=1e-9)
            assert list(gas["time_s"])[-2:] == ["handling", "total"]
    assert placed == {"holes.dxf": 20, "several.dxf": 18, "several.dxf#2": 9}
    for k, gas in enumerate(found["totals"]["gases"]):
        assert gas["time_s"]["total"] == pytest.approx(
            sum(s["copies"] * s["gases"][k]["time_s"]["total"] for s in found["sheets"]), abs=1e-3
        )


def test_the_same_seed_gives_the_same_bytes(folder: Path) -> None:
    path = listed(folder, "holes.dxf,9", "several.dxf,5")
    options = SheetOptions((BIG,), effort_s=0.2, seed=3)
    one, two = (
        strict.dumps(sheeting_object(plan_sheets(path, TEN, Shop(), options))) for _ in range(2)
    )
    assert one == two


# --- the kit -------------------------------------------------------------------------------


def test_the_kit_lies_on_sheets_and_its_page_fits_the_screen() -> None:
    """300 parts of 14 drawings in seven jobs: every part placed, every line within 100 columns."""
    kit = SAMPLES / "footbridge_kit.csv"
    sheeting = plan_sheets(kit, Given(power_kw=10.0), Shop(), QUICK)
    assert len(sheeting.jobs) == 7
    # 284 ordered; the bracing plate's drawing shows it three times, so 8 of it are 24
    assert sum(job.parts for job in sheeting.jobs) == 300
    assert not any(job.unplaced for job in sheeting.jobs)
    page = sheet_page(sheeting)
    assert max(map(len, page.splitlines())) <= 100
    assert page.startswith("footbridge_kit.csv: 300 parts on ")


@pytest.mark.slow
def test_first_layout_of_300_parts_of_14_types_takes_less_than_five_seconds(
    tmp_path: Path,
) -> None:
    """Goal of the project: 300 parts of 14 drawings on 3000 x 1500, planned in every gas."""
    from time import process_time

    rows = []
    for k in range(14):
        name = f"p{k}.dxf"
        length, width = 80.0 + 25.0 * k, 60.0 + 10.0 * (k % 5)
        plate(tmp_path / name, length, width, ((20, 20, 12), (length - 20, width - 20, 12)))
        rows.append(f"{name},{22 if k < 6 else 21}")
    path = listed(tmp_path, *rows)
    begin = process_time()
    job = only(plan_sheets(path, TEN, Shop(), QUICK))
    spent = process_time() - begin
    assert job.parts == 300
    assert spent < 5.0, f"{spent:.1f} s"
