"""Micro-joints: how many, how wide, where, and the force that breaks them."""

import numpy as np
import pytest

from analyzer.effects.drop_data import drop_data, row_of
from analyzer.effects.micro_joints import micro_joints, shear_force
from analyzer.geometry.contours import Contours
from analyzer.parts.part import Part

EMPTY = Contours.empty()


def part_of(outline: Contours, marks: Contours = EMPTY, bends: Contours = EMPTY) -> Part:
    return Part("P1", 1, None, outline, marks, bends, (), (), (), (), ((0,),))


def rectangle(width: float, height: float) -> Contours:
    return Contours.from_points([[0, 0], [width, 0], [width, height], [0, height]])


@pytest.mark.outside(
    "Force that breaks a micro-joint [N]", "sheet-metal handbooks, 0.8 Rm b t, from memory"
)
@pytest.mark.parametrize(
    ("width", "thickness", "newton"), [(0.3, 1, 86), (0.4, 3, 346), (0.6, 6, 1037), (0.8, 10, 2304)]
)
def test_shear_force(width: float, thickness: float, newton: float) -> None:
    """0.8 Rm b t with Rm 360 N/mm2 of S235 (sheet-metal handbooks, from memory)."""
    assert shear_force(width, thickness, "mild-steel") == pytest.approx(newton, abs=0.5)


@pytest.mark.parametrize(
    ("thickness", "least", "most"),
    [(1, 0.2, 0.3), (2, 0.2, 0.3), (3, 0.3, 0.5), (5, 0.3, 0.5), (6, 0.5, 0.8), (10, 0.5, 0.8),
     (12, 0.8, 1.2), (15, 0.8, 1.2)],
)  # fmt: skip
def test_width_by_thickness(thickness: float, least: float, most: float) -> None:
    """Common practice, no source."""
    joints = micro_joints(part_of(rectangle(40, 40)), 40, 40, thickness, "mild-steel")
    assert (joints.least_mm, joints.most_mm) == (least, most)


def test_none_in_thick_plate() -> None:
    """Normally none above 12 to 15 mm: common practice, no source."""
    assert micro_joints(part_of(rectangle(40, 40)), 40, 40, 20, "mild-steel").count == 0
    assert row_of("micro-joint", 15.01) is None


def test_small_part_has_one_joint_of_scenario_force() -> None:
    """40 x 40 x 3: 0.3 to 0.5 mm, about 260 to 430 N."""
    joints = micro_joints(part_of(rectangle(40, 40)), 40, 40, 3, "mild-steel")
    assert joints.count == len(joints.places) == 1
    assert joints.force_n == pytest.approx((259.2, 432.0))
    assert joints.by_hand


def test_long_thin_part_has_two_on_opposite_long_edges() -> None:
    joints = micro_joints(part_of(rectangle(600, 45)), 45, 600, 4, "mild-steel")
    assert joints.count == 2
    (x0, y0), (x1, y1) = joints.places
    assert {y0, y1} == {0.0, 45.0}
    assert abs(x1 - x0) == pytest.approx(300.0)
    assert not joints.by_hand


def test_never_on_a_marked_or_bent_edge() -> None:
    """A mark along the lower long edge and a bend line over the upper one's middle."""
    outline = rectangle(120, 60)
    marks = Contours.from_points([[5, 2], [115, 2]], closed=False)
    bends = Contours.from_points([[60, 0], [60, 60]], closed=False)
    joints = micro_joints(part_of(outline, marks, bends), 60, 120, 3, "mild-steel")
    ((x, y),) = joints.places
    assert y > 10.0
    assert abs(x - 60.0) >= 5.0


def test_never_on_a_fillet_or_a_short_edge() -> None:
    """Round corners of R 10, and a step of 6 mm: every joint is on an edge of 50 and more."""
    b = np.tan(np.pi / 8)
    outline = Contours.from_points(
        [[10, 0], [90, 0], [100, 10], [100, 54], [94, 54], [94, 60], [84, 70], [10, 70], [0, 60],
         [0, 10]],
        [0, b, 0, 0, 0, b, 0, b, 0, b],
    )  # fmt: skip
    for thickness in (2.0, 8.0):
        for x, y in micro_joints(part_of(outline), 70, 100, thickness, "mild-steel").places:
            assert (20 <= x <= 80 and y in (0.0, 70.0)) or (15 <= y <= 55 and x in (0.0, 100.0))


def test_a_disc_is_held_too() -> None:
    joints = micro_joints(part_of(Contours.circle(5, 5, 20)), 40, 40, 3, "aluminium")
    ((x, y),) = joints.places
    assert np.hypot(x - 5, y - 5) == pytest.approx(20.0)


def test_every_value_has_a_source_mark() -> None:
    content = drop_data()
    marks = set(content["marks"])
    for name, table in content.items():
        if name == "marks":
            continue
        rows = [*table.get("rows", ()), *table.get("constants", {}).values()]
        rows += [v for k, v in table.items() if k not in ("rows", "constants")]
        assert rows
        assert {row["source"] for row in rows} <= marks, name
