"""The practitioner's acceptance cases, from a drawing made here to the JSON of the command.

Given and expected values are facts of the trade: common practice, no source, unless another
source stands beside the check.  Cases that need heat, drop, sheets or money come with those
stations.
"""

import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from ezdxf.layouts import Modelspace
from ezdxf.math import rational_bspline_from_arc

from analyzer.cli import burrcast

Json = dict[str, Any]
Check = Callable[..., Json]


@pytest.fixture
def check(tmp_path: Path) -> Check:
    """Return a function that saves a drawing, runs `burrcast` on it and returns its JSON."""

    def run(draw: Callable[[Modelspace], None], *words: str, what: str = "check",
            insunits: int = 4, shop: str | None = None) -> Json:  # fmt: skip
        document = ezdxf.new("R2010", units=insunits)
        draw(document.modelspace())
        path = tmp_path / "part.dxf"
        document.saveas(path)
        if shop is not None:
            (tmp_path / "burrcast.toml").write_text(shop, encoding="utf-8")
        result = CliRunner().invoke(burrcast, [what, str(path), *words, "--format", "json"])
        assert result.exit_code == 0, result.output
        written: Json = json.loads(result.stdout)
        return written

    return run


def box(space: Modelspace, x: float, y: float, width: float, height: float) -> None:
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    space.add_lwpolyline(corners, close=True)


def gas(answer: Json, name: str) -> Json:
    found: Json = next(row for row in answer["gases"] if row["gas"] == name)
    return found


def found(answer: Json, name: str, rule: str) -> list[Json]:
    return [f for f in gas(answer, name)["findings"] if f["rule"] == rule]


def levels(answer: Json, name: str, rule: str) -> dict[str, int]:
    """Return how many features of each level a rule flags under one gas."""
    out: dict[str, int] = {}
    for finding in found(answer, name, rule):
        out[finding["level"]] = out.get(finding["level"], 0) + finding["count"]
    return out


def main_class(row: Json) -> int:
    return int(np.argmax(row["edge_m_by_burr_class"]))


MS10 = ("--material", "mild-steel", "--thickness", "10", "--power", "10")


def plate_with_holes(diameter: float) -> Callable[[Modelspace], None]:
    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 300, 200)
        for x, y in ((40, 40), (260, 40), (260, 160), (40, 160)):
            space.add_circle((x, y), diameter / 2)
        space.add_circle((150, 100), 30)

    return draw


# --- job.md 7 --------------------------------------------------------------------------------


def test_1_plate_with_holes_of_12(check: Check) -> None:
    answer = check(plate_with_holes(12), *MS10)
    totals = answer["totals"]
    assert totals["cut_length_mm"] == pytest.approx(1000 + math.pi * (4 * 12 + 60), rel=1e-6)
    assert totals["pierces"] == 6
    # contract.md "Length and time": 1369.4 mm with 6 mm leads is 17.7 / 16.1 / 35.7 s
    for name, seconds in (("nitrogen", 17.7), ("mixed", 16.1), ("oxygen", 35.7)):
        time = gas(answer, name)["time_s"]
        assert time["cut"] + time["leads"] == pytest.approx(seconds, rel=0.01)
        for rule in ("hole-too-small", "no-room-for-lead-in"):
            assert not found(answer, name, rule)
    totals_by_gas = {row["gas"]: row["time_s"]["total"] for row in answer["gases"]}
    assert min(totals_by_gas, key=lambda name: totals_by_gas[name]) == "mixed"


def test_2_holes_of_6_are_for_mixed_gas(check: Check) -> None:
    answer = check(plate_with_holes(6), *MS10)
    assert levels(answer, "oxygen", "hole-too-small") == {"rework": 4}
    assert levels(answer, "nitrogen", "hole-too-small") == {"rework": 4}
    assert not found(answer, "mixed", "hole-too-small")
    assert answer["advice"]["gas"] == "mixed"


def test_3_holes_of_4_are_for_the_drill(check: Check) -> None:
    answer = check(plate_with_holes(4), *MS10)
    assert levels(answer, "oxygen", "hole-too-small") == {"loss": 4}
    assert levels(answer, "nitrogen", "hole-too-small") == {"loss": 4}
    assert levels(answer, "mixed", "hole-too-small") == {"rework": 4}
    assert "drill" in found(answer, "nitrogen", "hole-too-small")[0]["remedy"]


