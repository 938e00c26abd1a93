"""Trees of boxes: boxes laid in, and questions in blocks, so that the answers at once stay few."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from analyzer.geometry.contours import Floats, Ints

MOST = 32_768
"""Questions in one block at most."""


def diagonals(boxes: Floats) -> NDArray[np.object_]:
    """Return a line from corner to corner of every box, shape (n,).

    To a tree of boxes it is the same as the box, in a third of the time and memory.
    """
    import shapely

    lines: NDArray[np.object_] = shapely.linestrings(boxes.reshape(-1, 2, 2))
    return lines


class Blocks:
    """Rows in blocks as large as the answers of the blocks before allow.

    Every block is spread over all rows, so that what the first ones found tells of the rest,
    and each is at most four times as large as the one before; the first is so small that even
    an answer of every row to each question is not too many.
    """

    def __init__(self, count: int, answers: int) -> None:
        self._count, self._answers = count, answers
        self._size = int(np.clip(answers // max(count, 1), 1, MOST))
        self._most = 0.0  # answers to one question

    def found(self, answers: int) -> None:
        """Note how many answers the block just given had."""
        self._most = max(self._most, answers / self._size)

    def __iter__(self) -> Iterator[Ints]:
        """Yield the rows of every block."""
        count = self._count
        stride = int(np.ceil(np.sqrt(max(count, 1))))
        spread = np.arange(stride * stride).reshape(stride, stride).T.ravel()
        order = spread[spread < count]
        begin = 0
        while begin < count:
            some = order[begin : begin + self._size]
            yield some
            begin += len(some)
            fit = self._answers / max(self._most, 1.0)
            self._size = int(np.clip(fit, 1, min(4 * self._size, MOST)))
