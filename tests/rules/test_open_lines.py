"""Outlines open in several places: every gap is told, and the option told closes them."""

import re
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from analyzer.comparison import check
from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.parts.find import find_parts
from analyzer.rules.limits import load_limits
from analyzer.rules.open_lines import chains_of
from analyzer.tolerances import DEFAULT

LIMITS = load_limits()


def cut_open(rng: np.random.Generator, pieces: int, gaps: list[float]) -> list[np.ndarray]:
    """A polygon of 100 mm across in so many pieces, with gaps in the middle of sides."""
    angles = np.linspace(0.0, 2.0 * np.pi, 3 * pieces, endpoint=False) + rng.uniform(0.0, 1.0)
    corners = 50.0 * np.column_stack((np.cos(angles), np.sin(angles)))
    found = []
    for k in range(pieces):
        own = corners[3 * k : 3 * k + 3]
        before, after = corners[3 * k - 1], corners[(3 * k + 3) % len(corners)]
        ends = []
        for corner, other, gap in (
            (own[0], before, gaps[k - 1]), (own[2], after, gaps[k]),
        ):  # fmt: skip
            way = (other - corner) / np.hypot(*(other - corner))
            ends.append((corner + other) / 2.0 - way * gap / 2.0)
        found.append(np.vstack((ends[0], own, ends[1])))
    return found


@pytest.mark.parametrize("pieces", [2, 3, 5])
def test_every_gap_is_found_however_the_lines_are_drawn(pieces: int) -> None:
    rng = np.random.default_rng(pieces)
    gaps = rng.uniform(0.15, 1.5, pieces).tolist()
    told = cut_open(rng, pieces, gaps)
    stray = [np.array([[200.0, 0.0], [300.0, 0.0]])]
    for _ in range(4):
        drawn = [line[:: rng.choice([1, -1])] for line in told + stray]
        order = rng.permutation(len(drawn))
        lines = Contours.join([Contours.from_points(drawn[k], closed=False) for k in order])
        chains = chains_of(lines, LIMITS)
        assert len(chains) == 2
        (outline,) = np.flatnonzero(chains.closes)
        assert len(chains.rows(int(outline))) == pieces
        mine = chains.of_gap == outline
        np.testing.assert_allclose(np.sort(chains.widths[mine]), np.sort(gaps), atol=1e-9)
        assert np.hypot(*chains.places[mine].T).max() < 50.0  # the middles of sides


@pytest.mark.parametrize("gaps", [[0.3, 0.7], [0.15, 0.15, 0.18], [1.4, 0.2]])
def test_the_option_that_is_told_closes_it_and_none_below_does(
    tmp_path: Path, gaps: list[float]
) -> None:
    path = tmp_path / "two.dxf"
    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(100, 0), (300, 0), (300, 100), (100, 100)], close=True)
    for piece in cut_open(np.random.default_rng(1), len(gaps), gaps):
        space.add_lwpolyline(piece.tolist())
    document.saveas(path)
    analysis = check(path, Job("mild-steel", 5.0, 6.0, gases=("nitrogen",))).analysis
    (found,) = [f for f in analysis.gases[0].findings if f.rule == "open-contour"]
    assert (found.level, found.count) == ("loss", len(gaps))
    told = re.match(r"--join ([\d.]+)mm closes them; else", found.remedy)
    assert told
    join = float(told[1])
    for value, parts in ((join, 2), (max(gaps) - 0.01, 1)):
        options = ReadOptions(tolerances=replace(DEFAULT, join=value))
        assert len(find_parts(read_drawing(path, options), 5.0).parts) == parts
