"""Holes, slots, corners and webs against closed forms and what the drawing says."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geometry.shapes import (
    ARC_90,
    L_SHAPE,
    circle_of_arcs,
    line,
    polygon,
    rectangle,
    regular,
    rotation,
    rounded,
    stadium,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from parts.drawings import drawing

from analyzer.geometry.contours import Contours
from analyzer.parts.corners import find_corners
from analyzer.parts.find import find_parts
from analyzer.parts.part import Corner, Part, Slot


def only_part(*shapes: Contours, thickness: float = 5.0) -> Part:
    (part,) = find_parts(drawing(*shapes), thickness).parts
    return part


def corners(shape: Contours, thickness: float = 5.0) -> list[Corner]:
    return find_corners(shape, np.zeros(1, int), thickness)[0]


# --- the order of contours --------------------------------------------------


def test_outline_first_then_cut_outs_then_slits_whichever_way_they_are_drawn() -> None:
    shapes = [
        line((10, 50), (20, 50)), Contours.circle(30, 30, 5), rectangle(0, 0, 100, 60),
        rectangle(60, 20, 20, 10).reversed(),
    ]  # fmt: skip
    for reverse in (False, True):
        part = only_part(*(s.reversed() if reverse else s for s in shapes))
        area = 6000 - 25 * math.pi - 200
        assert np.sign(part.contours.area).tolist() == [1, -1, -1, 0]
        assert part.area == pytest.approx(area)
        assert part.copies == ((2, 1, 3, 0),)
        assert part.pierces == 4
        assert (part.width, part.height) == pytest.approx((100, 60))


def test_loose_lines_marks_and_bends_go_where_they_lie() -> None:
    """A bend line across a window belongs to the part; a line outside to none."""
    plate, window = rectangle(0, 0, 100, 60), rectangle(40, 10, 20, 40)
    other = rectangle(0, 100, 100, 60)
    found = find_parts(
        drawing(
            plate, window, other, line((200, 0), (210, 0)), line((45, 20), (55, 20)),
            line((5, 5), (10, 5)), marks=[line((10, 110), (20, 110)), line((300, 0), (301, 0))],
            bends=[line((0, 30), (100, 30))],
        ),
        5.0,
    )  # fmt: skip
    first, second = found.parts
    assert len(first.contours) == 3
    assert len(first.bends) == 1
    assert len(first.marks) == 0
    assert len(second.marks) == 1
    assert len(second.bends) == 0
    assert found.loose.box.tolist() == [[200, 0, 210, 0], [45, 20, 55, 20]]  # one in scrap


# --- holes --------------------------------------------------------------------


def test_holes_of_arcs_polygons_and_chords() -> None:
    part = only_part(
        rectangle(-50, -50, 100, 100), Contours.circle(-30, -30, 5.5),
        circle_of_arcs(30, -30, 2.117, 4, 12), regular(-30, 30, 2.5, 36), regular(0, 0, 4, 12, 3),
        regular(30, 30, 6, 6), rectangle(-5, -40, 10, 10), regular(0, 35, 4, 7),
    )  # fmt: skip
    assert [h.diameter for h in part.holes] == pytest.approx([11.0, 4.234, 5.0, 8.0], abs=1e-6)
    assert [(h.x, h.y) for h in part.holes] == [
        pytest.approx(p, abs=1e-6) for p in [(-30, -30), (30, -30), (-30, 30), (0, 0)]
    ]
    assert [h.row for h in part.holes] == [1, 2, 3, 4]
    assert part.slots == ()
    assert not {c.row for c in part.corners} & {1, 2, 3, 4}  # a round hole has no corners


@settings(max_examples=30, deadline=None)
@given(
    radius=st.floats(0.5, 200),
    x=st.floats(-1e5, 1e5),
    arcs=st.integers(2, 9),
    turn=st.floats(0, 360),
)
def test_the_diameter_of_a_true_circle_is_exact(
    radius: float, x: float, arcs: int, turn: float
) -> None:
    hole = circle_of_arcs(x, 1000, radius, arcs, turn)
    part = only_part(rectangle(x - 300, 700, 600, 600), hole)
    (found,) = part.holes
    assert found.diameter == pytest.approx(2 * radius, abs=1e-6)
    assert (found.x, found.y) == pytest.approx((x, 1000), abs=1e-6)


# --- slots --------------------------------------------------------------------


def slots(*shapes: Contours) -> tuple[Slot, ...]:
    return only_part(rectangle(-200, -200, 400, 400), *shapes).slots


@settings(max_examples=30, deadline=None)
@given(
    length=st.floats(12, 150), share=st.floats(0.05, 0.6), turn=st.floats(0, 179),
    kind=st.sampled_from(["stadium", "rectangle", "rounded"]),
)  # fmt: skip
def test_slots_have_the_width_and_length_they_were_drawn_with(
    length: float, share: float, turn: float, kind: str
) -> None:
    width = share * length
    shape = {
        "stadium": stadium(0, 0, length, width),
        "rectangle": rectangle(-length / 2, -width / 2, length, width),
        "rounded": rounded(-length / 2, -width / 2, length, width, width / 4),
    }[kind]
    (slot,) = slots(shape.moved(rotation(turn), (30, -20)))
    assert slot.width == pytest.approx(width, abs=1e-4)
    assert slot.length == pytest.approx(length, abs=1e-3)
    assert (slot.x, slot.y) == pytest.approx((30, -20), abs=1e-3)
    apart = abs(slot.angle - turn) % 180
    assert min(apart, 180 - apart) < 0.1


def test_what_is_no_slot() -> None:
    assert slots(rectangle(0, 0, 20, 15), regular(60, 60, 10, 6), Contours.circle(-60, 0, 9)) == ()


@pytest.mark.outside("Curved slot: width and length [mm]", "closed form")
def test_a_curved_slot_has_the_width_of_its_strip() -> None:
    """Between radii 47 and 53, 120 degrees, square ends: 6 wide, 104.7 long in the middle."""
    bulge = math.tan(math.radians(30))
    a = np.radians([0, 120])
    outer, inner = ([(r * math.cos(t), r * math.sin(t)) for t in a] for r in (53, 47))
    shape = Contours.from_points([outer[0], outer[1], inner[1], inner[0]], [bulge, 0, -bulge, 0])
    (slot,) = slots(shape)
    assert slot.width == pytest.approx(6.0, abs=1e-3)
    assert slot.length == pytest.approx(50 * math.radians(120), abs=1e-3)


# --- corners --------------------------------------------------------------------


def test_corners_of_the_l() -> None:
    found = corners(L_SHAPE)
    assert [c.angle for c in found] == pytest.approx([90, 90, 90, 270, 90, 90])
    assert [c.turn for c in found] == pytest.approx([90] * 6)
    assert [c.radius for c in found] == [0] * 6
    assert [c.position for c in found] == pytest.approx([0, 200, 260, 400, 480, 540])


def test_the_same_corners_wherever_a_contour_starts() -> None:
    expected = sorted((round(c.x, 6), round(c.y, 6), c.angle) for c in corners(L_SHAPE))
    for start in range(6):
        shape = polygon(*np.roll(L_SHAPE.starts, -start, axis=0))
        found = corners(shape)
        assert sorted((round(c.x, 6), round(c.y, 6), c.angle) for c in found) == expected
        lengths = np.hypot(*(shape.points_at([0], [0.0])[0] - (found[0].x, found[0].y)))
        assert lengths == pytest.approx(found[0].position)


@pytest.mark.parametrize("radius", [0.05, 0.2, 0.3, 1.0, 1.9])
def test_a_small_fillet_is_one_corner_with_its_radius(radius: float) -> None:
    found = corners(rounded(0, 0, 50, 30, radius))
    assert [c.turn for c in found] == pytest.approx([90] * 4)
    assert [c.angle for c in found] == pytest.approx([90] * 4)
    assert [c.radius for c in found] == pytest.approx([radius] * 4)
    inset = radius * (1 - math.sqrt(0.5))
    assert {(round(c.x, 3), round(c.y, 3)) for c in found} == {
        (round(x, 3), round(y, 3)) for x in (inset, 50 - inset) for y in (inset, 30 - inset)
    }


@pytest.mark.parametrize(("thickness", "count"), [(5.0, 0), (20.0, 4)])
def test_a_large_fillet_is_a_corner_only_where_the_sheet_is_thick(
    thickness: float, count: int
) -> None:
    """3 mm: more than the 2 mm any gas asks for in thin sheet, less than 0.2 t at 20 mm."""
    assert len(corners(rounded(0, 0, 50, 30, 3.0), thickness)) == count


def with_micro_fillets(radius: float, pieces: int, smooth: bool) -> Contours:
    """A 50 x 30 rectangle whose corners are short chords on a small arc."""
    arc = rounded(0, 0, 50, 30, radius)
    chords = np.tan(np.arctan(arc.bulges))
    index = np.repeat(np.arange(8), np.where(chords == 0, 1, pieces))
    within = np.concatenate([np.arange(n) for n in np.where(chords == 0, 1, pieces)])
    share = within / np.where(chords == 0, 1, pieces)[index]
    inner = (within > 0) & smooth
    return Contours.from_points(arc.points_at(index, share), smooth=inner)


@pytest.mark.parametrize("smooth", [False, True])
def test_ten_micro_segments_are_one_corner(smooth: bool) -> None:
    found = corners(with_micro_fillets(0.2, 10, smooth))
    assert [c.turn for c in found] == pytest.approx([90] * 4, abs=1e-6)
    assert [c.radius for c in found] == pytest.approx([0.2] * 4, rel=0.1)


def test_micro_segments_of_a_large_curve_are_no_corners() -> None:
    """A curve of radius 20 in 2000 chords, a coarse one in 36, a spline's smooth joints."""
    assert corners(regular(0, 0, 20, 2000)) == []
    assert corners(regular(0, 0, 20, 36)) == []
    assert corners(with_micro_fillets(8.0, 40, False)) == []
    coarse = regular(0, 0, 20, 10)  # 36 degrees a joint, but inside a smooth curve
    flagged = Contours.from_points(coarse.starts, smooth=np.ones(10, bool))
    assert corners(flagged) == []
    assert len(corners(coarse)) == 10


