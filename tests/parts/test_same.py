"""Same parts and other hands: what moving, turning, mirroring and redrawing must give."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geometry.shapes import (
    CLOSED,
    L_SHAPE,
    MIRROR,
    arc,
    circle_of_arcs,
    line,
    polygon,
    rectangle,
    regular,
    rotation,
    stadium,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from parts.drawings import drawing

from analyzer.geometry.contours import Contours
from analyzer.parts.find import find_parts
from analyzer.parts.part import PartSet

L_WITH_HOLE = Contours.join([L_SHAPE, Contours.circle(170, 30, 5.5)])
IRREGULAR = polygon((0, 0), (50, 0), (60, 20), (30, 45), (5, 30))
ASYMMETRIC = {
    "L with hole": L_WITH_HOLE,
    "irregular": IRREGULAR,
    "disc with holes off an axis": Contours.join(
        [Contours.circle(0, 0, 40), Contours.circle(20, 0, 4), Contours.circle(0, 25, 4),
         Contours.circle(-28, 3, 4)]
    ),
    "smooth comma": Contours.from_points(
        [(0, 0), (40, 0), (60, 30), (10, 50)], [0.5, 0.9, 0.3, 0.7]
    ),
    "slotted": Contours.join([rectangle(0, 0, 90, 40), stadium(25, 20, 30, 6, 25)]),
    "with a slit": Contours.join([rectangle(0, 0, 90, 40), line((10, 10), (30, 25))]),
}  # fmt: skip
SYMMETRIC = {
    "square": rectangle(0, 0, 30, 30),
    "circle": Contours.circle(0, 0, 20),
    "ring": Contours.join([Contours.circle(0, 0, 20), Contours.circle(0, 0, 8)]),
    "hexagon bore": Contours.join([Contours.circle(0, 0, 25), regular(0, 0, 15.588, 6)]),
    "stadium": stadium(0, 0, 60, 20),
    "pin ring": Contours.join(
        [Contours.circle(0, 0, 23.8), *(
            Contours.circle(20 * math.cos(a), 20 * math.sin(a), 0.8)
            for a in np.linspace(0, 2 * math.pi, 38, endpoint=False)
        )]
    ),
}  # fmt: skip


def parts_of(*shapes: Contours, **more: list[Contours]) -> PartSet:
    return find_parts(drawing(*shapes, **more), 5.0)


def test_the_handed_parts_of_the_practitioner() -> None:
    """As is, turned by 90 degrees, mirrored: 2 + 1, never 3 of one. practice.md 5, row 1."""
    found = parts_of(
        L_WITH_HOLE, L_WITH_HOLE.moved(rotation(90), (500, 0)), L_WITH_HOLE.moved(MIRROR, (900, 0))
    )
    first, second = found.parts
    assert (first.id, first.count, first.other_hand_of) == ("P1", 2, None)
    assert (second.id, second.count, second.other_hand_of) == ("P2", 1, "P1")
    for part in found.parts:
        assert part.area == pytest.approx(16_705, abs=0.05)
        assert part.cut_length == pytest.approx(714.56, abs=0.005)
    (fact,) = found.facts
    assert fact.kind == "left-right-pair"
    assert "P1 (2 drawn)" in fact.message
    assert "P2 (1 drawn)" in fact.message


turns = st.floats(-180, 180)


@settings(max_examples=25, deadline=None)
@given(name=st.sampled_from(sorted(ASYMMETRIC)), a=turns, b=turns, c=turns)
def test_turned_ones_are_the_same_and_mirrored_ones_the_other_hand(
    name: str, a: float, b: float, c: float
) -> None:
    shape = ASYMMETRIC[name]
    found = parts_of(
        shape.moved(rotation(a), (0, 0)),
        shape.moved(rotation(b), (1000, 10)),
        shape.moved(rotation(c) @ MIRROR, (2000, 3000)),
    )
    assert [p.count for p in found.parts] == [2, 1]
    assert [p.other_hand_of for p in found.parts] == [None, "P1"]


@settings(max_examples=25, deadline=None)
@given(name=st.sampled_from(sorted(SYMMETRIC)), a=turns, b=turns, c=turns)
def test_a_part_like_its_mirror_image_has_no_other_hand(
    name: str, a: float, b: float, c: float
) -> None:
    shape = SYMMETRIC[name]
    found = parts_of(
        shape.moved(rotation(a)),
        shape.moved(rotation(b), (300, 0)),
        shape.moved(rotation(c) @ MIRROR, (0, 300)),
    )
    assert [p.count for p in found.parts] == [3]
    assert found.facts == ()


def redrawn(shape: Contours, first: int, cuts: int) -> Contours:
    """The same closed contour from another start, each segment split into equal pieces."""
    order = np.roll(np.arange(len(shape.bulges)), -first)
    index = np.repeat(order, cuts)
    points = shape.points_at(index, np.tile(np.arange(cuts) / cuts, len(order)))
    return Contours.from_points(points, np.tan(np.arctan(shape.bulges[index]) / cuts))


@pytest.mark.parametrize("name", ["L", "stadium", "rounded", "crescent", "bent inwards"])
def test_start_splits_and_direction_do_not_matter(name: str) -> None:
    shape = CLOSED[name]
    found = parts_of(
        shape,
        redrawn(shape, 1, 3).moved(np.eye(2), (300, 0)),
        redrawn(shape, 2, 2).reversed().moved(rotation(41), (0, 400)),
    )
    assert [p.count for p in found.parts] == [3]


def test_circles_of_two_three_and_four_arcs_are_the_same() -> None:
    disc = [circle_of_arcs(100 * k, 0, 20, k, 7 * k) for k in (2, 3, 4)]
    holes = [circle_of_arcs(100 * k + 9, 0, 4, 6 - k, 5 * k) for k in (2, 3, 4)]
    assert [p.count for p in parts_of(*disc, *holes).parts] == [3]


@pytest.mark.parametrize("noise", [0.0, 1e-4, 4e-3])
def test_rounded_coordinates_are_still_the_same_part(noise: float) -> None:
    chance = np.random.default_rng(5)
    copies = []
    for k in range(6):
        turned = IRREGULAR.moved(rotation(50.0 * k), (100.0 * k, 0))
        copies.append(Contours.from_points(turned.starts + chance.uniform(-noise, noise, (5, 2))))
    assert [p.count for p in parts_of(*copies).parts] == [6]


def test_small_differences_make_different_parts() -> None:
    """0.1 mm in a hole, its place, a corner, a slit: none of them is the same part."""
    plate, hole = rectangle(0, 0, 90, 40), Contours.circle
    variants = [
        [plate, hole(20, 15, 4)], [plate, hole(20, 15, 4.1)], [plate, hole(20.1, 15, 4)],
        [rectangle(0, 0, 90.1, 40), hole(20, 15, 4)], [plate, hole(20, 15, 4), hole(70, 15, 4)],
        [plate, regular(20, 15, 4, 6)], [plate, hole(20, 15, 4), line((50, 10), (60, 10))],
    ]  # fmt: skip
    moved = [
        Contours.join(shapes).moved(np.eye(2), (0, 100 * k)) for k, shapes in enumerate(variants)
    ]
    found = parts_of(*moved)
    assert [p.count for p in found.parts] == [1] * len(variants)
    assert all(p.other_hand_of is None for p in found.parts)


def test_marks_tell_parts_apart_but_make_no_other_hand() -> None:
    plate = rectangle(0, 0, 90, 40)
    found = parts_of(
        plate, plate.moved(np.eye(2), (100, 0)), plate.moved(np.eye(2), (200, 0)),
        marks=[line((10, 10), (20, 10)), line((110, 10), (120, 10)), line((210, 30), (215, 20))],
    )  # fmt: skip
    assert [p.count for p in found.parts] == [2, 1]
    assert [p.other_hand_of for p in found.parts] == [None, None]


def test_left_and_right_stay_a_pair_when_only_one_is_marked() -> None:
    found = parts_of(IRREGULAR, IRREGULAR.moved(MIRROR, (200, 0)), marks=[line((20, 10), (30, 10))])
    assert [p.other_hand_of for p in found.parts] == [None, "P1"]


def test_several_pairs_of_hands_are_kept_apart() -> None:
    other = polygon((0, 0), (50, 0), (60, 20), (30, 45), (5, 31))
    found = parts_of(
        IRREGULAR, other.moved(np.eye(2), (100, 0)), IRREGULAR.moved(MIRROR, (300, 0)),
        other.moved(MIRROR, (400, 0)), other.moved(rotation(33), (500, 100)),
    )  # fmt: skip
    assert [(p.count, p.other_hand_of) for p in found.parts] == [
        (1, None), (2, None), (1, "P1"), (1, "P2"),
    ]  # fmt: skip


def test_the_first_copy_has_least_y_then_x() -> None:
    a = rectangle(0, 0, 30, 20)
    found = parts_of(
        a.moved(np.eye(2), (50, 10)), a.moved(np.eye(2), (200, 1e-12)), a.moved(np.eye(2), (90, 0)),
        Contours.circle(120, 5, 2),
    )  # fmt: skip
    assert found.parts[0].count == 3
    assert found.parts[0].contours.box[0][:2] == pytest.approx([90, 0])
    assert found.parts[0].copies == ((2,), (1,), (0,))
    assert found.parts[1].contours.box[0][:2] == pytest.approx([118, 3])


def test_ring_parts_and_open_arcs_as_slits() -> None:
    ring = Contours.join([Contours.circle(0, 0, 40), arc(0, 0, 25, 10, 100)])
    found = parts_of(
        ring, ring.moved(rotation(77), (100, 0)), ring.moved(MIRROR, (200, 0)),
        ring.moved(rotation(5) @ MIRROR, (300, 0)),
    )  # fmt: skip
    assert [p.count for p in found.parts] == [4]  # an arc is its own mirror image
