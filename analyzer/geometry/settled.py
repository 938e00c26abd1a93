"""Arrays that nobody can change any more: they are shared, all others are copied."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Array = TypeVar("Array", bound=NDArray[Any])


def ours(array: Array) -> Array:
    """Return an array that nobody else holds, made read-only: nobody needs a copy of it.

    Examples
    --------
    >>> is_settled(ours(np.zeros(3)), float), is_settled(np.zeros(3), float)
    (True, False)
    """
    array.setflags(write=False)
    return array


def is_settled(array: object, kind: type) -> bool:
    """Whether this is an array of `kind` that cannot be changed, by nobody else either."""
    if not isinstance(array, np.ndarray) or array.dtype != kind or array.flags.writeable:
        return False
    base = array.base
    return base is None or (isinstance(base, np.ndarray) and not base.flags.writeable)
