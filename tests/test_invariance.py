"""However a drawing is written down, it is the same job: parts, lengths, findings.

Hypotheses, so nothing is known but that both must agree: shuffled, reversed, exploded, put into
blocks, moved (100 m away too), turned, mirrored (the other hand), in another unit, and written in
every version from R12 to R2018, as text and binary.
"""

import math
import random
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import ezdxf
import numpy as np
import pytest
from _pytest.mark import ParameterSet
from ezdxf.math import Matrix44
from hypothesis import given, settings
from hypothesis import strategies as st
from shared import CORPUS, SAMPLES, needs_corpus

from analyzer.analysis import Analysis, analyse
from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.job import Job
from analyzer.shop import load_shop

FOLDER = Path(TemporaryDirectory().name)
PLAIN = ReadOptions()
JOB = Job("mild-steel", 5.0, 6.0)
NO_SHOP = load_shop(None, None)
LENGTH = 1e-6  # lengths agree within this, relatively and in mm
VERSIONS = ("R2000", "R2004", "R2007", "R2010", "R2013", "R2018")

Change = Callable[[Any, random.Random], None]
"""What is done to a document: its model space is changed in place."""


# --- what must not change -----------------------------------------------------------------------


def job_of(path: Path, options: ReadOptions = PLAIN) -> Analysis:
    return analyse(read_drawing(path, options), JOB, NO_SHOP)


def parts_of(analysis: Analysis) -> list[tuple[tuple[Any, ...], list[float]]]:
    """Every distinct part in counts and in lengths that do not turn, largest first."""
    parts = []
    for part in analysis.parts.parts:
        counts = (
            part.count, part.pierces, part.other_hand_of is not None, len(part.corners),
            len(part.holes), len(part.slots), len(part.webs),
        )  # fmt: skip
        lengths = [
            part.area, part.cut_length, float(part.marks.length.sum()),
            float(part.bends.length.sum()), *sorted(h.diameter for h in part.holes),
            *sorted(s.width for s in part.slots), *sorted(w.width for w in part.webs),
        ]  # fmt: skip
        parts.append((counts, lengths))
    return sorted(parts, key=lambda p: (-round(p[1][0], 2), -round(p[1][1], 2), p[0]))


def findings_of(analysis: Analysis) -> list[tuple[Any, ...]]:
    """Every finding of every gas without its place and its part's name."""
    found = [
        (result.setting.gas, f.rule, f.level, f.count, len(f.places), f.unit)
        for result in analysis.gases
        for f in result.findings
    ]
    return sorted(found, key=str)


def measured_of(analysis: Analysis) -> list[float]:
    """What the findings measured, in the order of `findings_of` and then by size."""
    found = [
        (result.setting.gas, f.rule, f.level, f.count, len(f.places), f.unit, f.measured)
        for result in analysis.gases
        for f in result.findings
    ]
    return [row[-1] for row in sorted(found, key=lambda row: (str(row[:-1]), row[-1]))]


def the_same(one: Analysis, two: Analysis, gap: float = LENGTH) -> None:
    """Assert that two analyses are of the same parts and find the same."""
    ours, theirs = parts_of(one), parts_of(two)
    assert [counts for counts, _ in theirs] == [counts for counts, _ in ours]
    for (_, expected), (_, got) in zip(ours, theirs, strict=True):
        assert np.abs(np.array(got) - expected).max() <= gap * max(1.0, max(expected))
    length, other = (float(a.drawing.cuts.length.sum()) for a in (one, two))
    assert other == pytest.approx(length, rel=gap)
    assert findings_of(two) == findings_of(one)
    assert measured_of(two) == pytest.approx(measured_of(one), rel=1e-3, abs=1e-3)


# --- changes ------------------------------------------------------------------------------------


def shuffled(document: Any, chance: random.Random) -> None:
    space = document.modelspace()
    entities = list(space)
    for entity in entities:
        space.unlink_entity(entity)
    chance.shuffle(entities)
    for entity in entities:
        space.add_entity(entity)


