"""Heat from a drawing to the answer of `burrcast check`: common practice, no source."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner
from ezdxf.layouts import Modelspace

from analyzer.cli import burrcast
from analyzer.report.same_web import fold_heat
from analyzer.rules.rule import Finding

Json = dict[str, Any]
Draw = Callable[[Modelspace], None]
MS20 = ("--thickness", "20", "--power", "20")


def answer(tmp_path: Path, draw: Draw, *words: str) -> str:
    document = ezdxf.new("R2010", units=4)
    draw(document.modelspace())
    path = tmp_path / "part.dxf"
    document.saveas(path)
    told = [str(path), "--material", "mild-steel", *words]
    result = CliRunner().invoke(burrcast, ["check", *told])
    assert result.exit_code == 0, result.output
    return result.stdout


def findings(tmp_path: Path, draw: Draw, *words: str) -> dict[str, dict[str, list[Json]]]:
    """Return the findings by gas and rule."""
    written = json.loads(answer(tmp_path, draw, *words, "--format", "json"))
    return {
        gas["gas"]: {
            rule: [f for f in gas["findings"] if f["rule"] == rule]
            for rule in {f["rule"] for f in gas["findings"]}
        }
        for gas in written["gases"]
    }


def two_holes(space: Modelspace) -> None:
    space.add_lwpolyline([(0, 0), (300, 0), (300, 200), (0, 200)], close=True)
    for x in (131, 169):
        space.add_circle((x, 100), 15)


def test_web_of_8_between_two_holes_of_30(tmp_path: Path) -> None:
    """0.4 t in 20 mm oxygen: rework, bound 273 K, 137 to 155 K superposed, 12 mm or other gas."""
    found = findings(tmp_path, two_holes, *MS20)
    (web,) = found["oxygen"]["web-overheats"]
    assert web["level"] == "rework"
    assert web["unit"] == "K"
    assert 137.0 <= web["measured"] <= 165.0
    assert "27" in web["message"].split("own two cuts")[1]
    assert "Ask the designer for 12.5" in web["remedy"]
    assert "change the gas" in web["remedy"]
    assert (web["x"], web["y"]) == pytest.approx((150.0, 100.0))
    assert found["oxygen"]["web-too-thin"][0]["level"] == "rework"


def test_the_same_web_is_fine_in_nitrogen_and_mixed_gas(tmp_path: Path) -> None:
    found = findings(tmp_path, two_holes, *MS20)
    for gas in ("nitrogen", "mixed"):
        assert not {"web-overheats", "web-too-thin", "crowded-heat"} & set(found[gas])


def test_sharp_tip_of_40_degrees_in_15_mm(tmp_path: Path) -> None:
    """Not advisable in oxygen, with a loop or a radius of 2 mm; mixed gas caution or fine."""

    def draw(space: Modelspace) -> None:
        top = 200.0 * np.tan(np.radians(40.0))
        space.add_lwpolyline([(200, 0), (200, top), (0, 0)], close=True)

    found = findings(tmp_path, draw, "--thickness", "15", "--power", "15")
    worst = max(found["oxygen"]["tip-too-sharp"], key=lambda f: -f["measured"])
    assert worst["level"] == "loss"
    assert "R 2" in worst["remedy"]
    assert "loop" in worst["remedy"]
    assert all(f["level"] != "loss" for f in found["mixed"].get("tip-too-sharp", []))


def test_a_crowded_plate_is_one_line(tmp_path: Path) -> None:
    def draw(space: Modelspace) -> None:
        space.add_lwpolyline([(-40, -40), (280, -40), (280, 280), (-40, 280)], close=True)
        for i in range(9):
            for j in range(9):
                space.add_circle((30 * i, 30 * j), 10)

    (crowd,) = findings(tmp_path, draw, *MS20)["oxygen"]["crowded-heat"]
    assert crowd["level"] == "rework"
    assert crowd["measured"] == pytest.approx(117.2, rel=0.01)  # O20 at pitch 30, worked by hand


def test_the_page_no_longer_says_that_heat_was_not_checked(tmp_path: Path) -> None:
    assert (
        "heat along the cutting order"
        not in answer(tmp_path, two_holes, *MS20).split("Not checked")[-1].split("Assumed")[0]
    )


def test_why_tells_heat_and_the_worst_stretches(tmp_path: Path) -> None:
    page = " ".join(answer(tmp_path, two_holes, *MS20, "--gas", "oxygen", "--why").split())
    for words in ("heat-left", "heat-web", "heat-pierce", "burr-at-1", "small contour"):
        assert words in page


def test_a_web_both_thin_and_hot_is_one_line_on_the_page(tmp_path: Path) -> None:
    """Both rules find the web of the case above; what is read says it once, with both marks."""
    page = " ".join(answer(tmp_path, two_holes, *MS20, "--gas", "oxygen").split())
    assert page.count("1 web 8") == 1
    assert re.search(r"\d,\d REWORK 1 web 8: 0\.40 of thickness", page)
    heat = re.search(r"It overheats too: (\d+) K warmer, limit 110\.", page)
    assert heat is not None
    assert 137.0 <= float(heat[1]) <= 165.0
    assert "from 14 on it stands" in page
    html = answer(tmp_path, two_holes, *MS20, "--gas", "oxygen", "--format", "html")
    assert "It overheats too" in html
    assert "1 web 8 heats by" not in html.split("What is found")[1].split("<h2>Expect")[0]


def test_heat_of_one_web_more_than_the_thin_ones_keeps_its_own_line() -> None:
    def found(rule: str, part: str, *places: tuple[float, float]) -> Finding:
        return Finding(1, rule, "rework", part, len(places), places, 150.0, 110.0, "K", "", "")

    thin = found("web-too-thin", "A", (0.0, 0.0), (9.0, 0.0))
    same, more = found("web-overheats", "A", (9.0, 0.0)), found("web-overheats", "A", (5.0, 0.0))
    other = found("web-overheats", "B", (0.0, 0.0))
    assert fold_heat([thin, same, more, other]) == ((thin, more, other), (same,))