def test_4_20_mm_on_20_kw(check: Check) -> None:
    words = ("--material", "mild-steel", "--thickness", "20", "--power", "20kW", "--next", "paint")
    answer = check(lambda s: box(s, 0, 0, 600, 400), *words, what="compare")
    for name, speed, burr in (("nitrogen", 3.6, 3), ("mixed", 3.6, 1), ("oxygen", 1.0, 0)):
        row = gas(answer, name)
        assert row["speed_m_per_min"] == pytest.approx(speed, rel=0.005)
        assert main_class(row) == burr
    assert gas(answer, "mixed")["oxygen_share_percent"] == 1
    # the oxide of oxygen must come off before paint, that of mixed gas not
    assert gas(answer, "oxygen")["rework_min"] > 2.0 / 0.4
    assert found(answer, "oxygen", "edge-unfit-for-next-step")
    assert set(levels(answer, "mixed", "edge-unfit-for-next-step")) <= {"note"}


def test_5_12_mm_on_6_kw(check: Check) -> None:
    words = ("--material", "mild-steel", "--thickness", "12", "--power", "6kW")
    answer = check(plate_with_holes(14), *words)
    assert not gas(answer, "nitrogen")["within_power"]
    (finding,) = found(answer, "nitrogen", "thickness-beyond-power")
    assert finding["level"] == "loss"
    assert gas(answer, "oxygen")["within_power"]
    assert answer["advice"]["gas"] == "oxygen"


@pytest.mark.parametrize(("jerk", "minutes"), [(100_000, 15.6), (200, 19.0)])
def test_6_perforated_stainless_is_starts_not_metres(
    check: Check, jerk: float, minutes: float
) -> None:
    """About 15.6 min without a limit of jerk, about 19.0 at 200 m/s^3; 0.9 by length."""

    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 50 * 8 + 8, 40 * 8 + 8)
        for i in range(50):
            for j in range(40):
                space.add_circle((8 + 8 * i, 8 + 8 * j), 2.5)

    shop = (
        "[machine]\nrapid_m_per_min = 120\nrapid_acceleration_m_per_s2 = 15\n"
        "cut_acceleration_m_per_s2 = 10\nstart_overhead_s = 0.0\nlift_s = 0.2\n"
        f"jerk_m_per_s3 = {jerk}\n"
    )
    words = ("--material", "stainless", "--thickness", "3", "--power", "12", "--gas", "nitrogen")
    answer = check(draw, *words, shop=shop)
    time = gas(answer, "nitrogen")["time_s"]
    assert answer["totals"]["pierces"] == 2001
    assert time["total"] / 60 == pytest.approx(minutes, rel=0.03)
    assert time["cut"] / 60 < 1.0  # length over speed


@pytest.mark.parametrize(("name", "expected"), [("oxygen", {"rework": 1}), ("nitrogen", {}),
                                                ("mixed", {})])  # fmt: skip
def test_7_8_web_of_8_in_20_mm(check: Check, name: str, expected: dict[str, int]) -> None:
    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 300, 200)
        space.add_circle((131, 100), 15)
        space.add_circle((169, 100), 15)

    words = ("--material", "mild-steel", "--thickness", "20", "--power", "20kW")
    assert levels(check(draw, *words), name, "web-too-thin") == expected


def test_9_sharp_tip_of_40_degrees(check: Check) -> None:
    def draw(space: Modelspace) -> None:
        reach = 200 * math.tan(math.radians(20))
        space.add_lwpolyline([(0, 0), (200, -reach), (200, reach)], close=True)

    words = ("--material", "mild-steel", "--thickness", "15", "--power", "15kW")
    answer = check(draw, *words)
    # 40 degrees is lost, the two of 70 are under the 90 that are clean from 15 mm
    assert levels(answer, "oxygen", "tip-too-sharp") == {"loss": 1, "rework": 2}
    assert "loss" not in levels(answer, "mixed", "tip-too-sharp")
    finding = found(answer, "oxygen", "tip-too-sharp")[0]
    assert (finding["x"], finding["y"]) == pytest.approx((0.0, 0.0), abs=1.0)


