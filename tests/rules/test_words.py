"""What texts, file and layer names are read as, and what they are not."""

from pathlib import Path

import ezdxf
import pytest

from analyzer.request import Request
from analyzer.rules.words import Words, thicknesses_said


@pytest.mark.parametrize(
    ("text", "source", "mm"),
    [
        ("t=8", "text", [8.0]), ("t = 8 mm", "text", [8.0]), ("T:8", "text", [8.0]),
        ("thk 6", "text", [6.0]), ("Thickness: 0.375 in", "text", [9.525]),
        ("8 mm thick", "text", [8.0]), ("3,5mm sheet", "text", [3.5]), ("Dicke 10", "text", [10.0]),
        ("baseplate_8mm", "file name", [8.0]), ("6mm_13x_01.04.06", "file name", [6.0]),
        ("CUT-5mm", "layer name", [5.0]),
        ('t=3/8"', "text", [9.525]), ("THK 3/8", "text", [9.525]), ("t=1 1/4 in", "text", [31.75]),
        ("1/2in plate", "text", [12.7]), ("t=.375in", "text", [9.525]), ("t=1/0", "text", []),
        ("S235", "text", []), ("8 mm", "text", []), ("slot 12 mm wide", "text", []),
        ("t=300", "text", []), ("plate_300mm", "file name", []), ("M6x8mm", "file name", []),
        ("start=5", "text", []), ("part=8", "text", []),
    ],
)  # fmt: skip
def test_thickness(text: str, source: str, mm: list[float]) -> None:
    said = [value for _, value in thicknesses_said(Words(text, source, None))]
    assert said == pytest.approx(mm)


@pytest.mark.parametrize(("text", "told"), [("t=3/8 A36", 0), ("T=0.375", 0), ("t=0.5", 1)])
def test_a_thickness_in_a_drawing_in_inches(tmp_path: Path, text: str, told: int) -> None:
    """ "t=3/8" was read as 3 mm, and the customer to be asked."""
    document = ezdxf.new("R2010", units=1)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (12, 0), (12, 8), (0, 8)], close=True)
    space.add_text(text, dxfattribs={"height": 0.3}).set_placement((1, 1))
    document.saveas(tmp_path / "a.dxf")
    asked = Request(material="A36", thickness_mm=9.525, power_kw=6.0, gases=("oxygen",))
    (result,) = asked.answer(tmp_path / "a.dxf").analysis.gases
    assert sum(f.rule == "note-disagrees" for f in result.findings) == told
