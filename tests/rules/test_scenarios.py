"""What a laser programmer expects of whole parts: common practice, no source.

Parts are drawn here by hand; plans run on the drawn contours (`build.plan_of`).
"""

import dataclasses
import math
from typing import Any

import pytest
from rules.build import (
    EMPTY,
    evidence_of,
    findings_by_gas,
    part_set_of,
    rectangle,
)

from analyzer.drawing.drawing import Account, Drawing, Entity, Text, UnitsFound
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.parts.find import find_parts
from analyzer.process.choose import settings_for
from analyzer.rules.judge import judge
from analyzer.rules.limits import load_limits
from analyzer.rules.registry import rule_named
from analyzer.rules.rule import Finding

FOUR = ((40, 40), (260, 40), (260, 160), (40, 160))
Found = dict[str, tuple[Finding, ...]]


def under(case: dict[str, Any], *gases: str) -> Found:
    return dict(zip(gases, findings_by_gas(case, gases), strict=True))


def plate(hole: float, **job: Any) -> dict[str, Any]:
    """300 x 200 with four holes and one of 60."""
    holes = [[x, y, hole] for x, y in FOUR] + [[150, 100, 60]]
    return {
        "job": {"material": "mild-steel", "thickness": 10, "power": 10, **job},
        "parts": [{"plate": [300, 200], "holes": holes}],
    }


def of(findings: tuple[Finding, ...], rule: str) -> list[Finding]:
    return [f for f in findings if f.rule == rule]


def levels(findings: tuple[Finding, ...], rule: str) -> list[str]:
    return [f.level for f in of(findings, rule)]


def test_12_in_10_mm_is_well_in_every_gas() -> None:
    for findings in under(plate(12.0), "oxygen", "nitrogen", "mixed", "air").values():
        names = {f.rule for f in findings}
        assert not names & {"hole-too-small", "no-room-for-lead-in", "web-too-thin"}


def test_6_in_10_mm() -> None:
    """0.6 of thickness: the lower limit of oxygen, burr in nitrogen, well in mixed gas."""
    found = under(plate(6.0), "oxygen", "nitrogen", "mixed")
    assert levels(found["oxygen"], "hole-too-small") == ["rework"]
    (burr,) = of(found["nitrogen"], "hole-too-small")
    assert (burr.level, burr.count, burr.measured, burr.limit) == ("rework", 4, 0.6, 1.0)
    assert "burr" in burr.message
    assert not levels(found["mixed"], "hole-too-small")


def test_4_in_10_mm() -> None:
    """0.4 of thickness: lost in oxygen and nitrogen, at the last limit of mixed gas; drill."""
    found = under(plate(4.0), "oxygen", "nitrogen", "mixed")
    for gas in ("oxygen", "nitrogen"):
        (lost,) = of(found[gas], "hole-too-small")
        assert lost.level == "loss"
        assert "drill" in lost.remedy
    (limit,) = of(found["mixed"], "hole-too-small")
    assert (limit.level, limit.limit) == ("rework", 0.6)  # not lost: it misses the clean limit
    assert limit.remedy.startswith("Cut one test piece")


def test_20_mm_on_20_kw() -> None:
    """Burr 3 in nitrogen, 1 in mixed gas, 0-1 in oxygen; oxide off in oxygen only."""
    case = plate(40.0, thickness=20, power=20, next="powder")
    found = under(case, "oxygen", "nitrogen", "mixed")
    assert [f.measured for f in of(found["nitrogen"], "edge-burrs")] == [3.0]
    assert not of(found["mixed"], "edge-burrs") + of(found["oxygen"], "edge-burrs")
    assert levels(found["oxygen"], "edge-unfit-for-next-step") == ["rework"]
    assert levels(found["mixed"], "edge-unfit-for-next-step") == ["note"]
    assert not of(found["nitrogen"], "edge-unfit-for-next-step")