@pytest.mark.parametrize("told", [True, False])
def test_10_a_thread_is_guessed_only_with_a_note(check: Check, told: bool) -> None:
    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 100, 60)
        space.add_circle((30, 30), 2.5)
        if told:
            space.add_text("M6", height=3).set_placement((35, 32))

    answer = check(draw, *MS10)
    notes = found(answer, "nitrogen", "hole-likely-threaded")
    assert bool(notes) == told
    if told:
        assert "M6" in notes[0]["message"]


def test_14_inches(check: Check) -> None:
    answer = check(lambda s: box(s, 0, 0, 8, 4), *MS10, insunits=1)
    assert answer["drawing"]["units"] == {"name": "in", "from": "header"}
    assert answer["parts"][0]["width_mm"] == pytest.approx(203.2)
    assert not found(answer, "nitrogen", "unit-guessed")


def test_14_no_unit_code_asks_with_both_sizes(check: Check) -> None:
    """Holes of 9 mm (ISO 273, M8 medium) tell inches from millimetres."""

    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 200 / 25.4, 120 / 25.4)
        for x, y in ((15, 15), (185, 105)):
            space.add_circle((x / 25.4, y / 25.4), 4.5 / 25.4)

    answer = check(draw, *MS10, insunits=0)
    assert answer["drawing"]["units"] == {"name": "in", "from": "evidence"}
    (asked,) = found(answer, "nitrogen", "unit-guessed")
    assert asked["level"] == "note"
    assert "as in: 200.0 x 120.0 mm" in asked["message"]
    assert re.search(r"; as (mm|cm) it is [\d.,]+ x [\d.,]+ mm", asked["message"])
    assert "--units" in asked["remedy"]


def test_14_a_header_against_the_dimensions(check: Check) -> None:
    """Inches drawn, millimetres written, millimetres in the header: both sizes are told."""

    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 8, 5)
        space.add_linear_dim((0, -1), (0, 0), (8, 0), text="203.2").render()
        space.add_linear_dim((-1, 0), (0, 0), (0, 5), angle=90, text="127").render()

    answer = check(draw, *MS10)
    assert answer["parts"][0]["width_mm"] == pytest.approx(203.2)
    assert answer["parts"][0]["height_mm"] == pytest.approx(127.0)
    (asked,) = found(answer, "nitrogen", "unit-guessed")
    assert "8.0 x 5.0 mm" in asked["message"]
    assert "203.2 x 127.0 mm" in asked["message"]


def test_a_dimension_against_what_is_drawn(check: Check) -> None:
    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 100, 60)
        space.add_linear_dim((0, -10), (0, 0), (100, 0), text="120").render()

    answer = check(draw, *MS10)
    (note,) = found(answer, "nitrogen", "note-disagrees")
    assert (note["level"], note["measured"], note["limit"]) == ("note", 100.0, 120.0)
    assert (note["x"], note["y"]) == pytest.approx((50, -10), abs=5)
    assert "note-disagrees" in {fact["kind"] for fact in answer["drawing"]["facts"]}


def test_15_doubles_and_gaps(check: Check) -> None:
    def draw(space: Modelspace) -> None:
        corners = [(0, 0), (100, 0), (100, 60), (0, 60)]
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            space.add_line(a, b)
        space.add_line((100, 0), (0, 0))  # the bottom edge again
        space.add_line((30, 20.02), (50, 20))  # a triangle with a gap of 0.02
        space.add_line((50, 20), (40, 40))
        space.add_line((40, 40), (30, 20.04))
        space.add_line((70, 20), (80, 30))  # open

    answer = check(draw, *MS10)
    kinds = {fact["kind"] for fact in answer["drawing"]["facts"]}
    assert {"double-line", "gap-closed", "open-contour"} <= kinds
    (fact,) = [f for f in answer["drawing"]["facts"] if f["kind"] == "gap-closed"]
    assert (fact["x"], fact["y"]) == pytest.approx((30, 20.03), abs=0.05)
    entities = answer["drawing"]["entities"]
    assert entities["total"] == 9
    assert entities["total"] == entities["used"] + sum(r["count"] for r in entities["ignored"])
    assert answer["totals"]["contours"] == 3
    (double,) = found(answer, "nitrogen", "double-line")
    assert double["count"] == 1
    assert "100.000 mm" in double["message"]
    (slit,) = found(answer, "nitrogen", "open-contour")
    assert "from (70, 20) to (80, 30)" in slit["message"]


