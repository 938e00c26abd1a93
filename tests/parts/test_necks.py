"""Necks: dumbbells, fingers, bites and tongues are found; corners, tips and nubs are not."""

import math
import time

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shared import CORPUS, needs_corpus

from analyzer.drawing.reading import read_drawing
from analyzer.geometry.contours import Contours, Floats
from analyzer.parts.find import find_parts
from analyzer.parts.necks import find_necks, neck_reach
from analyzer.parts.part import Neck, Part

PLATE = [[0, 0], [100, 0], [100, 50], [0, 50]]
DUMBBELL = [[0, 0], [40, 0], [40, 19], [60, 19], [60, 0], [100, 0], [100, 40], [60, 40], [60, 21],
            [40, 21], [40, 40], [0, 40]]  # fmt: skip
FINGER = [[0, 0], [100, 0], [100, 50], [52, 50], [52, 70], [50, 70], [50, 50], [0, 50]]


def necks_of(outline: Contours, thickness: float, *cut_outs: Contours) -> list[Neck]:
    """Return the necks of one part: outline and cut-outs in any sense."""
    rings = [outline if outline.area[0] > 0.0 else outline.reversed()]
    rings += [c.reversed() if c.area[0] > 0.0 else c for c in cut_outs]
    contours = Contours.join(rings)
    rows = np.arange(len(contours))
    return [neck for _, neck in find_necks(contours, rows, np.zeros(len(rows), int), thickness)]


def points(ring: list[list[float]]) -> Contours:
    return Contours.from_points(ring)


def gear(module: float, teeth: int, flank: int = 12) -> Contours:
    """Return a spur gear, pressure angle 20 degrees: involute flanks, addendum m, dedendum 1.25 m.

    Half thickness on the pitch circle pi / 2 z; the involute by inv a = tan a - a (ISO 21771).
    """
    r = module * teeth / 2.0
    base, tip, root = r * math.cos(math.radians(20.0)), r + module, r - 1.25 * module
    half = math.pi / (2.0 * teeth) + math.tan(math.radians(20.0)) - math.radians(20.0)
    radius = np.linspace(max(base, root), tip, flank)
    at = np.arccos(np.clip(base / radius, -1.0, 1.0))
    off = half - (np.tan(at) - at)
    if root < base:
        radius, off = np.append(root, radius), np.append(off[0], off)
    middle = 2.0 * np.pi * np.arange(teeth) / teeth
    angle = np.concatenate((-off, off[::-1]))
    both = np.concatenate((radius, radius[::-1]))
    a = (middle[:, None] + angle).ravel()
    rr = np.tile(both, teeth)
    return Contours.from_points(np.column_stack((rr * np.cos(a), rr * np.sin(a))))


# --- found ------------------------------------------------------------------------------


@pytest.mark.outside("Neck of a dumbbell [mm]", "as drawn")
def test_dumbbell() -> None:
    (neck,) = necks_of(points(DUMBBELL), 5.0)
    assert (neck.x, neck.y, neck.width, neck.row) == pytest.approx((50.0, 20.0, 2.0, 0))


def test_finger_and_its_middle() -> None:
    """One opening's residue with no second piece: a count of pieces would miss it."""
    (neck,) = necks_of(points(FINGER), 5.0)
    assert (neck.x, neck.y, neck.width) == pytest.approx((51.0, 60.0, 2.0))


@pytest.mark.outside("Metal between two round bites [mm]", "closed form")
def test_between_two_round_bites() -> None:
    """Arcs of bulge -0.9 over chords of 20 reach 9 deep: 20 - 2 x 9 of metal is left."""
    plate = [[0, 0], [30, 0], [50, 0], [80, 0], [80, 20], [50, 20], [30, 20], [0, 20]]
    bites = Contours.from_points(plate, [0, -0.9, 0, 0, 0, -0.9, 0, 0])
    (neck,) = necks_of(bites, 5.0)
    assert (neck.x, neck.y) == pytest.approx((40.0, 10.0), abs=0.6)
    assert neck.width == pytest.approx(2.0, abs=0.01)


