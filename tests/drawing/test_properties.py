"""The same drawing, however it is written, gives the same contours and lengths."""

import math
import random
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from drawing.making import HOLES, Tags, arc_tags, circle_tags, line_tags, read_tags
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.drawing.drawing import Drawing
from analyzer.drawing.reading import ReadOptions

FOLDER = TemporaryDirectory()
MM = ReadOptions(units="mm")

Shape = tuple[str, tuple[float, ...]]


def plate(x: float, y: float, w: float, h: float, r: float) -> list[Shape]:
    """Return a plate with round corners and holes as ("L", ...), ("A", ...), ("C", ...)."""
    corners = [(w - r, r, 270), (w - r, h - r, 0), (r, h - r, 90), (r, r, 180)]
    shapes: list[Shape] = [
        ("L", (x + r, y, x + w - r, y)), ("L", (x + w, y + r, x + w, y + h - r)),
        ("L", (x + w - r, y + h, x + r, y + h)), ("L", (x, y + h - r, x, y + r)),
    ]  # fmt: skip
    shapes += [("A", (x + cx, y + cy, r, first, first + 90)) for cx, cy, first in corners]
    shapes += [("C", (x + w * fx, y + h * fy, r / 3)) for fx, fy in ((0.2, 0.3), (0.7, 0.6))]
    return shapes


def moved(shape: Shape, turn: float, dx: float, dy: float) -> Shape:
    """Return a shape turned about the origin by `turn` [degrees], then shifted."""
    kind, v = shape
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def at(x: float, y: float) -> tuple[float, float]:
        return x * cos - y * sin + dx, x * sin + y * cos + dy

    if kind == "L":
        return kind, (*at(v[0], v[1]), *at(v[2], v[3]))
    if kind == "A":
        return kind, (*at(v[0], v[1]), v[2], v[3] + turn, v[4] + turn)
    return kind, (*at(v[0], v[1]), v[2])


def tags(shape: Shape, backwards: bool = False) -> Tags:
    kind, v = shape
    if kind == "L":
        a, b = (v[0], v[1]), (v[2], v[3])
        return line_tags(b, a) if backwards else line_tags(a, b)
    return arc_tags(*v) if kind == "A" else circle_tags(*v)


def read(shapes: list[Shape], **more: Any) -> Drawing:
    return read_tags(Path(FOLDER.name), [tags(s) for s in shapes], MM, **more)


def drawn_length(shapes: list[Shape]) -> float:
    total = 0.0
    for kind, v in shapes:
        if kind == "L":
            total += math.dist(v[:2], v[2:])
        else:
            total += v[2] * (math.radians(v[4] - v[3]) if kind == "A" else 2 * math.pi)
    return total


def plates(seed: int, count: int) -> list[Shape]:
    """Return plates side by side that do not touch."""
    draw = random.Random(seed)
    shapes: list[Shape] = []
    for k in range(count):
        size = draw.uniform(20, 90), draw.uniform(20, 90)
        shapes += plate(k * 100, draw.uniform(-50, 50), *size, draw.uniform(1, 9))
    return shapes


seeds = st.integers(0, 2**32 - 1)


def same(one: Drawing, two: Drawing) -> None:
    assert one.cuts.closed.tolist() == two.cuts.closed.tolist()
    assert np.sort(one.cuts.length) == pytest.approx(np.sort(two.cuts.length), abs=1e-6)
    assert np.sort(one.cuts.area) == pytest.approx(np.sort(two.cuts.area), rel=1e-6)
    assert [fact.kind for fact in one.facts] == [fact.kind for fact in two.facts]
    assert one.account.total == two.account.total
    assert one.account.used == two.account.used


@settings(max_examples=20, deadline=None)
@given(seeds, st.integers(1, 5))
def test_order_and_direction_do_not_matter(seed: int, count: int) -> None:
    shapes = plates(seed, count)
    plain = read(shapes)
    assert plain.cuts.length.sum() == pytest.approx(drawn_length(shapes), abs=1e-6)
    assert len(plain.cuts) == 3 * count
    assert plain.facts == ()
    draw = random.Random(seed + 1)
    mixed = draw.sample(shapes, len(shapes))
    other = read_tags(Path(FOLDER.name), [tags(s, draw.random() < 0.5) for s in mixed], MM)
    same(plain, other)
    # not only the same sums: the same contours in the same order, point by point
    assert other.cuts.starts == pytest.approx(plain.cuts.starts, abs=1e-9)
    assert other.cuts.offsets.tolist() == plain.cuts.offsets.tolist()


