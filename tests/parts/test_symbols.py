"""What is drawn but not cut: both readings, and what must not be mistaken for it."""

from __future__ import annotations

import math

import pytest
from geometry.shapes import arc, line, polygon, rectangle, regular, rotation, stadium
from parts.drawings import drawing, note

from analyzer.errors import InputError
from analyzer.geometry.contours import Contours
from analyzer.parts.find import find_parts
from analyzer.parts.part import PartSet
from analyzer.parts.threads import tap_drill, threads, threads_in

PLATE = rectangle(0, 0, 200, 120)
circle = Contours.circle


def find(*shapes: Contours, thickness: float = 10.0, texts: tuple = ()) -> PartSet:
    return find_parts(drawing(*shapes, texts=texts), thickness)


def kinds(found: PartSet) -> list[str]:
    return [fact.kind for fact in (*found.drawing.facts, *found.facts)]


def test_thread_symbols_rings_and_a_note_of_the_practitioner() -> None:
    """practice.md 5, row 2: 6 contours cut, 766.30 mm; no loose disc; the M10 flagged."""
    found = find(
        PLATE,
        circle(30, 30, 4.25), arc(30, 30, 5, 0, 270),
        circle(170, 30, 4.25), arc(170, 30, 5, 45, 270),
        circle(30, 90, 3.3), circle(30, 90, 6.2), circle(170, 90, 3.3), circle(170, 90, 6.2),
        circle(100, 60, 5), texts=(note("M10", 108, 62),),
    )  # fmt: skip
    (part,) = found.parts
    assert len(part.contours) == 6
    assert part.cut_length == pytest.approx(766.30, abs=0.01)
    assert sorted(h.diameter for h in part.holes) == pytest.approx([6.6, 6.6, 8.5, 8.5, 10.0])
    assert len(found.loose) == 0
    assert kinds(found) == ["symbol-not-cut"] * 4 + ["hole-likely-threaded"]
    words = [fact.message for fact in found.drawing.facts]
    assert "10.0 with note M10: tap drill 8.5" in words
    assert all("or is" in w for w in words[:4])  # both readings
    assert "M10" in words[0]
    account = found.drawing.account
    assert (account.total, account.used) == (10, 6)
    assert sum(row.count for row in account.ignored) == 4
    place = [(f.x, f.y) for f in found.drawing.facts[2:4]]
    assert place == [pytest.approx((30, 90)), pytest.approx((170, 90))]


def test_the_same_when_the_sheet_is_turned_and_mirrored() -> None:
    shapes = [
        PLATE, circle(30, 30, 4.25), arc(30, 30, 5, 0, 270), circle(30, 90, 3.3),
        circle(30, 90, 6.2), line((95, 60), (105, 60)), line((100, 55), (100, 65)),
        circle(100, 60, 4),
    ]  # fmt: skip
    for matrix in (rotation(0), rotation(33), rotation(-120) @ [[-1, 0], [0, 1]]):
        found = find(*(s.moved(matrix, (500, -70)) for s in shapes))
        (part,) = found.parts
        assert len(part.contours) == 4
        assert part.cut_length == pytest.approx(640 + math.pi * (8.5 + 6.6 + 8))
        assert kinds(found) == ["symbol-not-cut"] * 4


# --- rings that are real ------------------------------------------------------


def test_flanges_washers_and_large_rings_stay_parts() -> None:
    flange = [circle(0, 0, 25), circle(0, 0, 12)]  # outline and bore
    frame = [rectangle(100, -60, 200, 120), circle(200, 0, 50), circle(200, 0, 40)]  # 100 mm
    washer = [rectangle(400, -60, 120, 120), rectangle(410, -50, 100, 100), circle(460, 0, 12),
              circle(460, 0, 6.5)]  # fmt: skip
    found = find(*flange, *frame, *washer)
    assert "symbol-not-cut" not in kinds(found)
    assert sum(p.count for p in found.parts) == 5  # flange, frame, its disc, frame, washer


def test_a_ring_with_something_between_is_no_countersink() -> None:
    found = find(PLATE, circle(60, 60, 25), circle(60, 60, 12), circle(60, 60 + 18, 2))
    assert "symbol-not-cut" not in kinds(found)
    eccentric = find(PLATE, circle(60, 60, 25), circle(62, 60, 12))
    assert "symbol-not-cut" not in kinds(eccentric)