def test_between_two_saw_cuts() -> None:
    """Two notches 0.4 wide from both sides leave 2: each faces the other over 0.4 only."""
    ring = [[0, 0], [40, 0], [40, 14], [40.4, 14], [40.4, 0], [80, 0], [80, 30], [40.4, 30],
            [40.4, 16], [40, 16], [40, 30], [0, 30]]  # fmt: skip
    (neck,) = necks_of(points(ring), 5.0)
    assert (neck.x, neck.y, neck.width) == pytest.approx((40.2, 15.0, 2.0))


def test_tongue_in_a_cut_out() -> None:
    """A U-shaped slot 3 wide holds a tongue of 2: its metal hangs on the closed end."""
    slot = [[20, 10], [70, 10], [70, 13], [23, 13], [23, 15], [70, 15], [70, 18], [20, 18]]
    (neck,) = necks_of(points(PLATE), 5.0, points(slot))
    assert neck.row == 1
    assert neck.width == pytest.approx(2.0)
    assert neck.y == pytest.approx(14.0)


def test_comb_of_fingers() -> None:
    ring = [[0.0, 0.0], [400.0, 0.0]]
    for k in range(100):
        x = 400.0 - 4.0 * k
        ring += [[x - 1, 20], [x - 1, 30], [x - 3, 30], [x - 3, 20]]
    found = necks_of(points(ring), 5.0)
    assert len(found) == 100
    assert {round(neck.width, 6) for neck in found} == {2.0}


# --- not found ----------------------------------------------------------------------------


@pytest.mark.parametrize("thickness", [1.0, 5.0, 12.0, 25.0])
def test_plain_and_rounded_plates(thickness: float) -> None:
    b = math.tan(math.pi / 8)
    rounded = Contours.from_points(
        [[1, 0], [99, 0], [100, 1], [100, 49], [99, 50], [1, 50], [0, 49], [0, 1]],
        [0, b, 0, b, 0, b, 0, b],
    )
    assert not necks_of(points(PLATE), thickness)
    assert not necks_of(rounded, thickness)
    assert not necks_of(Contours.circle(0, 0, 30), thickness)


@pytest.mark.parametrize("angle", [15.0, 20.0, 30.0, 45.0, 60.0, 90.0])
@pytest.mark.parametrize("radius", [0.0, 0.5, 2.0])
def test_tips_sharp_and_rounded(angle: float, radius: float) -> None:
    """A wedge of 100 long; its tip is the business of tip-too-sharp."""
    half = math.radians(angle) / 2.0
    long = np.array([math.cos(half), math.sin(half)]) * 100.0
    if radius == 0.0:
        wedge = Contours.from_points([[0, 0], long * [1, -1], long])
    else:
        away = radius / math.tan(half) / 100.0
        bulge = math.tan((math.pi - 2.0 * half) / 4.0)
        wedge = Contours.from_points(
            [long * away * [1, -1], long * [1, -1], long, long * away], [0, 0, 0, bulge]
        )
    assert not necks_of(wedge, 10.0)


def test_a_nub_shorter_than_wide_is_none() -> None:
    nub = [[0, 0], [100, 0], [100, 50], [52, 50], [52, 51], [50, 51], [50, 50], [0, 50]]
    assert not necks_of(points(nub), 5.0)


def test_a_slit_between_does_not_count_as_metal() -> None:
    """Two fingers of 2 with a slit of 0.3 between: 2 necks of 2, none of 4.3."""
    ring = [[0, 0], [60, 0], [60, 20], [34.3, 20], [34.3, 40], [32.3, 40], [32.3, 20], [32, 20],
            [32, 40], [30, 40], [30, 20], [0, 20]]  # fmt: skip
    assert [round(n.width, 6) for n in necks_of(points(ring), 10.0)] == [2.0, 2.0]


@pytest.mark.parametrize(("module", "teeth", "thickness"), [(3, 15, 10), (5, 12, 15), (4, 24, 8)])
def test_gears_whose_teeth_stand(module: float, teeth: int, thickness: float) -> None:
    """No chord across a tooth is square to both flanks, or teeth are wider than the reach."""
    assert not necks_of(gear(module, teeth), thickness)


def test_fine_gear_in_thick_sheet_is_a_row_of_fingers() -> None:
    """Module 2, 20 teeth, 5 mm: at the root, below the base circle, flanks run parallel."""
    found = necks_of(gear(2.0, 20), 5.0)
    assert len(found) == 20
    half = math.pi / 40 + math.tan(math.radians(20)) - math.radians(20)
    root = 20.0 - 2.5
    assert found[0].width == pytest.approx(2 * root * math.sin(half), rel=0.03)