def backwards(document: Any, chance: random.Random) -> None:
    for entity in document.modelspace():
        if entity.dxftype() == "LINE" and chance.random() < 0.5:
            entity.dxf.start, entity.dxf.end = entity.dxf.end, entity.dxf.start
        elif entity.dxftype() == "LWPOLYLINE" and chance.random() < 0.5:
            points = list(entity.get_points("xyb"))
            if entity.closed:
                shift = chance.randrange(len(points))
                points = points[shift:] + points[:shift]
            bulges = [-b for _, _, b in points]
            around = bulges[-2::-1] + bulges[-1:]  # closed: the last joins back to the first
            turned = points[::-1]
            entity.set_points(
                [(x, y, b) for (x, y, _), b in zip(turned, around, strict=True)], format="xyb"
            )


def exploded(document: Any, chance: random.Random) -> None:
    for entity in list(document.modelspace().query("LWPOLYLINE")):
        if chance.random() < 0.8:
            entity.explode()


def blocked(document: Any, chance: random.Random) -> None:
    """Every entity in a block of its own, or many in one, at places of their own."""
    space = document.modelspace()
    entities = [e for e in space if e.dxftype() not in ("TEXT", "MTEXT", "INSERT", "DIMENSION")]
    while entities:
        some = [entities.pop() for _ in range(min(chance.choice((1, 2, 7)), len(entities)))]
        block = document.blocks.new(f"B{len(document.blocks)}_{len(entities)}")
        at = (chance.uniform(-500, 500), chance.uniform(-500, 500))
        turn = chance.choice((0.0, 90.0, 180.0))
        for entity in some:
            layer = entity.dxf.layer
            space.unlink_entity(entity)
            entity.transform(Matrix44.translate(-at[0], -at[1], 0))
            entity.transform(Matrix44.z_rotate(-math.radians(turn)))
            block.add_entity(entity)
            assert entity.dxf.layer == layer
        space.add_blockref(block.name, at, dxfattribs={"rotation": turn})


def placed(matrix: Callable[[random.Random], Matrix44]) -> Change:
    def change(document: Any, chance: random.Random) -> None:
        way = matrix(chance)
        for entity in document.modelspace():
            entity.transform(way)

    return change


def nearby(chance: random.Random) -> Matrix44:
    return Matrix44.translate(chance.uniform(-900, 900), chance.uniform(-900, 900), 0)


def far(chance: random.Random) -> Matrix44:
    return Matrix44.translate(chance.choice((-1e5, 1e5)), chance.uniform(-1e5, 1e5), 0)


def turned(chance: random.Random) -> Matrix44:
    return Matrix44.z_rotate(chance.choice((math.pi / 2, math.pi, chance.uniform(0, 6.28))))


def mirrored(chance: random.Random) -> Matrix44:
    return Matrix44.scale(*chance.choice(((-1, 1, 1), (1, -1, 1))))


def in_another_unit(document: Any, chance: random.Random) -> None:
    """Numbers and header go together: the same size in inches, centimetres or metres."""
    code, factor = chance.choice(((1, 1 / 25.4), (5, 0.1), (6, 0.001)))
    assert document.header["$INSUNITS"] == 4
    document.header["$INSUNITS"] = code
    for entity in document.modelspace():
        entity.transform(Matrix44.scale(factor, factor, factor))


CHANGES: dict[str, Change] = {
    "shuffled": shuffled, "backwards": backwards, "exploded": exploded, "blocked": blocked,
    "nearby": placed(nearby), "far": placed(far), "turned": placed(turned),
    "mirrored": placed(mirrored), "unit": in_another_unit,
}  # fmt: skip


def rewritten(
    source: Path, changes: list[str], seed: int, version: str = "R2010", binary: bool = False
) -> Path:
    document = ezdxf.readfile(source)
    document.dxfversion = version
    chance = random.Random(seed)
    for name in changes:
        CHANGES[name](document, chance)
    FOLDER.mkdir(parents=True, exist_ok=True)
    path = FOLDER / source.name  # words in the file name are evidence too
    document.saveas(path, fmt="bin" if binary else "asc")
    return path


# --- hypotheses ---------------------------------------------------------------------------------