def test_16_three_deep(check: Check) -> None:
    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 200, 200)
        box(space, 20, 20, 160, 160)
        box(space, 50, 50, 100, 100)

    answer = check(draw, *MS10)
    assert answer["totals"]["parts"] == 2
    areas = sorted(part["area_mm2"] for part in answer["parts"])
    assert areas == pytest.approx([100 * 100, 200 * 200 - 160 * 160])
    assert answer["totals"]["pierces"] == 3


def test_16_pierces_lie_in_the_scrap(tmp_path: Path) -> None:
    """Outlines are entered from outside, cut-outs from inside: never on metal that stays."""
    from analyzer.drawing.reading import read_drawing
    from analyzer.job import Job
    from analyzer.motion.alone import plan_alone
    from analyzer.parts.find import find_parts
    from analyzer.process.choose import settings_for
    from analyzer.process.machine import Machine

    document = ezdxf.new("R2010", units=4)
    for x, side in ((0, 200), (20, 160), (50, 100)):
        box(document.modelspace(), x, x, side, side)
    document.saveas(tmp_path / "three.dxf")
    job = Job("mild-steel", 10.0, 10.0)
    parts = find_parts(read_drawing(tmp_path / "three.dxf"), 10.0).parts
    assert len(parts) == 2
    for part in parts:
        plan = plan_alone(part, settings_for(job)[0][0], Machine(), 10.0)
        rings = [part.contours.starts[part.contours.segments_of(k)] for k in range(len(plan.order))]
        metal = shapely.Polygon(rings[0], rings[1:])
        away = shapely.distance(metal, shapely.points(plan.pierces))
        assert (away >= 1.0).all(), away  # in the scrap, more than the kerf away
        inside = shapely.contains_xy(shapely.Polygon(rings[0]), *plan.pierces.T)
        assert inside.tolist() == [False] + [True] * (len(rings) - 1)


@pytest.mark.outside(
    "Cut length of an ellipse, whole command [mm]", "NIST DLMF 19.9.9, library scipy"
)
def test_17_length_of_an_ellipse(check: Check) -> None:
    """Perimeter by the complete elliptic integral: NIST DLMF 19.9.9, with SciPy's ellipe."""
    from scipy.special import ellipe

    answer = check(lambda s: s.add_ellipse((0, 0), (100, 0), 0.4), *MS10)
    perimeter = 4 * 100 * float(ellipe(1 - 0.4**2))
    assert answer["totals"]["cut_length_mm"] == pytest.approx(perimeter, rel=1e-5)
    assert answer["parts"][0]["corners"] == []


@pytest.mark.outside("Cut length of a circle in 720 chords, whole command [mm]", "closed form")
def test_17_micro_segments_make_no_corners(check: Check) -> None:
    """A circle of 720 chords: its length within 0.1 % of the circle's, no false corner."""
    turn = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    ring = np.column_stack((50.0 * np.cos(turn), 50.0 * np.sin(turn))).tolist()
    answer = check(lambda s: s.add_lwpolyline(ring, close=True), *MS10)
    assert answer["totals"]["cut_length_mm"] == pytest.approx(100.0 * np.pi, rel=1e-3)
    assert answer["parts"][0]["corners"] == []


@pytest.mark.outside(
    "Cut length of bulges and a rational spline, whole command [mm]", "closed form"
)
def test_17_bulge_and_spline_outlines(check: Check) -> None:
    """A slot of two half circles by bulges; a circle as a rational spline (both in closed form)."""

    def draw(space: Modelspace) -> None:
        space.add_lwpolyline(
            [(0, 0, 0), (80, 0, 1), (80, 40, 0), (0, 40, 1)], format="xyb", close=True
        )
        space.add_spline().apply_construction_tool(rational_bspline_from_arc((300, 0), 50, 0, 360))

    answer = check(draw, *MS10)
    lengths = sorted(part["cut_length_mm"] for part in answer["parts"])
    assert lengths == pytest.approx(sorted((160 + 40 * math.pi, 100 * math.pi)), rel=1e-5)
    assert all(part["corners"] == [] for part in answer["parts"])


