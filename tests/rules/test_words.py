"""What texts, file and layer names are read as, and what they are not."""

import pytest

from analyzer.rules.words import Words, thicknesses_said


@pytest.mark.parametrize(
    ("text", "source", "mm"),
    [
        ("t=8", "text", [8.0]), ("t = 8 mm", "text", [8.0]), ("T:8", "text", [8.0]),
        ("thk 6", "text", [6.0]), ("Thickness: 0.375 in", "text", [9.525]),
        ("8 mm thick", "text", [8.0]), ("3,5mm sheet", "text", [3.5]), ("Dicke 10", "text", [10.0]),
        ("baseplate_8mm", "file name", [8.0]), ("6mm_13x_01.04.06", "file name", [6.0]),
        ("CUT-5mm", "layer name", [5.0]),
        ("S235", "text", []), ("8 mm", "text", []), ("slot 12 mm wide", "text", []),
        ("t=300", "text", []), ("plate_300mm", "file name", []), ("M6x8mm", "file name", []),
        ("start=5", "text", []), ("part=8", "text", []),
    ],
)  # fmt: skip
def test_thickness(text: str, source: str, mm: list[float]) -> None:
    said = [value for _, value in thicknesses_said(Words(text, source, None))]
    assert said == pytest.approx(mm)
