"""Columns of one section's tags: which entity holds which group code how often and where."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyzer.drawing.tags import RawTags
from analyzer.geometry.contours import Bools, Floats, Ints

_LONGEST_NAME = 16


class NoNumberError(ValueError):
    """A value that should be a number is none."""


class Columns:
    """The entities between two tags, each with its group codes.

    Attributes
    ----------
    begins : ndarray of int, shape (n,)
        First tag of every entity.
    first, last : int
        Its first and one after its last among the tags with group code 0.
    own, codes : ndarray of int, shape (m,)
        Entity and group code of every tag from the first entity on.
    """

    def __init__(self, tags: RawTags, start: int, stop: int) -> None:
        self.tags = tags
        self.first, self.last = (int(k) for k in np.searchsorted(tags.zeros, (start, stop)))
        self.begins = tags.zeros[self.first : self.last]
        self.count = len(self.begins)
        self.offset = int(self.begins[0]) if self.count else stop
        self.codes = tags.codes[self.offset : stop]
        self.own = np.repeat(np.arange(self.count), np.diff(np.append(self.begins, stop)))

    def tags_of(self, code: int) -> Ints:
        """Return the tags with a group code, counted from the first entity's first tag."""
        return np.flatnonzero(self.codes == code)

    def counts(self, code: int) -> Ints:
        """Return how often every entity holds a group code, shape (n,)."""
        return np.bincount(self.own[self.codes == code], minlength=self.count)

    def at(self, code: int) -> Ints:
        """Return the last tag with a group code of every entity, -1 where none, shape (n,)."""
        tags = self.tags_of(code)
        found = np.full(self.count, -1, dtype=np.int64)
        found[self.own[tags]] = tags
        return found

    def kinds(self, names: tuple[bytes, ...]) -> Ints:
        """Return which of `names` every entity is, -1 for another, shape (n,)."""
        start, stop = self._span(self.begins - self.offset)
        size = stop - start
        letters = start[:, None] + np.arange(_LONGEST_NAME)
        buffer = np.frombuffer(self.tags.data, np.uint8)
        taken = buffer[np.minimum(letters, len(buffer) - 1)]
        taken = np.where(letters < stop[:, None], taken, 0).astype(np.uint8)
        words = np.ascontiguousarray(taken).view(f"S{_LONGEST_NAME}").ravel()
        found = np.full(self.count, -1, dtype=np.int64)
        for k, name in enumerate(names):
            found[(words == name) & (size == len(name))] = k
        return found

    def raw(self, tags: Ints) -> list[bytes]:
        """Return values as they stand, blanks around them included."""
        start, stop = self._span(tags)
        data = self.tags.data
        return [data[a:b] for a, b in zip(start.tolist(), stop.tolist(), strict=True)]

    def equal(self, tags: Ints, word: bytes) -> Bools:
        """Return which values are exactly `word`, shape of `tags`."""
        start, stop = self._span(tags)
        buffer = np.frombuffer(self.tags.data, np.uint8)
        same: Bools = (stop - start) == len(word)
        for k, letter in enumerate(word):
            same &= buffer[np.minimum(start + k, len(buffer) - 1)] == letter
        return same

    def numbers(self, tags: Ints) -> Floats:
        """Return values as numbers, shape of `tags`.

        Raises
        ------
        NoNumberError
            If one of them is none.
        """
        try:
            flat = list(map(float, self.raw(tags.ravel())))
        except ValueError as error:
            raise NoNumberError(str(error)) from None
        return np.array(flat, dtype=float).reshape(tags.shape)

    def _span(self, tags: Ints) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        rows = tags + self.offset
        return self.tags.value_start[rows], self.tags.value_end[rows]