def test_19_powder_coat(check: Check) -> None:
    answer = check(plate_with_holes(12), *MS10, "--next", "powder", what="compare")
    assert found(answer, "oxygen", "edge-unfit-for-next-step")
    assert gas(answer, "oxygen")["rework_min"] > gas(answer, "mixed")["rework_min"]
    assert answer["advice"]["gas"] != "oxygen"


def test_21_visible_stainless_in_mixed_gas(check: Check) -> None:
    words = ("--material", "304", "--thickness", "6", "--power", "10", "--next", "visible")
    answer = check(plate_with_holes(12), *words)
    ratio = gas(answer, "mixed")["speed_m_per_min"] / gas(answer, "nitrogen")["speed_m_per_min"]
    assert ratio == pytest.approx(1.08, abs=0.01)
    said = [f for f in gas(answer, "mixed")["findings"] if "oxid" in f["message"]]
    assert any(f["level"] in ("rework", "loss") for f in said)
    assert answer["advice"]["gas"] == "nitrogen"


def test_22_aluminium(check: Check) -> None:
    words = ("--material", "AlMg3", "--thickness", "8", "--power", "10")
    answer = check(plate_with_holes(12), *words)
    assert gas(answer, "nitrogen")["speed_m_per_min"] == pytest.approx(5.84, rel=0.005)
    assert gas(answer, "mixed")["speed_m_per_min"] == pytest.approx(6.42, rel=0.01)
    assert gas(answer, "mixed")["oxygen_share_percent"] == 10
    assert main_class(gas(answer, "mixed")) == main_class(gas(answer, "nitrogen")) - 1


def test_23_a_row_that_cannot_be_right(check: Check) -> None:
    shop = (
        "[[cutting]]\nmaterial = 'mild-steel'\ngas = 'nitrogen'\npower_kw = 10\n"
        "thickness_mm = 10\nspeed_m_per_min = 46\n"
    )
    answer = check(plate_with_holes(12), *MS10, shop=shop)
    assert found(answer, "nitrogen", "table-implausible")
    assert gas(answer, "nitrogen")["speed_m_per_min"] == pytest.approx(4.64, rel=0.005)


# --- practice.md 5 ---------------------------------------------------------------------------


def test_left_and_right_hand(check: Check) -> None:
    shape = np.array([(0, 0), (200, 0), (200, 60), (60, 60), (60, 140), (0, 140)], dtype=float)
    hole = np.array([170.0, 30.0])
    poses = [
        (np.eye(2), np.zeros(2)),
        (np.array([[0.0, -1.0], [1.0, 0.0]]), np.array([500.0, 0.0])),
        (np.array([[-1.0, 0.0], [0.0, 1.0]]), np.array([1000.0, 0.0])),
    ]

    def draw(space: Modelspace) -> None:
        for matrix, shift in poses:
            space.add_lwpolyline((shape @ matrix.T + shift).tolist(), close=True)
            space.add_circle((matrix @ hole + shift).tolist(), 5.5)

    words = ("--material", "mild-steel", "--thickness", "5", "--power", "6")
    answer = check(draw, *words)
    parts = answer["parts"]
    assert sorted(part["count"] for part in parts) == [1, 2]
    hands = [part for part in parts if part["other_hand_of"]]
    assert len(hands) == 1
    assert hands[0]["other_hand_of"] in {part["id"] for part in parts}
    assert found(answer, "nitrogen", "left-right-pair")
    for part in parts:
        assert part["area_mm2"] == pytest.approx(16_705, abs=0.5)
        assert part["cut_length_mm"] == pytest.approx(714.56, abs=0.01)


def test_circles_that_are_not_cuts(check: Check) -> None:
    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 200, 120)
        for x in (30, 60):
            space.add_circle((x, 30), 4.25)
            space.add_arc((x, 30), 5, 0, 270)
        for x in (100, 140):
            space.add_circle((x, 30), 3.3)
            space.add_circle((x, 30), 6.2)
        space.add_circle((100, 90), 5)
        space.add_text("M10", height=5).set_placement((108, 92))

    answer = check(draw, *MS10)
    assert answer["totals"]["contours"] == 6
    assert answer["totals"]["cut_length_mm"] == pytest.approx(766.30, abs=0.01)
    assert answer["totals"]["parts"] == 1
    assert found(answer, "nitrogen", "symbol-not-cut")
    flagged = [f for f in gas(answer, "nitrogen")["findings"] if "M10" in f["message"]]
    assert flagged
    # thread symbols drawn as 270 degrees, and rings: two of each, named as questions
    aside = sum(r["count"] for r in answer["drawing"]["entities"]["ignored"] if r["type"] != "TEXT")
    assert aside == 4