def test_12_mm_on_6_kw() -> None:
    found = under(plate(30.0, thickness=12, power=6), "oxygen", "nitrogen")
    (beyond,) = of(found["nitrogen"], "thickness-beyond-power")
    assert (beyond.level, beyond.measured) == ("loss", 2.0)
    assert not of(found["oxygen"], "thickness-beyond-power")


def test_web_of_8_in_20_mm() -> None:
    """Two holes of 30: 0.4 of thickness is hand work in oxygen, well in the others."""
    case: dict[str, Any] = {
        "job": {"material": "mild-steel", "thickness": 20, "power": 20},
        "parts": [
            {
                "plate": [200, 100],
                "holes": [[60, 50, 30], [98, 50, 30]],
                "webs": [[79, 50, 8]],
            }
        ],
    }
    found = under(case, "oxygen", "nitrogen", "mixed")
    (web,) = of(found["oxygen"], "web-too-thin")
    assert (web.level, web.measured) == ("rework", 0.4)
    assert "from 14 on" in web.remedy
    assert not of(found["nitrogen"], "web-too-thin") + of(found["mixed"], "web-too-thin")


def test_sharp_tip_of_40_degrees_in_15_mm() -> None:
    tip = [[0, 0], [200, 0], [200, 200 * math.tan(math.radians(40))]]
    case = {
        "job": {"material": "mild-steel", "thickness": 15, "power": 15},
        "parts": [{"outline": tip}],
    }
    found = under(case, "oxygen", "mixed")
    lost = of(found["oxygen"], "tip-too-sharp")[0]
    assert (lost.level, lost.places) == ("loss", ((0.0, 0.0),))
    assert "R 2" in lost.remedy
    assert "loop" in lost.remedy
    assert levels(found["mixed"], "tip-too-sharp") == ["rework"]


def test_title_block_2768_m_in_12_mm() -> None:
    """A slot of 80: +-0.3 asked, +-0.40 held.  Holes 80 apart: the pitch is not meant."""
    case = plate(40.0, thickness=12, power=12, tolerance="2768-m")
    assert all("80 mm" not in f.message for f in under(case, "nitrogen")["nitrogen"])
    case["parts"][0]["slots"] = [[150, 30, 31, 80]]
    (tight,) = of(under(case, "nitrogen")["nitrogen"], "tolerance-tighter-than-process")
    assert (tight.level, tight.measured, tight.limit) == ("note", 0.3, 0.4)


@pytest.mark.parametrize("gas", ["oxygen", "nitrogen", "mixed", "air"])
def test_galvanising_is_a_note_in_any_gas_and_the_oxide_of_oxygen_stays(gas: str) -> None:
    found = under(plate(40.0, next="galvanise"), gas)[gas]
    wanted = "rework" if gas == "oxygen" else "note"
    assert levels(found, "edge-unfit-for-next-step") == [wanted]


def test_visible_stainless_in_mixed_gas() -> None:
    case = plate(40.0, material="stainless", thickness=6, next="visible")
    found = under(case, "nitrogen", "mixed")
    (oxide,) = of(found["mixed"], "gas-unsuited")
    assert oxide.level == "rework"
    assert "oxidises" in oxide.message
    assert "Pickle or brush" in oxide.remedy
    assert not of(found["nitrogen"], "gas-unsuited")


def test_holes_in_20_mm_oxygen_and_mixed_gas() -> None:
    """12, 20, 26, 40: no trouble to pierce; 12 is lost in oxygen, hand work in mixed gas."""
    holes = [[50, 50, 12], [120, 50, 20], [200, 50, 26], [300, 50, 40]]
    case = {
        "job": {"material": "mild-steel", "thickness": 20, "power": 20},
        "parts": [{"plate": [400, 100], "holes": holes}],
    }
    found = under(case, "oxygen", "mixed")
    by_place = {
        gas: {(place, f.level) for f in of(findings, "hole-too-small") for place in f.places}
        for gas, findings in found.items()
    }
    assert ((50.0, 50.0), "loss") in by_place["oxygen"]
    assert by_place["mixed"] == {((50.0, 50.0), "rework")}
    for findings in found.values():
        assert not of(findings, "no-room-for-lead-in")
        of_holes = [f for f in findings if f.part and rule_named(f.rule).group != "drop"]
        touched = {place for f in of_holes for place in f.places}
        assert not touched & {(200.0, 50.0), (300.0, 50.0)}