NAMES = ("gusset", "railing_bracket", "name_plate", "bracing_plate", "base_plate", "splice_plate")


def slow(name: str) -> ParameterSet:
    return pytest.param(name, marks=pytest.mark.slow)


@cache
def sample(name: str) -> Analysis:
    return job_of(SAMPLES / f"{name}.dxf")


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", [*NAMES[:3], *(slow(name) for name in NAMES[3:])])
def test_one_change(name: str, change: str) -> None:
    if change == "unit" and ezdxf.readfile(SAMPLES / f"{name}.dxf").header["$INSUNITS"] != 4:
        pytest.skip("drawn in another unit already")
    the_same(sample(name), job_of(rewritten(SAMPLES / f"{name}.dxf", [change], 7)))


@settings(max_examples=12, deadline=None)
@given(
    name=st.sampled_from(NAMES[:3]), seed=st.integers(0, 2**16), version=st.sampled_from(VERSIONS),
    binary=st.booleans(),
    changes=st.lists(st.sampled_from(sorted(set(CHANGES) - {"unit"})), min_size=2, max_size=4),
)  # fmt: skip
def test_several_changes(
    name: str, seed: int, version: str, binary: bool, changes: list[str]
) -> None:
    path = rewritten(SAMPLES / f"{name}.dxf", changes, seed, version, binary)
    the_same(sample(name), job_of(path))


@pytest.mark.parametrize("binary", [False, True])
@pytest.mark.parametrize("version", [*map(slow, VERSIONS[1:5]), VERSIONS[0], VERSIONS[5]])
def test_every_version(version: str, binary: bool) -> None:
    name = "railing_bracket"
    path = rewritten(SAMPLES / f"{name}.dxf", [], 0, version, binary)
    the_same(sample(name), job_of(path))


@pytest.mark.parametrize("name", NAMES)
def test_r12(name: str) -> None:
    """Lines, arcs, circles and old polylines with bulges; nothing else fits into R12.

    Its header names no unit, so that is told.
    """
    source = ezdxf.readfile(SAMPLES / f"{name}.dxf")
    held = {entity.dxftype() for entity in source.modelspace()}
    if not held <= {"LINE", "ARC", "CIRCLE", "LWPOLYLINE", "TEXT"}:
        pytest.skip(f"holds {held}")
    target = ezdxf.new("R12")
    for layer in source.layers:
        if layer.dxf.name not in target.layers:
            target.layers.add(layer.dxf.name)
    space = target.modelspace()
    for entity in source.modelspace():
        at = {"layer": entity.dxf.layer}
        if entity.dxftype() == "LWPOLYLINE":
            space.add_polyline2d(
                list(entity.get_points("xyb")), format="xyb", close=entity.closed, dxfattribs=at
            )
        elif entity.dxftype() == "TEXT":
            space.add_text(entity.dxf.text, height=entity.dxf.height, dxfattribs={
                **at, "insert": entity.dxf.insert})  # fmt: skip
        else:
            space.add_foreign_entity(entity, copy=True)
    FOLDER.mkdir(parents=True, exist_ok=True)
    target.saveas(FOLDER / f"{name}.dxf")
    the_same(sample(name), job_of(FOLDER / f"{name}.dxf", ReadOptions(units="mm")))


REAL = (
    "barc__side_cover", "trimesh__apu-mount", "laser4diy__chamber_sheet_top_x",
    "replimat__5mm_5x_01.04.03_Knife1",
)  # fmt: skip
LARGE = "bb3__BB3_chassis_Mean_Well_support_2.0"


@needs_corpus
@pytest.mark.parametrize(
    "change", ["shuffled", "backwards", "blocked", "far", "turned", "mirrored"]
)
@pytest.mark.parametrize("name", [*REAL[:2], *map(slow, (*REAL[2:], LARGE))])
def test_real_drawings(name: str, change: str) -> None:
    """Curves are cut in other places when a drawing is turned, but not longer."""
    path = CORPUS / f"{name}.dxf"
    the_same(real(name), job_of(rewritten(path, [change], 3)), 1e-5)


@cache
def real(name: str) -> Analysis:
    return job_of(CORPUS / f"{name}.dxf")