def test_a_tip_an_inside_corner_and_a_reflex_one() -> None:
    tip = polygon((0, 0), (100, 10), (0, 20))
    angles = [c.angle for c in corners(tip)]
    sharp = 2 * math.degrees(math.atan(0.1))
    assert angles == pytest.approx([90 - sharp / 2, sharp, 90 - sharp / 2])
    cut_out = corners(rectangle(0, 0, 10, 10).reversed())  # clockwise: metal around it
    assert [c.angle for c in cut_out] == pytest.approx([270] * 4)


def test_a_step_where_a_gap_was_closed_is_no_corner() -> None:
    stepped = polygon((0, 0), (50, 0), (50, 0.05), (100, 0.05), (100, 50), (0, 50))
    assert len(corners(stepped)) == 4


@pytest.mark.parametrize("leg", [0.006, 0.06])
def test_a_leg_within_a_jog_is_no_tip(leg: float) -> None:
    """A side goes a hair too far, back, and on a little to the left: four corners, no tip."""
    tip, back = (60.0 + leg, 0.0), (60.0, -0.02 * leg)
    stepped = polygon((0, 0), tip, back, (100, 4), (100, 60), (0, 60))
    slope = math.degrees(math.atan(0.1))
    angles = [90.0, 90.0 + slope, 90.0, 90.0]
    assert [c.angle for c in corners(stepped)] == pytest.approx(angles, abs=0.1)


