"""Where shapes meet, their convex pieces and outward polygons, against shapely."""

import numpy as np
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from packing_parts import any_part, ring, star

from analyzer.geometry.contours import Contours
from analyzer.packing.bare import bare_part
from analyzer.packing.convex import convex_pieces
from analyzer.packing.demand import Demand, Spacing
from analyzer.packing.masks import Masks, minkowski, rastered
from analyzer.packing.outward import grown, metal_of
from analyzer.packing.separate import depth_of
from analyzer.packing.shapes import metals, shapes_of
from analyzer.packing.slide import Slider
from analyzer.parts.part import Part

quick = settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


@quick
@given(any_part(), st.floats(0.02, 1.0))
def test_outward_polygons_hold_all_metal_and_little_more(part: Part, tolerance: float) -> None:
    polygon = metal_of(part, tolerance)
    fine = shapely.Polygon(
        part.contours.ring(0, 1e-4),
        [part.contours.ring(row, 1e-4) for row in range(1, len(part.contours))],
    )
    if fine.is_valid:
        assert shapely.difference(fine, polygon).area <= 1e-3 * fine.length
        assert polygon.area - fine.area <= 1.1 * tolerance * fine.length + 1e-6


@quick
@given(any_part(), st.floats(0.5, 6.0))
def test_grown_polygons_keep_their_distance(part: Part, reach: float) -> None:
    metal = metal_of(part, 0.1)
    wide = grown(metal, reach, most=40, least_hole=20.0)
    assert wide.is_valid
    assert wide.contains_properly(metal)
    assert shapely.distance(wide.boundary, metal) >= reach - 1e-6


@quick
@given(any_part())
def test_convex_pieces_make_up_the_polygon(part: Part) -> None:
    polygon = grown(metal_of(part, 0.2), 2.5, most=60, least_hole=10.0)
    pieces = [shapely.Polygon(piece) for piece in convex_pieces(polygon)]
    assert all(piece.area >= 0.0 for piece in pieces)
    hulls = sum(shapely.convex_hull(piece).area for piece in pieces)
    assert abs(hulls - polygon.area) <= 1e-6 * polygon.area
    assert abs(shapely.union_all(pieces).area - polygon.area) <= 1e-6 * polygon.area


@quick
@given(any_part(), any_part(), st.sampled_from([0.0, 90.0, 180.0, 33.0]))
def test_masks_say_exactly_where_two_shapes_meet(one: Part, other: Part, turn: float) -> None:
    """Every step of the mask against the overlap of the two polygons by shapely."""
    parts = [one, other]
    demands = [Demand(0, 1, (0.0,)), Demand(1, 1, (turn,))]
    wide = metals(parts, demands, 3.0)
    shapes = [
        shape
        for row, (metal, demand) in enumerate(zip(wide, demands, strict=True))
        for shape in shapes_of(metal, row, demand, Spacing(3.0, 0.0))
    ]
    masks = Masks(shapes, 9.0)
    mask, back = masks.between(0, 1), Masks(shapes, 9.0).between(1, 0).flipped
    m, n = mask.meets.shape
    step = np.stack(np.meshgrid(np.arange(m), np.arange(n), indexing="ij"), axis=-1)
    step = (step.reshape(-1, 2) + mask.first) * 9.0
    moved = shapely.transform(np.full(len(step), shapes[1].polygon), lambda p: p)
    rings = [shapely.transform(p, lambda q, s=s: q + s) for p, s in zip(moved, step, strict=True)]
    common = shapely.area(shapely.intersection(shapes[0].polygon, np.array(rings)))
    meets = mask.meets.reshape(-1)
    length = shapes[0].polygon.length
    assert (common[~meets] <= 1e-6 * length).all()
    assert (common[meets] > 0.0).all()
    assert back.first == mask.first
    differ = (back.meets != mask.meets).reshape(-1)
    assert (common[differ] <= 1e-6 * length).all()  # they only touch there