def test_leads_in_holes_of_20_mm_oxygen(check: Check) -> None:
    def draw(space: Modelspace) -> None:
        box(space, 0, 0, 300, 100)
        for x, d in ((40, 12), (100, 20), (160, 26), (240, 40)):
            space.add_circle((x, 50), d / 2)

    words = ("--material", "mild-steel", "--thickness", "20", "--power", "20",
             "--gas", "oxygen", "--gas", "mixed")  # fmt: skip
    answer = check(draw, *words)
    # at most 5.6 / 9.6 / 12.6 / 19.6 from the centre with a kerf of 0.80, and the outline's own
    leads = gas(answer, "oxygen")["time_s"]["leads"] * gas(answer, "oxygen")["speed_m_per_min"]
    assert leads * 1000 / 60 <= 5.6 + 9.6 + 12.6 + 19.6 + 18 + 0.2
    for name, small in (("oxygen", "loss"), ("mixed", "rework")):
        assert levels(answer, name, "hole-too-small").get(small) == 1
        places = [p["x"] for f in found(answer, name, "no-room-for-lead-in") for p in f["places"]]
        assert all(x == pytest.approx(40) for x in places)
        big = [f for f in gas(answer, name)["findings"] if f["level"] == "loss"
               for p in f["places"] if p["x"] in (160.0, 240.0)]  # fmt: skip
        assert not big


def test_comb_edge(check: Check) -> None:
    """400 segments of 5 mm at 90 degrees: far slower than length over speed (4.2 s).

    Expected of a real head are 18 to 36 s (common practice, no source).  Without jerk the
    closed form of one segment gives 400 x 0.0428 = 17.1 s.
    """

    def draw(space: Modelspace) -> None:
        comb = [(0.0, 0.0), (1000.0, 0.0)]
        for tooth in range(100):
            x = 1000.0 - 10 * tooth
            comb += [(x, 50), (x - 5, 50), (x - 5, 45), (x - 10, 45)]
        space.add_lwpolyline(comb, close=True)

    words = ("--material", "mild-steel", "--thickness", "2", "--power", "6", "--gas", "nitrogen")
    answer = check(draw, *words)
    row = gas(answer, "nitrogen")
    straight = (1000 + 50 + 45) * 60 / (1000 * row["speed_m_per_min"])
    edge = row["time_s"]["cut"] + row["time_s"]["slowed"] - straight
    assert 18 < edge < 36
    assert len([f for f in row["findings"] if f["rule"] in ("corner-slows", "edge-burrs",
                                                            "tip-too-sharp")]) <= 1  # fmt: skip


def test_a_good_part(check: Check, tmp_path: Path) -> None:
    def draw(space: Modelspace) -> None:
        b = math.tan(math.pi / 8)
        space.add_lwpolyline(
            [(10, 0, 0), (390, 0, b), (400, 10, 0), (400, 190, b), (390, 200, 0), (10, 200, b),
             (0, 190, 0), (0, 10, b)], format="xyb", close=True,
        )  # fmt: skip
        for x, y in ((24.5, 24.5), (375.5, 24.5), (375.5, 175.5), (24.5, 175.5)):
            space.add_circle((x, y), 4.5)

    words = ("--material", "mild-steel", "--thickness", "5", "--power", "6", "--plate", "clean",
             "--next", "none")  # fmt: skip
    answer = check(draw, *words)
    assert answer["totals"]["cut_length_mm"] == pytest.approx(1295.93, abs=0.01)
    assert gas(answer, "nitrogen")["time_s"]["total"] == pytest.approx(15, abs=1.5)
    assert answer["advice"]["gas"] != "mixed"
    assert not found(answer, "nitrogen", "hole-likely-threaded")
    words += ("--gas", "nitrogen", "--gas", "mixed")
    page = CliRunner().invoke(burrcast, ["check", str(tmp_path / "part.dxf"), *words]).stdout
    assert "Nothing to change." in page
    assert "Cut with NITROGEN." in page


