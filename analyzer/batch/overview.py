"""The shop-wide view of a batch: hours by material and gas, rework, holes below thickness."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from analyzer.batch.row import DONE, FAILED, REFUSED, Row

MOST_REWORK = 20


@dataclass(frozen=True)
class Hours:
    """Machine and hand hours of one material under one advised gas, quantities counted.

    Attributes
    ----------
    material, gas : str
        `gas` is empty where none is advised.
    drawings : int
    machine_h, hand_h : float
        [h]
    """

    material: str
    gas: str
    drawings: int
    machine_h: float
    hand_h: float


@dataclass(frozen=True)
class SmallHoles:
    """Holes smaller than the sheet is thick, by the first folder of the drawings' names."""

    folder: str
    drawings: int
    holes: int


@dataclass(frozen=True)
class Overview:
    """What the rows of a batch say together.

    Attributes
    ----------
    done, refused, failed : int
    hours : tuple of Hours
        The most machine hours first.
    rework : tuple of Row
        The twenty drawings with most hand work, quantities counted.
    small_holes : tuple of SmallHoles
        The most holes first.
    """

    done: int
    refused: int
    failed: int
    hours: tuple[Hours, ...]
    rework: tuple[Row, ...]
    small_holes: tuple[SmallHoles, ...]


def overview_of(rows: Sequence[Row]) -> Overview:
    """Return what the rows of a batch say together."""
    finished = [row for row in rows if row.status == DONE]
    sums: dict[tuple[str, str], list[float]] = defaultdict(lambda: [0, 0.0, 0.0])
    holes: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for row in finished:
        of = sums[row.material, row.gas]
        of[0] += 1
        of[1] += row.quantity * row.time_s / 3600.0
        of[2] += row.quantity * row.rework_min / 60.0
        if row.small_holes:
            parts = PurePosixPath(row.drawing).parts
            of_folder = holes[parts[0] if len(parts) > 1 else ""]
            of_folder[0] += 1
            of_folder[1] += row.small_holes
    hours = [Hours(*key, int(n), machine, hand) for key, (n, machine, hand) in sums.items()]
    small = [SmallHoles(folder, *counts) for folder, counts in holes.items()]
    hand = sorted(
        (row for row in finished if row.rework_min > 0.0),
        key=lambda row: (-row.quantity * row.rework_min, row.drawing),
    )
    return Overview(
        len(finished),
        sum(row.status == REFUSED for row in rows),
        sum(row.status == FAILED for row in rows),
        tuple(sorted(hours, key=lambda h: (-h.machine_h, h.material, h.gas))),
        tuple(hand[:MOST_REWORK]),
        tuple(sorted(small, key=lambda s: (-s.holes, s.folder))),
    )