def test_collinear_corners_a_rounding_error_apart_do_not_move_a_sum() -> None:
    """A bottom edge that dips by a last digit once moved the whole mask by two millimetres."""
    one = np.array([[0.0, 0.0], [2.5, 0.0], [265.0, -3e-14], [270.0, 2.0], [0.0, 40.0]])
    other = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 5.0], [0.0, 5.0]])
    points = minkowski([one], [other]).points
    assert np.allclose(points.min(axis=0), [0.0, 0.0])
    assert np.allclose(points.max(axis=0), [280.0, 45.0])
    corners = (one[:, None] + other[None]).reshape(-1, 2).round(9)
    hull = shapely.convex_hull(shapely.multipoints(corners))
    assert abs(shapely.Polygon(points).area - hull.area) < 1e-6


def test_depth_is_how_far_to_the_nearest_free_step() -> None:
    """Against the exact distance by all pairs: an octagon is at most 8 % off, and a cell."""
    grid = np.hypot(*np.meshgrid(np.arange(-20, 21), np.arange(-15, 16), indexing="ij"))
    meets = np.pad((grid < 14), 1)
    depth = depth_of(meets)
    free = np.argwhere(~meets)
    for at in np.argwhere(meets)[::37]:
        nearest = np.hypot(*(free - at).T).min()
        assert abs(depth[tuple(at)] - nearest) <= 0.09 * nearest + 1.0
    assert (depth[~meets] == 0.0).all()


def test_pushes_end_exactly_at_the_gap() -> None:
    parts = [ring(60, 45), star([30, 25, 30, 22, 28], [0.1, 0, 0, 0.1, 0])]
    demands = [Demand(0, 1, (0.0,)), Demand(1, 1, (0.0,))]
    wide = metals(parts, demands, 4.0)
    shapes = [shapes_of(w, i, demands[i], Spacing(4.0, 0.0))[0] for i, w in enumerate(wide)]
    start = np.array([[7.3, 11.1], [150.2, 40.7]])
    at = Slider(shapes).push([0, 1], start)
    assert at[0].tolist() == [0.0, 0.0]
    moved = [
        shapely.transform(s.polygon, lambda p, c=c: p + c) for s, c in zip(shapes, at, strict=True)
    ]
    assert shapely.distance(*moved) <= 1e-6
    assert shapely.intersection(*moved).area <= 1e-5
    assert (at <= start + 1e-9).all()


def test_closed_cut_outs_and_many_at_once_give_the_same_masks() -> None:
    """A square of 100 fits into no cut-out of 60, one of 40 does: steps are those of all pieces."""
    hole = Contours.circle(100, 100, 30).reversed()
    plate = Contours.join([Contours.from_points([[0, 0], [200, 0], [200, 200], [0, 200]]), hole])
    squares = [Contours.from_points([[0, 0], [a, 0], [a, a], [0, a]]) for a in (100.0, 40.0)]
    parts = [bare_part(plate), *map(bare_part, squares)]
    demands = [Demand(k, 1, (0.0,)) for k in range(3)]
    spacing = Spacing(0.0, 0.0)
    shapes = [
        shape
        for row, metal in enumerate(metals(parts, demands, 0.0))
        for shape in shapes_of(metal, row, demands[row], spacing)
    ]
    assert [shapes[0].holds(other) for other in shapes] == [False, False, True]
    assert len(shapes[0].solid) == 1 < len(shapes[0].pieces)
    together = Masks(shapes, 5.0)
    for moving in range(3):
        together.prepare(range(3), moving)
    for fixed in range(3):
        for moving in range(3):
            mask = together.between(fixed, moving)
            one, other = shapes[fixed], shapes[moving]
            sums = minkowski(one.pieces, [-piece for piece in other.pieces])
            every = rastered(sums, 5.0, np.array(mask.first), mask.meets.shape)
            assert (mask.meets == every).all(), (fixed, moving)
    assert not together.between(0, 2).meets.all()  # the small one may lie in the cut-out