def test_three_circles_about_one_centre_are_asked_about_but_cut() -> None:
    found = find(PLATE, circle(60, 60, 10), circle(60, 60, 6), circle(60, 60, 3.3))
    assert kinds(found) == ["symbol-not-cut"]
    assert sum(len(p.contours) for p in found.parts) == 4


def test_an_arc_that_is_a_slit_stays() -> None:
    """A relief slit about a hole but far from it, and one of half a turn."""
    found = find(PLATE, circle(60, 60, 5), arc(60, 60, 20, 0, 270), arc(60, 60, 6, 0, 180))
    assert "symbol-not-cut" not in kinds(found)
    assert len(found.parts[0].contours) == 4


# --- centre marks ---------------------------------------------------------------


@pytest.mark.parametrize("size", [1.0, 3.0, 7.5, 30.0, 90.0])
def test_crosses_at_holes_are_set_aside(size: float) -> None:
    cross = [line((60 - size, 60), (60 + size, 60)), line((60, 60 - size), (60, 60 + size))]
    found = find(PLATE, circle(60, 60, 5), *cross)
    assert len(found.parts[0].contours) == 2
    assert len(found.loose) == 0
    assert kinds(found) == ["symbol-not-cut"] * 2


def test_crosses_drawn_as_rays_or_bent_chains() -> None:
    rays = [line((60, 60), (60 + 8 * x, 60 + 8 * y)) for x, y in ((1, 0), (0, 1), (-1, 0), (0, -1))]
    assert len(find(PLATE, circle(60, 60, 5), *rays).parts[0].contours) == 2
    bent = [line((68, 60), (60, 60), (60, 68)), line((52, 60), (60, 60), (60, 52))]
    assert len(find(PLATE, circle(60, 60, 5), *bent).parts[0].contours) == 2


def test_a_centre_line_through_several_holes() -> None:
    holes = [circle(x, 60, 5) for x in (40, 100, 160)]
    found = find(PLATE, *holes, line((25, 60), (175, 60)))
    assert len(found.parts[0].contours) == 4
    assert kinds(found) == ["symbol-not-cut"]


def test_slits_with_stop_holes_stay_cuts() -> None:
    """From edge to edge of two holes, or from centre to centre: may be meant."""
    holes = [circle(60, 60, 2), circle(120, 60, 2)]
    for ends in ((62, 118), (60, 120)):
        found = find(PLATE, *holes, line((ends[0], 60), (ends[1], 60)))
        assert len(found.parts[0].contours) == 4
        assert kinds(found) == []
    slit = find(PLATE, circle(60, 60, 2), line((60, 60), (60, 100)))
    assert len(slit.parts[0].contours) == 3


def test_a_dot_at_the_centre_of_a_hole() -> None:
    found = find(PLATE, circle(60, 60, 8), circle(60, 60, 0.5))
    (part,) = found.parts
    assert [h.diameter for h in part.holes] == pytest.approx([16.0])
    assert kinds(found) == ["symbol-not-cut"]


# --- specks, views, threads -------------------------------------------------------


def test_specks_are_told_and_contours_without_area_set_aside() -> None:
    found = find(PLATE, circle(60, 60, 0.2), polygon((20, 20), (40, 20), (30, 20)))
    assert sorted(kinds(found)) == ["speck", "speck"]
    assert len(found.parts[0].contours) == 2
    bow = find(polygon((0, 0), (20, 20), (20, 0), (0, 20)))  # no net area, but no speck
    assert kinds(bow) == ["crossing-contour"]


def test_an_edge_view_in_line_with_its_part_is_set_aside() -> None:
    found = find(PLATE, rectangle(230, 0, 10, 120), rectangle(0, 150, 200, 10))
    (part,) = found.parts
    assert part.count == 1
    assert kinds(found) == ["view-not-part"] * 2
    assert all("or is it a part" in fact.message for fact in found.drawing.facts)