# --- properties ------------------------------------------------------------------------


@given(
    st.floats(0.0, 360.0), st.booleans(), st.floats(-2e4, 2e4), st.sampled_from([DUMBBELL, FINGER])
)
@settings(max_examples=40, deadline=None)
def test_turning_moving_and_mirroring_change_nothing(
    turn: float, mirror: bool, shift: float, ring: list[list[float]]
) -> None:
    a = math.radians(turn)
    matrix = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    if mirror:
        matrix = matrix @ np.diag([-1.0, 1.0])
    (before,) = necks_of(points(ring), 5.0)
    (after,) = necks_of(points(ring).moved(matrix, (shift, 1.5 * shift)), 5.0)
    assert after.width == pytest.approx(before.width, abs=1e-6)
    wanted = matrix @ (before.x, before.y) + np.array([shift, 1.5 * shift])
    np.testing.assert_allclose((after.x, after.y), wanted, atol=1e-5)


@given(st.floats(0.3, 3.6), st.floats(3.0, 30.0), st.integers(2, 40))
@settings(max_examples=40, deadline=None)
def test_width_of_a_finger_in_any_pieces(width: float, length: float, pieces: int) -> None:
    if length < 1.2 * width:
        length = 1.2 * width
    up = np.linspace(50.0, 50.0 + length, pieces + 1)
    right = [[50.0 + width, y] for y in up]
    left = [[50.0, y] for y in up[::-1]]
    ring = [[0, 0], [100, 0], [100, 50], *right, *left, [0, 50]]
    (neck,) = necks_of(points(ring), 5.0)
    assert neck.width == pytest.approx(width, abs=1e-6)


def test_reach_is_above_every_limit_of_ours() -> None:
    from analyzer.rules.limits import load_limits

    limits = load_limits({}).rules["neck-too-thin"]
    for t in (0.5, 1.0, 3.0, 10.0, 25.0):
        most = max(row["ok"] for row in limits.rows) * t
        assert neck_reach(t) >= max(most, limits.constants["least_mm"].value)


# --- combs, against an opening by another library -----------------------------------------


FINGERS = st.lists(
    st.tuples(
        st.floats(0.4, 8.0).filter(lambda w: abs(w - 3.75) > 0.05),  # not within 1 % of the reach
        st.floats(1.6, 6.0), st.floats(0.5, 6.0),
    ),
    min_size=1, max_size=7,
)  # fmt: skip


@pytest.mark.outside("Fingers of random combs an opening takes away", "shapely, opening")
@given(FINGERS, st.floats(-25.0, 25.0), st.floats(0.0, 360.0), st.booleans())
@settings(max_examples=60, deadline=None)
def test_combs_against_an_opening(
    fingers: list[tuple[float, float, float]], lean: float, turn: float, inward: bool
) -> None:
    """Leaning fingers on a plate, or tongues into a cut-out: width, length / width, gap before.

    What a disc of the reach cannot enter is what we call a neck, finger by finger; and no wider
    disc than the width told fits where it is told.  Flat to 1e-6 mm: there are no arcs.
    """
    x, chain, middles, slope = 10.0, [[0.0, 0.0]], [], math.tan(math.radians(lean))
    for width, ratio, gap in fingers:
        x, foot, high = x + gap, width / math.cos(math.radians(lean)), ratio * width
        off = slope * high
        chain += [[x, 0.0], [x + off, high], [x + off + foot, high], [x + foot, 0.0]]
        middles.append([x + (foot + off) / 2.0, high / 2.0])
        x += foot
    far = 90.0 if inward else -40.0
    ends = [[x + 60.0, 0.0], [x + 60.0, far], [-60.0, far], [-60.0, 0.0]]
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    matrix = np.array([[c, -s], [s, c]])
    ring = np.array(chain + ends) @ matrix.T
    plate = np.array([[-99, -99], [x + 99, -99], [x + 99, 199], [-99, 199]]) @ matrix.T
    contours = (
        [points(plate.tolist()), points(ring.tolist())] if inward else [points(ring.tolist())]
    )
    found = necks_of(contours[0], 5.0, *contours[1:])

    metal = shapely.Polygon(plate, [ring]) if inward else shapely.Polygon(ring)
    reach = neck_reach(5.0)
    opening = metal.buffer(-reach / 2.0, quad_segs=32).buffer(reach / 2.0, quad_segs=32)
    away = ~shapely.contains_xy(opening.buffer(0.01), np.array(middles) @ matrix.T)
    assert away.tolist() == [width < reach for width, _, _ in fingers]
    assert len(found) == int(away.sum())
    told = sorted(neck.width for neck in found)
    np.testing.assert_allclose(told, sorted(w for w, _, _ in fingers if w < reach), atol=1e-6)
    for neck in found:
        disc = 2.0 * metal.boundary.distance(shapely.Point(neck.x, neck.y))
        assert disc == pytest.approx(neck.width, abs=1e-6)


