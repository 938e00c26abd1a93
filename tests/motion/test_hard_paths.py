"""Thirty hard paths and the longest real ones: toppra, every limit with jerk, and no waste."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from motion.reference import check_motion, toppra_time
from shared import corpus_drawings, needs_corpus

from analyzer.geometry.contours import Contours
from analyzer.motion.ceiling import path_ceilings
from analyzer.motion.profile import speed_profile

PATHS = tomllib.loads(Path(__file__).with_name("hard_paths.toml").read_text("utf-8"))["path"]
TOLERANCE = 0.05


def profiles_hold(path: Contours, speed: float, a: float) -> None:
    """Acceleration-limited within 0.5 % of toppra; with jerk within every limit."""
    inside, joints = path_ceilings(path, np.full(len(path), speed), a, TOLERANCE)
    free = speed_profile(path.lengths, inside, joints, path.offsets, a)
    assert free.times.sum() == pytest.approx(toppra_time(free, joints), rel=0.005)
    check_motion(free, joints, path.offsets)
    soft = speed_profile(path.lengths, inside, joints, path.offsets, a, 25.0 * a)
    check_motion(soft, joints, path.offsets)
    assert soft.times.sum() >= free.times.sum() * (1.0 - 1e-9)


def test_there_are_thirty() -> None:
    assert len(PATHS) == len({row["name"] for row in PATHS}) == 30


@pytest.mark.outside("Thirty hard paths, acceleration limited [s]", "library toppra")
@pytest.mark.parametrize("row", PATHS, ids=[row["name"] for row in PATHS])
def test_hard_path(row: dict) -> None:
    """toppra (time-optimal path parametrisation by reachability analysis), within 0.5 %."""
    path = Contours.from_points(row["points"], row.get("bulges"), closed=row["closed"])
    speed, a = row["speed_m_per_min"] * 1000.0 / 60.0, row["acceleration_m_per_s2"] * 1000.0
    profiles_hold(path, speed, a)


@pytest.mark.outside("Longest contours of real drawings [s]", "library toppra")
@needs_corpus
@pytest.mark.parametrize("path", corpus_drawings()[::8], ids=lambda p: p.stem)
def test_real_outline(path: Path) -> None:
    """The contour of most segments of every eighth real drawing."""
    from analyzer.drawing.reading import read_drawing
    from analyzer.errors import DrawingError
    from analyzer.parts.find import find_parts

    try:
        parts = find_parts(read_drawing(path), 3.0).parts
    except DrawingError:
        pytest.skip("refused by the reader, which has its own tests")
    if not parts:
        pytest.skip("no closed contour in this drawing")
    rows = [part.contours.take([k]) for part in parts for k in range(len(part.contours))]
    profiles_hold(max(rows, key=lambda one: len(one.bulges)), 333.0, 8e3)
