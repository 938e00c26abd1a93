"""Dimensions as evidence: what their texts say against the distance they measure.

A dimension knows the points it measures between, so its distance needs no text.  Texts
typed over it, or shown by its block, should say that distance times the length factor of
its style (DXF reference, DIMLFAC).  Where all of a drawing say it times 25.4, 10 or 1000,
or one part of that, they tell its unit; times another number, its scale; where one alone
says something else, either it or the geometry is wrong.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from analyzer.drawing.content import RawDimension
from analyzer.drawing.drawing import Dimension, Dimensions
from analyzer.units import MM_PER_INCH

LINEAR, ALIGNED, DIAMETER, RADIUS = 0, 1, 3, 4
"""Kinds that measure a length (DXF reference, group 70 without its flags)."""

UNIT_FACTORS = {
    25.4: "in", 10.0: "cm", 1000.0: "m", 1.0 / 25.4: "mm", 0.1: "mm", 0.001: "mm",
}  # fmt: skip
"""Unit of a drawing whose texts say so many times what is drawn: they are mm, or else inch."""

ROUNDING = 0.51
"""A text agrees within this share of its last digit. [-]"""

TELLING = 0.05
"""A text rounded more coarsely than this says nothing about scale. [-]"""

LONGEST = 250
"""A text longer than this is cut: no size is. [characters]"""

_NUMBER = re.compile(r"[0-9]{1,9}(?:[.,][0-9]{1,9})?")
_PLAIN = re.compile(
    r"[(\[]?\s*(?:\d{1,4}\s*[x×]\s*)?(?:[Øø⌀R]|DIA\.?)?\s*([0-9]{1,9}(?:[.,][0-9]{1,9})?)"
    r"\s*(?:mm|in|\")?\s*[)\]]?"
    r"(?:\s*(?:[+\-±]\s*\d*[.,]?\d*\s*)+|\s*[A-Za-z]{1,2}\d{1,2})?",
)
_CONTROL = {"%%c": "Ø", "%%d": "°", "%%p": "±"}


def read_dimension(entity: Any) -> tuple[str, RawDimension | None]:
    """Return the words a dimension shows, and the dimension where it measures a length.

    Parameters
    ----------
    entity : DXF entity DIMENSION

    Returns
    -------
    (words, dimension or None)
    """
    measured = _measured(entity)
    factor = _length_factor(entity)
    number = "" if measured is None else f"{measured * factor:g}"
    text = _plain(entity.dxf.get("text", ""))
    typed = text not in ("", "<>")
    shown = text.replace("<>", number) if typed else _block_words(entity) or number
    kind = int(entity.dxf.get("dimtype", 0)) & 7
    if measured is None or kind not in (LINEAR, ALIGNED, DIAMETER, RADIUS) or not shown.strip():
        return shown, None
    at = entity.dxf.get("text_midpoint", None) or entity.dxf.get("defpoint", (0.0, 0.0))
    return shown, RawDimension(shown, measured, factor, float(at[0]), float(at[1]))


def _measured(entity: Any) -> float | None:
    """The distance between the points of a dimension; else what the file says of it."""
    size: Any
    try:
        size = entity.get_measurement()
    except Exception:  # the library computes it from points that may not be there
        size = None
    if not isinstance(size, float | int) or not math.isfinite(size) or size <= 0.0:
        size = entity.dxf.get("actual_measurement", 0.0)
    return float(size) if math.isfinite(size) and size > 0.0 else None


def _length_factor(entity: Any) -> float:
    try:
        factor = float(entity.override().get("dimlfac", 1.0) or 1.0)
    except Exception:  # a style that is not in the drawing
        return 1.0
    return factor if math.isfinite(factor) and factor > 0.0 else 1.0  # below 0: paper space only


def _plain(text: str) -> str:
    """Words without the codes of formatted text."""
    text = text[:LONGEST]
    if not text.strip():
        return ""
    for code, sign in _CONTROL.items():
        text = re.sub(code, sign, text, flags=re.IGNORECASE)
    text = re.sub(r"\\S([^;]*);", r" ", text)  # stacked deviations
    text = re.sub(r"\\[ACcFfHQTWp][^;\\]*;", "", text)
    return re.sub(r"\\P", " ", re.sub(r"\\[LlOoKk]|[{}]", "", text)).strip()


def _block_words(entity: Any) -> str:
    """Words in the block a program drew the dimension with: what is read on the print."""
    name = entity.dxf.get("geometry", "")
    if not name or entity.doc is None or name not in entity.doc.blocks:
        return ""
    words = [
        e.dxf.get("text", "") if e.dxftype() == "TEXT" else e.text
        for e in entity.doc.blocks.get(name)
        if e.dxftype() in ("TEXT", "MTEXT")
    ]
    return _plain(words[0]) if len(words) == 1 else ""


# --- what they say ------------------------------------------------------------


@dataclass(frozen=True)
class _Said:
    """Numbers in a text with the worth of their last digit, and whether it is one size."""

    numbers: tuple[tuple[float, float], ...]
    size: tuple[float, float] | None

    def agrees(self, length: float) -> bool:
        return any(abs(n - length) <= ROUNDING * step + 1e-6 * n for n, step in self.numbers)


def _number(text: str) -> tuple[float, float]:
    digits = re.split(r"[.,]", text)
    return float(text.replace(",", ".")), 10.0 ** -(len(digits[1]) if len(digits) > 1 else 0)


def sizes_said(text: str) -> _Said:
    """Return the numbers of a text; `size` is set where it is one size and nothing else.

    Examples
    --------
    >>> sizes_said("4x Ø9.5").size
    (9.5, 0.1)
    >>> sizes_said("120 see note 3").size is None
    True
    """
    numbers = tuple(_number(found) for found in _NUMBER.findall(text))
    whole = _PLAIN.fullmatch(text.strip())
    angle = "°" in text or re.search(r"\bM\d", text) is not None
    return _Said(numbers, None if whole is None or angle else _number(whole[1]))


def judge_dimensions(raw: Sequence[RawDimension], factor: float, times: float) -> Dimensions:
    """Return the scale of the dimensions and those that say another size than is drawn.

    Parameters
    ----------
    raw : sequence of RawDimension
    factor : float
        From drawing units. [mm]
    times : float
        What texts say over what is drawn, from `times_said`.
    """
    disputed = []
    scaled: Counter[float] = Counter()
    for one in raw:
        said = sizes_said(one.text)
        if abs(one.shows / times - 1.0) > 1e-3 and said.agrees(one.measured * one.shows):
            scaled[float(f"{one.shows:.4g}")] += 1
        elif said.size is not None and not any(
            said.agrees(one.measured * k)
            for k in (times, one.shows, factor, factor / MM_PER_INCH)  # the last two: mm and inch
        ):
            drawn = one.measured * factor
            told = said.size[0] * factor / times
            disputed.append(Dimension(one.text, told, drawn, one.x * factor, one.y * factor))
    if times != 1.0:
        scaled[times] += len(raw) - len(disputed) - sum(scaled.values())
    scales = tuple((k, n) for k, n in sorted(scaled.items()) if k != 1.0)
    return Dimensions(len(raw), scales, tuple(disputed))


def times_said(raw: Sequence[RawDimension]) -> float:
    """Return how many times what is drawn most of the texts say; 1 where they say it.

    At least two texts of different size must agree on another number, and more than on 1,
    or the length factor of all must say so.
    """
    telling = []
    for one in raw:
        size = sizes_said(one.text).size
        if size is not None and ROUNDING * size[1] <= TELLING * size[0]:
            telling.append((one, size))
    votes: dict[float, set[float]] = {}
    shows = {float(f"{one.shows:.6g}") for one in raw}
    for k in {1.0, *UNIT_FACTORS, *shows, *_common_ratio(telling)}:
        agree = {
            size[0]
            for one, size in telling
            if abs(size[0] - one.measured * k) <= ROUNDING * size[1] + 1e-4 * size[0]
        }
        votes[k] = agree
    best = max(votes, key=lambda k: (len(votes[k]), k == 1.0, k in UNIT_FACTORS, -k))
    need = 1 if shows == {float(f"{best:.6g}")} else 2
    sizes = {size[0] for _, size in telling}
    return best if len(votes[best]) >= max(need, 0.5 * len(sizes)) else 1.0


def _common_ratio(telling: list[tuple[RawDimension, tuple[float, float]]]) -> list[float]:
    """Usual scales (ISO 5455) near the middle one of all ratios."""
    ratios = sorted(size[0] / one.measured for one, size in telling)
    if not ratios:
        return []
    middle = ratios[len(ratios) // 2]
    usual = [m * 10.0**e for m in (1.0, 2.0, 5.0, 2.5) for e in range(-3, 4)]
    return [k for k in usual if abs(middle / k - 1.0) <= TELLING]