def tapered(root: float, length: float, left: float, right: float, pieces: int = 1) -> Contours:
    """Return a plate with a finger whose sides lean out by `left` and `right` degrees."""
    up = np.linspace(0.0, length, pieces + 1)
    one = 50.0 + root / 2.0 + up * math.tan(math.radians(right))
    two = 50.0 - root / 2.0 - up * math.tan(math.radians(left))
    sides = [[x, 50.0 + y] for x, y in zip(one, up, strict=True)]
    sides += [[x, 50.0 + y] for x, y in zip(two[::-1], up[::-1], strict=True)]
    return points([[0, 0], [100, 0], [100, 50], *sides, [0, 50]])


@pytest.mark.outside("Widest disc where a tapered finger is told", "shapely, distance to the edge")
@given(
    st.floats(0.5, 3.0), st.floats(3.0, 8.0), st.floats(-5.5, 5.5), st.floats(-5.5, 5.5),
    st.integers(1, 7),
)  # fmt: skip
@settings(max_examples=80, deadline=None)
def test_tapered_fingers(
    narrow: float, ratio: float, left: float, right: float, pieces: int
) -> None:
    """Sides within 6 degrees of each other's square: one neck, where it begins to hold a piece.

    Wider at the root or at the tip, by any split of the taper over both sides.  Its narrowest
    place if that is the root; else about one width below the tip, where as much metal hangs on it
    as its width squared.
    """
    slope = math.tan(math.radians(left)) + math.tan(math.radians(right))
    length = ratio * narrow
    root = narrow if slope >= 0.0 else narrow - slope * length
    ring = tapered(root, length, left, right, pieces)
    (neck,) = necks_of(ring, 8.0)
    assert 50.0 - 0.2 * narrow <= neck.y <= 50.0 + length
    disc = 2.0 * shapely.Polygon(ring.ring(0)).boundary.distance(shapely.Point(neck.x, neck.y))
    assert disc == pytest.approx(neck.width, rel=0.012)
    most = 1.02 if slope >= 0.0 else 1.03 - 1.5 * slope
    assert 0.98 * narrow <= neck.width <= most * narrow


@pytest.mark.parametrize("lean", [6.5, 9.0, 15.0, -6.5, -9.0])
def test_fingers_that_taper_more_are_no_necks(lean: float) -> None:
    """Each side beyond 6 degrees: a dovetail or a wedge; its tips are judged by their angle."""
    root = 2.0 if lean > 0.0 else 2.0 + 2.0 * 10.0 * math.tan(math.radians(-lean))
    assert not necks_of(tapered(root, 10.0, lean, lean), 5.0)
    less = math.copysign(5.5, lean)
    root = 2.0 if lean > 0.0 else 2.0 + 2.0 * 10.0 * math.tan(math.radians(5.5))
    assert len(necks_of(tapered(root, 10.0, less, less), 5.0)) == 1


@pytest.mark.parametrize("opens", [-0.8, 0.8])
def test_a_tapered_tongue_in_a_cut_out(opens: float) -> None:
    """Between the arms of a U the tongue's free tip is 2 wide, its root 0.4 or 3.6."""
    slot = [[20, 10], [70, 10], [70, 13 - opens], [23, 13], [23, 15], [70, 15 + opens], [70, 18],
            [20, 18]]  # fmt: skip
    (neck,) = necks_of(points(PLATE), 5.0, points(slot))
    assert neck.row == 1
    assert neck.width == pytest.approx(2.0 if opens > 0.0 else 0.4, rel=0.05)