def test_a_good_part_needs_no_change() -> None:
    """5 mm clean on 6 kW, 400 x 200 with four holes of 9: nothing to change in any gas."""
    case = {
        "job": {"material": "mild-steel", "thickness": 5, "power": 6, "next": "none"},
        "parts": [{"plate": [400, 200], "holes": [[20, 20, 9], [380, 20, 9], [380, 180, 9],
                                                   [20, 180, 9]]}],
    }  # fmt: skip
    for findings in under(case, "oxygen", "nitrogen", "mixed", "air").values():
        asked = [f for f in findings if rule_named(f.rule).asks_change or f.level == "loss"]
        assert asked == []
        assert not of(findings, "hole-likely-threaded")


def test_symbols_and_a_thread_at_its_own_size() -> None:
    """10 mm: 2 x [8.5 + arc r 5], 2 x [6.6 in 12.4], and 10.0 with the text "M10"."""
    arc = math.tan(math.radians(270.0) / 4.0)

    def symbol(x: float, y: float) -> Contours:
        return Contours.from_points([[x, y - 5], [x - 5, y]], [arc], closed=False)

    cuts = Contours.join([
        rectangle(0, 0, 200, 120),
        Contours.circle(30, 30, 4.25), symbol(30, 30),
        Contours.circle(70, 30, 4.25), symbol(70, 30),
        Contours.circle(30, 90, 3.3), Contours.circle(30, 90, 6.2),
        Contours.circle(70, 90, 3.3), Contours.circle(70, 90, 6.2),
        Contours.circle(150, 60, 5.0),
    ])  # fmt: skip
    sources = tuple((Entity(str(row), "CIRCLE", "0"),) for row in range(len(cuts)))
    drawing = Drawing(
        "plate.dxf", UnitsFound("mm", "header", 1.0), cuts, sources, EMPTY, EMPTY,
        Account(len(cuts), len(cuts)), Account(0, 0), (),
        (Text("M10", 158.0, 62.0, 3.5, "0", "text"),),
    )  # fmt: skip
    job = Job("mild-steel", 10.0, 10.0)
    parts = find_parts(drawing, 10.0)
    (setting, *_), _left = settings_for(dataclasses.replace(job, gases=("nitrogen",)))
    evidence = [[evidence_of(part, setting, job) for part in parts.parts]]
    (findings,) = judge(parts, job, evidence, [None], [setting], load_limits())
    assert parts.parts[0].pierces == 6
    assert sum(f.count for f in of(findings, "symbol-not-cut")) == 4
    threads = of(findings, "hole-likely-threaded")
    assert [(f.level, f.measured, f.limit) for f in threads] == [
        ("loss", pytest.approx(10.0), 8.5),
        ("note", pytest.approx(0.18), pytest.approx(0.3)),  # 8.5 is the tap drill of M10
    ]
    assert not of(findings, "islands-fall-out") + of(findings, "open-contour")


def test_parts_of_the_case_language_are_what_they_say() -> None:
    """The builder itself: an area and a length known in closed form."""
    parts = part_set_of(plate(12.0))
    part = parts.parts[0]
    assert part.area == pytest.approx(60000 - math.pi / 4 * (4 * 144 + 3600))
    assert part.cut_length == pytest.approx(1000 + math.pi * (48 + 60))
    assert [c.angle for c in part.corners] == pytest.approx([90.0] * 4)