def test_a_strip_elsewhere_stays_a_part_with_a_question() -> None:
    found = find(PLATE, rectangle(230, 33, 10, 120))
    assert sum(p.count for p in found.parts) == 2
    assert kinds(found) == ["view-not-part"]
    for strip in (rectangle(230, 0, 10, 77), rectangle(230, 0, 12, 120)):
        assert kinds(find(PLATE, strip)) == []
    alone = find(rectangle(0, 0, 200, 10), rectangle(0, 20, 200, 10))
    assert sum(p.count for p in alone.parts) == 2


def test_a_note_flags_only_the_hole_beside_it() -> None:
    holes = [circle(30, 60, 5), circle(170, 60, 5), circle(30, 100, 4.25)]
    found = find(PLATE, *holes, texts=(note("2x M10", 40, 64), note("M8", 170, 60)))
    facts = [f for f in found.drawing.facts if f.kind == "hole-likely-threaded"]
    assert [(f.x, f.y) for f in facts] == [pytest.approx((30, 60))]
    far = find(PLATE, *holes, texts=(note("M10", 600, 64),))
    assert kinds(far) == []


@pytest.mark.outside("Tap drills [mm]", "ISO 2306, rule of thumb, from memory")
def test_threads_of_the_standards() -> None:
    """ISO 2306 tap drill = nominal - pitch to 0.1 (M4 and up rule of thumb, from memory);
    ISO 273 medium holes of M6, M8, M10, M12, M16 as in any handbook: 6.6 9 11 13.5 17.5."""
    assert tap_drill("M10") == 8.5
    medium = {n: threads()[n].clearance[1] for n in ("M6", "M8", "M10", "M12", "M16")}
    assert medium == {"M6": 6.6, "M8": 9.0, "M10": 11.0, "M12": 13.5, "M16": 17.5}
    for thread in threads().values():
        assert thread.drill == pytest.approx(thread.nominal - thread.pitch, abs=0.13)
        assert list(thread.clearance) == sorted(thread.clearance)
        assert not thread.minor or thread.minor[0] <= thread.drill <= thread.minor[1]
    with pytest.raises(InputError, match="M11"):
        tap_drill("M11")
    assert [t.name for t in threads_in("4x M6, M10x1; NEMA17, M100 FORM8")] == ["M6", "M10x1"]


# --- lettering ----------------------------------------------------------------------


def letter_o(x: float) -> list[Contours]:
    return [stadium(x, 60, 20, 14, 90), stadium(x, 60, 14, 8, 90)]


def letter_a(x: float) -> list[Contours]:
    outer = polygon((x - 8, 50), (x - 5, 50), (x - 3, 56), (x + 3, 56), (x + 5, 50), (x + 8, 50),
                    (x + 1.5, 70), (x - 1.5, 70))  # fmt: skip
    return [outer, polygon((x - 2.2, 59), (x + 2.2, 59), (x, 66))]


def letter_l(x: float) -> list[Contours]:
    return [polygon((x - 6, 50), (x + 6, 50), (x + 6, 53), (x - 3, 53), (x - 3, 70), (x - 6, 70))]


def test_middles_of_letters_are_no_parts() -> None:
    found = find(PLATE, *letter_l(40), *letter_o(60), *letter_a(80), *letter_l(100), thickness=3.0)
    (part,) = found.parts
    assert len(part.contours) == 7
    assert len(part.islands) == 2
    assert kinds(found) == ["islands-fall-out"] * 2
    strokes = sum(
        abs(c.area[0]) for c in (*letter_l(0), letter_o(0)[0], letter_a(0)[0], *letter_l(0))
    )
    assert part.area == pytest.approx(200 * 120 - strokes)


def test_a_part_in_a_cut_out_is_no_letter() -> None:
    found = find(PLATE, rectangle(20, 20, 40, 40), rectangle(24, 24, 32, 32), circle(100, 60, 10),
                 circle(140, 60, 10), regular(170, 60, 10, 6), thickness=3.0)  # fmt: skip
    assert sum(p.count for p in found.parts) == 2
    assert kinds(found) == []


def test_rings_and_discs_cut_out_of_each_other_are_parts() -> None:
    """Four circles about one centre: depth decides, as in the hostile set's nested islands."""
    found = find(rectangle(0, 0, 100, 100), *(circle(50, 50, r) for r in (40, 30, 20, 10)))
    assert sorted(len(part.contours) for part in found.parts) == [1, 2, 2]
    assert kinds(found).count("symbol-not-cut") == 0