def test_a_short_dovetail_is_a_nub() -> None:
    """Half as long as wide: moving up the finger leaves less metal on it, never more."""
    assert not necks_of(tapered(2.0, 1.0, 4.0, 4.0), 5.0)
    assert not necks_of(tapered(2.0, 1.0, -4.0, -4.0), 5.0)


# --- real drawings, against an opening by another library ------------------------------------


def opened(part: Part, width: float) -> bool:
    """Whether a disc of `width` cannot reach metal that is no corner: shapely's opening.

    What is left over by the opening of the outline, and by the closing of every cut-out, is
    a neck or finger where a piece is larger than any corner leaves: in a corner of angle a
    an opening leaves r^2 (1 / tan(a / 2) - (pi - a) / 2): 2.42 r^2 for 30 degrees.
    """
    r = width / 2.0
    a = math.radians(min([30.0, *(c.angle for c in part.corners if c.angle < 180.0)]))
    corner = 1.0 / math.tan(a / 2.0) - (math.pi - a) / 2.0
    for row in range(len(part.contours)):
        if not part.contours.closed[row]:
            continue
        shape = shapely.Polygon(part.contours.ring(row, 0.002)).buffer(0)
        if row == 0:
            left = shape.difference(shape.buffer(-r).buffer(r).buffer(0.01))
        else:
            left = shape.buffer(r).buffer(-r).buffer(-0.01).difference(shape)
        if any(piece.area > corner * r**2 + 1e-3 for piece in shapely.get_parts(left)):
            return True
    return False


REAL = ["barc__top_plate", "laser4diy__backplate_bend", "replimat__barrel_vice",
        "trimesh__wrench", "trimesh__250_cycloidal", "prusamk3__MK3-front-plate",
        "16n__16n-134-top", "compass__baseplate", "replimat__5mm_5x_01.04.03_Knife1"]  # fmt: skip


@needs_corpus
@pytest.mark.parametrize("name", REAL)
def test_real_drawings_against_an_opening(name: str) -> None:
    """Where we say there is a neck an opening leaves something, and where we do not, nothing."""
    for thickness in (3.0, 6.0):
        parts = find_parts(read_drawing(CORPUS / f"{name}.dxf"), thickness)
        for part in parts.parts:
            reach = neck_reach(thickness)
            narrow = [neck for neck in part.necks if neck.width < 0.98 * reach]
            assert bool(narrow) == opened(part, 0.98 * reach), (thickness, part.id, narrow[:3])


@needs_corpus
def test_sheet_of_a_side_view_is_as_thick_as_its_dimension_says() -> None:
    """The foot is dimensioned 30, 12, 9 and 1: its side view 12 x 30 is a bent strip of 1 mm."""
    drawing = read_drawing(CORPUS / "m17rru__moxa_foot.dxf")
    assert {t.text for t in drawing.texts if t.kind == "dimension"} == {"30", "12", "9", "1"}
    (side,) = [p for p in find_parts(drawing, 3.0).parts if p.width == pytest.approx(12.0)]
    assert {round(neck.width, 3) for neck in side.necks} == {1.0}


# --- speed -------------------------------------------------------------------------------


def plates(count: int) -> Contours:
    """Return different plates with round corners and a notch, 12 segments each."""
    random, b, rings = np.random.default_rng(3), math.tan(math.pi / 8), []
    bulges = [0, b, 0, b, 0, 0, 0, 0, 0, b, 0, b]
    for k in range(count):
        w, h, r = random.uniform((60, 40, 3), (100, 90, 8))
        ring: Floats = np.array(
            [[r, 0], [w - r, 0], [w, r], [w, h - r], [w - r, h], [w / 2 + 10, h],
             [w / 2 + 10, h - 15], [w / 2 - 10, h - 15], [w / 2 - 10, h], [r, h], [0, h - r],
             [0, r]]
        )  # fmt: skip
        rings.append(Contours.from_points(ring + np.array([k % 100, k // 100]) * 130.0, bulges))
    return Contours.join(rings)


@pytest.mark.slow
def test_grows_no_faster_than_n_log_n() -> None:
    def seconds(count: int) -> float:
        contours = plates(count)
        start = time.process_time()
        find_necks(contours, np.zeros(count, int), np.arange(count), 5.0)
        return time.process_time() - start

    seconds(200)
    few, many = (min(seconds(count) for _ in range(3)) for count in (600, 6000))
    assert many < 14.0 * few + 0.02