@settings(max_examples=20, deadline=None)
@given(
    seeds, st.floats(-1e5, 1e5), st.floats(-1e5, 1e5), st.one_of(st.just(0.0), st.floats(0, 360))
)
def test_place_and_turn_do_not_matter(seed: int, dx: float, dy: float, turn: float) -> None:
    shapes = plates(seed, 3)
    same(read(shapes), read([moved(s, turn, dx, dy) for s in shapes]))


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_doubles_do_not_matter_but_are_told(seed: int) -> None:
    shapes = plates(seed, 3)
    draw = random.Random(seed)
    twice = [s for s in shapes if draw.random() < 0.4] or shapes[:1]
    both = read(draw.sample(shapes + twice, len(shapes) + len(twice)))
    plain = read(shapes)
    assert both.cuts.length.sum() == pytest.approx(plain.cuts.length.sum(), abs=1e-6)
    assert len(both.cuts) == len(plain.cuts)
    (fact,) = both.facts
    assert (fact.kind, fact.count) == ("double-line", len(twice))
    assert f"{drawn_length(twice):.3f} mm" in fact.message
    assert both.account.used == len(shapes)
    assert both.account.ignored[0].reason == "drawn twice"


@settings(max_examples=15, deadline=None)
@given(seeds, st.floats(0.011, 0.09))
def test_gaps_are_closed_and_told(seed: int, gap: float) -> None:
    """Every line of one plate is short at one end."""
    shapes = plates(seed, 1)
    short: list[Shape] = []
    for kind, v in shapes:
        if kind == "L":
            size = math.dist(v[:2], v[2:])
            k = (size - gap) / size
            v = (v[0], v[1], v[0] + (v[2] - v[0]) * k, v[1] + (v[3] - v[1]) * k)
        short.append((kind, v))
    drawing = read(short)
    assert drawing.cuts.closed.all()
    assert drawing.cuts.length.sum() == pytest.approx(drawn_length(shapes), abs=1e-3)
    assert next(f.count for f in drawing.facts if f.kind == "gap-closed") == 4


@settings(max_examples=15, deadline=None)
@given(seeds, st.integers(2, 9))
def test_pieces_do_not_matter(seed: int, count: int) -> None:
    """Every line and arc in several pieces, shuffled: the same contours, merged again."""
    shapes = plates(seed, 2)
    pieces: list[Shape] = []
    for kind, v in shapes:
        for k in range(count):
            low, high = k / count, (k + 1) / count
            if kind == "L":
                x, y, dx, dy = v[0], v[1], v[2] - v[0], v[3] - v[1]
                pieces.append(("L", (x + dx * low, y + dy * low, x + dx * high, y + dy * high)))
            elif kind == "A":
                span = v[4] - v[3]
                pieces.append(("A", (*v[:3], v[3] + span * low, v[3] + span * high)))
            else:
                pieces.append(("A", (*v[:3], 360 * low, 360 * high)))
    whole, parts = read(shapes), read(random.Random(seed).sample(pieces, len(pieces)))
    assert len(parts.cuts) == len(whole.cuts)
    assert np.sort(parts.cuts.length) == pytest.approx(np.sort(whole.cuts.length), abs=1e-6)
    outline = int(np.argmax(parts.cuts.length))
    assert parts.cuts.offsets[outline + 1] - parts.cuts.offsets[outline] == 8


@settings(max_examples=15, deadline=None)
@given(seeds, st.sampled_from([1e-6, 2e-5]))
def test_noise_below_the_weld_does_not_matter(seed: int, noise: float) -> None:
    shapes = plates(seed, 2)
    draw = random.Random(seed)
    noisy: list[Shape] = [
        (kind, tuple(x + draw.uniform(-noise, noise) for x in v[:2]) + v[2:]) for kind, v in shapes
    ]
    plain, other = read(shapes), read(noisy)
    assert other.cuts.closed.all()
    assert np.sort(other.cuts.length) == pytest.approx(np.sort(plain.cuts.length), abs=50 * noise)


def test_the_same_drawing_twice_is_the_same_to_the_last_bit() -> None:
    shapes = plates(5, 4) + [("C", (*hole, 4.0)) for hole in HOLES]
    one, two = read(shapes), read(shapes)
    assert one.cuts.starts.tobytes() == two.cuts.starts.tobytes()
    assert one.facts == two.facts
    assert one.cut_sources == two.cut_sources