# --- what comes loose -----------------------------------------------------------------


@pytest.mark.parametrize(("width", "height"), [(45.0, 600.0), (600.0, 45.0)])
def test_strip_on_slats(check: Check, width: float, height: float) -> None:
    """MS 4, 45 x 600: along the slats never safe, across safe, in every gas, drawn either way."""
    answer = check(lambda space: box(space, 10, 20, width, height), "--material", "mild-steel",
                   "--thickness", "4", "--power", "6")  # fmt: skip
    for row in answer["gases"]:
        (strip,) = found(answer, row["gas"], "part-falls-through")
        assert strip["level"] == "loss"
        # no slat: (66.7 - 2 - 45) / 66.7
        assert strip["measured"] == pytest.approx(0.295, abs=5e-4)
        assert strip["message"].startswith("45 wide, 600 long, ")  # not as drawn
        assert "laid along the slats" in strip["message"]
        assert "across the slats" in strip["remedy"]
        assert "2 micro-joints" in strip["remedy"]
        assert not found(answer, row["gas"], "part-tips")
    assert "part-falls-through" in answer["advice"]["in_every_gas"]
    assert not answer["advice"]["reason"].startswith("no gas is without loss")


def test_12_small_part_needs_a_micro_joint(check: Check) -> None:
    """40 x 40 x 3 in nitrogen: narrower than the gap; 0.3 to 0.5 mm, about 260 to 430 N."""
    answer = check(lambda space: box(space, 0, 0, 40, 40), "--material", "mild-steel",
                   "--thickness", "3", "--power", "6", "--gas", "nitrogen")  # fmt: skip
    (small,) = found(answer, "nitrogen", "part-falls-through")
    assert small["level"] == "loss"
    assert "0.3 to 0.5 mm" in small["remedy"]
    assert "260 to 430 N" in small["remedy"]


@pytest.mark.outside("Chance that a part 100 wide tips", "closed form")
def test_13_part_of_100_tips_one_in_two(check: Check) -> None:
    """100 wide at pitch 66.7: 0.50 on knife edges, 2 (64.7 - 50) / 66.7 = 0.44 on slats of 2."""

    def both(space: Modelspace) -> None:
        box(space, 0, 0, 100, 100)

    words = ("--material", "mild-steel", "--thickness", "5", "--power", "6")
    (tips,) = found(check(both, *words), "nitrogen", "part-tips")
    assert tips["measured"] == pytest.approx(2 * 14.7 / 66.7, abs=1e-4)
    assert "1 in 2" in tips["message"]
    shop = "[machine]\nslat_thickness_mm = 0.001\n"
    (tips,) = found(check(both, *words, shop=shop), "nitrogen", "part-tips")
    assert tips["measured"] == pytest.approx(0.5007, abs=1e-4)


def test_slugs_of_a_good_plate_fall_and_nothing_is_said(check: Check) -> None:
    """MS 5 400 x 200 with 4 x 9: slugs of 9 fall between the slats, the plate lies still."""

    def plate(space: Modelspace) -> None:
        box(space, 0, 0, 400, 200)
        for x, y in ((20, 20), (380, 20), (20, 180), (380, 180)):
            space.add_circle((x, y), 4.5)

    answer = check(plate, "--material", "mild-steel", "--thickness", "5", "--power", "6")
    loose = {"part-falls-through", "part-tips", "part-may-stick", "cut-out-tips", "slug-may-stick"}
    for row in answer["gases"]:
        assert not loose & {f["rule"] for f in row["findings"]}


def test_neck_and_fingers(check: Check) -> None:
    """A dumbbell's neck of 3 in 10 mm: 0.3, lost in oxygen (0.35), rework in nitrogen (0.4)."""

    def dumbbell(space: Modelspace) -> None:
        half = [(0, 0), (150, 0), (150, 98.5), (200, 98.5), (200, 0), (350, 0)]
        space.add_lwpolyline([*half, *((x, 200 - y) for x, y in reversed(half))], close=True)

    answer = check(dumbbell, *MS10)
    assert levels(answer, "oxygen", "neck-too-thin") == {"loss": 1}
    assert levels(answer, "nitrogen", "neck-too-thin") == {"rework": 1}
    assert found(answer, "oxygen", "neck-too-thin")[0]["measured"] == pytest.approx(0.3)