def test_slot_ends_are_single_corners() -> None:
    ends = corners(stadium(0, 0, 30, 2).reversed())
    assert [c.turn for c in ends] == pytest.approx([180, 180])
    assert [c.radius for c in ends] == pytest.approx([1, 1])
    slit_ends = corners(rectangle(0, 0, 30, 0.3).reversed())
    assert [c.turn for c in slit_ends] == pytest.approx([180, 180])


def test_corners_of_open_lines() -> None:
    zigzag = line((0, 0), (10, 0), (0, 0.5), (10, 20))
    found = corners(zigzag)
    assert len(found) == 2
    assert all(c.angle < 180 for c in found)
    fillet = Contours.from_points(
        [(0, 0), (5, 0), (5.2, 0.2), (5.2, 9)], [0, ARC_90, 0], closed=False
    )
    (corner,) = corners(fillet)
    assert corner.turn == pytest.approx(90)
    assert corner.position == pytest.approx(5 + 0.1 * math.pi / 2)


# --- webs -----------------------------------------------------------------------


@pytest.mark.outside("Webs between holes and to the edge [mm]", "closed form")
def test_webs_between_holes_and_to_the_edge() -> None:
    """Two 30 mm holes 8 mm apart, 20 mm plate; one of them 12 mm from the edge."""
    part = only_part(
        rectangle(0, 0, 200, 100), Contours.circle(60, 50, 15), Contours.circle(98, 50, 15),
        Contours.circle(120, 20, 8), thickness=20.0,
    )  # fmt: skip
    found = {w.rows: w for w in part.webs}
    assert found[1, 2].width == pytest.approx(8.0)
    assert (found[1, 2].x, found[1, 2].y) == pytest.approx((79, 50))
    assert found[0, 3].width == pytest.approx(12.0)
    assert (found[0, 3].x, found[0, 3].y) == pytest.approx((120, 6))
    diagonal = math.hypot(22, 30) - 23
    assert found[2, 3].width == pytest.approx(diagonal)
    assert set(found) == {(1, 2), (0, 3), (2, 3)}


def test_no_web_across_a_third_hole() -> None:
    """Three in a row: the outer two are no neighbours; reach 15 mm would hold them."""
    holes = [Contours.circle(20 + 6 * k, 20, 2) for k in range(3)]
    part = only_part(rectangle(0, 0, 60, 40), *holes, thickness=10.0)
    assert [w.rows for w in part.webs] == [(1, 2), (2, 3)]
    assert [w.width for w in part.webs] == pytest.approx([2, 2])


def test_thin_sheet_lists_gaps_up_to_3_mm() -> None:
    holes = [Contours.circle(20, 20, 2), Contours.circle(27, 20, 2), Contours.circle(34.2, 20, 2)]
    part = only_part(rectangle(0, 0, 60, 40), *holes, thickness=1.0)
    assert [w.width for w in part.webs] == pytest.approx([3.0])


def test_a_slit_from_the_edge_leaves_no_web_there() -> None:
    slit = line((0, 20), (30, 20))
    part = only_part(rectangle(0, 0, 60, 40), slit, Contours.circle(34, 20, 2))
    assert [(w.rows, round(w.width, 9)) for w in part.webs] == [((1, 2), 2.0)]


def test_webs_belong_to_their_own_part() -> None:
    found = find_parts(drawing(rectangle(0, 0, 20, 20), rectangle(21, 0, 30, 20)), 5.0)
    assert all(part.webs == () for part in found.parts)
