"""Rule hole-likely-threaded: holes at a tap drill or a nominal size, with a reason to ask.

A hole of 5.0 alone is no thread.  It takes a text naming the thread, or the word that
tapping follows; and even then the finding says that it is a guess.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.drawing.drawing import Text
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.parts.symbols import BESIDE
from analyzer.parts.threads import Thread, threads, threads_in
from analyzer.rules.hole_floors import hole_floors
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import Case, Features, by_part
from analyzer.rules.wording import size
from analyzer.units import counted

NAME = "hole-likely-threaded"
TAPPED = "to be tapped"
"""Sort of a finding about holes that are likely to be tapped at the size drawn."""
# What wears the tap in mild steel, by gas; common practice, no source.  With a little oxygen in the
# nitrogen it is neither that hard nor oxidised, and in other metals we know of nothing.
SKIN = {
    "oxygen": "the oxide on the edge",
    "nitrogen": "the hard skin of a nitrogen cut",
    "air": "the hard, oxidised skin of an air cut",
}
_TIMES = re.compile(r"(\d{1,3})\s*[xX×*]\s*M")  # "4x M6" means four holes


@dataclass(frozen=True)
class Hint:
    """A thread named in a text, and of how many holes."""

    thread: Thread
    text: Text
    holes: int


def hints(texts: Iterable[Text]) -> tuple[Hint, ...]:
    """Return every thread named in `texts`, in their order.

    Examples
    --------
    >>> [(h.thread.name, h.holes) for h in hints([Text("4x M6", 0.0, 0.0, 3.5, "0", "text")])]
    [('M6', 4)]
    """
    found = []
    for text in texts:
        times = _TIMES.search(text.text)
        number = max(int(times[1]), 1) if times else 1
        found += [Hint(thread, text, number) for thread in threads_in(text.text)]
    return tuple(found)


def taper(case: Case) -> float:
    """Return how much top and bottom of a hole differ in diameter. [mm]"""
    scene = case.scene
    per_mm = scene.constant(NAME, "taper_per_mm") * case.thickness
    plain = scene.constant(NAME, "taper_mm") + per_mm
    return plain * (scene.constant(NAME, "oxygen_factor") if case.gas == "oxygen" else 1.0)


def likely_threaded(case: Case) -> Iterator[Draft]:
    """One line per part for tap-drill holes, and one for each thread drawn at nominal size."""
    holes, named = case.scene.holes, hints(case.scene.parts.drawing.texts)
    wanted = _wanted(case, named)
    if not wanted or not len(holes):
        return
    match = case.scene.constant(NAME, "match_mm")
    nominal, drilled = _nominal_and_drilled(case, named, wanted)
    for _, chosen in by_part(holes, nominal):
        yield from _nominal_drafts(case, chosen, named, match)
    for _, chosen in by_part(holes, drilled):
        yield _drilled_draft(case, chosen, wanted, bool(named), match)


def _wanted(case: Case, named: tuple[Hint, ...]) -> tuple[Thread, ...]:
    """Return the threads asked about: those named, and every coarse one where tapping follows."""
    wanted = {hint.thread.name: hint.thread for hint in named}
    if case.job.next_step == "tap":
        coarse = {name: thread for name, thread in threads().items() if "x" not in name}
        wanted = {**coarse, **wanted}
    return tuple(wanted.values())


def _nominal_and_drilled(
    case: Case, named: tuple[Hint, ...], wanted: tuple[Thread, ...]
) -> tuple[Bools, Bools]:
    """Return which holes are drawn at a thread's own size, and which at a tap drill."""
    holes, match = case.scene.holes, case.scene.constant(NAME, "match_mm")
    round_ones = holes.other > 0.0
    nominal = _at_nominal(holes, named, match) & round_ones
    drilled = _matches(holes, [t.drill for t in wanted], match) & round_ones & ~nominal
    return nominal, drilled


def tap_drilled(case: Case) -> tuple[Bools, tuple[Thread, ...]]:
    """Return which holes are likely to be tapped at the size drawn, and the threads asked about.

    Shape (n,), one a hole.
    """
    holes, named = case.scene.holes, hints(case.scene.parts.drawing.texts)
    wanted = _wanted(case, named)
    if not wanted or not len(holes):
        return np.zeros(len(holes), dtype=bool), ()
    return _nominal_and_drilled(case, named, wanted)[1], wanted


def tap_cure(case: Case, threads_asked: Iterable[Thread], sizes: Floats) -> str:
    """Return the remedy for tap-drill holes too small to cut: never a wider one."""
    match = case.scene.constant(NAME, "match_mm")
    fits = [t for t in threads_asked if (np.abs(sizes - t.drill) <= match + 1e-9).any()]
    drills = " or ".join(f"{size(t.drill)} for {t.name}" for t in fits)
    return f"Centre-mark and drill {drills}; a wider hole cannot be tapped."


def _matches(holes: Features, diameters: Iterable[float], match: float) -> Bools:
    """Return which holes have one of `diameters`, shape (n,)."""
    wanted = np.sort(np.array(list(diameters), dtype=float))
    after = np.clip(np.searchsorted(wanted, holes.size), 0, len(wanted) - 1)
    before = np.maximum(after - 1, 0)
    gap = np.minimum(np.abs(wanted[after] - holes.size), np.abs(wanted[before] - holes.size))
    near: Bools = gap <= match + 1e-9
    return near


def _at_nominal(holes: Features, named: tuple[Hint, ...], match: float) -> Bools:
    """Return which holes have the nominal size of a thread whose text stands beside them.

    Of one text only so many as it says, the nearest first.
    """
    found = np.zeros(len(holes), dtype=bool)
    for hint in named:
        fits = np.flatnonzero(np.abs(holes.size - hint.thread.nominal) <= match + 1e-9)
        away = np.hypot(holes.xy[fits, 0] - hint.text.x, holes.xy[fits, 1] - hint.text.y)
        reach = max(BESIDE, 5.0 * hint.thread.nominal) + 2.0 * hint.text.height
        nearest = np.argsort(away, kind="stable")[: hint.holes]
        found[fits[nearest[away[nearest] <= reach]]] = True
    return found


def _nominal_drafts(
    case: Case, chosen: Ints, named: tuple[Hint, ...], match: float
) -> Iterator[Draft]:
    holes = case.scene.holes
    for thread in {h.thread.name: h.thread for h in named}.values():
        index = chosen[np.abs(holes.size[chosen] - thread.nominal) <= match + 1e-9]
        if not len(index):
            continue
        yield Draft(
            "loss", case.scene.part_id(int(holes.part[index[0]])), holes.places(index),
            float(holes.size[index].min()), thread.drill, "mm",
            f"{counted(len(index), 'hole')} {size(thread.nominal)} with the note {thread.name}: "
            f"drawn at the thread's own size, nothing would be left to tap.",
            f"Ask the designer: tap drill {size(thread.drill)}, or a clearance hole?", len(index),
        )  # fmt: skip


def _drilled_draft(
    case: Case, chosen: Ints, wanted: Iterable[Thread], by_text: bool, match: float
) -> Draft:
    holes, differ = case.scene.holes, taper(case)
    sizes: Floats = holes.size[chosen]
    words, bands, drills = [], [], set()
    for thread in sorted(wanted, key=lambda t: (t.drill, t.name)):
        number = int((np.abs(sizes - thread.drill) <= match + 1e-9).sum())
        if number:
            words.append(f"{number} x {size(thread.drill)} ({thread.name}{_clears(thread, match)})")
            bands += [thread.minor[1] - thread.minor[0]] if thread.minor else []
            drills.add(thread.drill)
    least = min(bands, default=0.0)
    allowed = f" (6H allows {size(least)})" if bands else ""
    why = "a text names the thread" if by_text else "tapping follows"
    return Draft(
        "note", case.scene.part_id(int(holes.part[chosen[0]])), holes.places(chosen),
        differ, least, "mm",
        f"{counted(len(chosen), 'hole')} may be tapped, a guess as {why}: {', '.join(words)}. "
        f"Top and bottom differ about {size(differ)} mm{allowed}.",
        _drilled_cure(case, sizes, sorted(drills), loose=bool(bands) and differ > least),
        len(chosen), sort=TAPPED,
    )  # fmt: skip


def _clears(thread: Thread, match: float) -> str:
    """Return for which bolts the tap drill of a thread is as well a clearance hole, in words."""
    fits = [
        other.name
        for other in threads().values()
        if any(abs(wide - thread.drill) <= match + 1e-9 for wide in other.clearance)
    ]
    return f", or clearance for {' or '.join(fits)}" if fits else ""


def _drilled_cure(case: Case, sizes: Floats, drills: list[float], *, loose: bool) -> str:
    """Return the remedy for holes at a tap drill that can be cut: as cut, or drilled to size.

    Parameters
    ----------
    sizes : ndarray
        Diameters of the holes. [mm]
    drills : list of float
        Tap drills they fit. [mm]
    loose : bool
        Top and bottom differ by more than 6H allows.
    """
    least, most = (case.scene.constant(NAME, f"smaller_{end}_mm") for end in ("least", "most"))
    one = len(sizes) == 1
    it = "it" if one else "them"
    row = case.limit("hole-too-small")
    room = row is None or float(sizes.min()) - most >= hole_floors(case, row).ok - 1e-9
    first = f"cut {it} {size(least)} to {size(most)} smaller" if room else f"centre-mark {it}"
    way = f"{first} and drill {size(drills[0]) if len(drills) == 1 else 'to size'}"
    asks = "Ask if it is tapped" if one else "Ask which are tapped"
    skin = SKIN.get(case.gas) if case.job.material == "mild-steel" else None
    if skin:
        return f"{asks}; if so, {way}: {skin} wears taps."
    if loose:
        return f"{asks}; if so, {way}: as cut the thread would be loose at one side."
    return f"{asks}; if so, tap one test hole first. If its edge is too hard, {way}."


RULES = (
    Rule(
        name=NAME,
        group="holes",
        kind="shape",
        question="Is a hole meant for a thread?",
        why=(
            "A laser hole is wider at one side than at the other, and its edge is oxidised "
            "or hardened: taps break and threads come out loose. A thread drawn at its own "
            "diameter leaves nothing to tap. Asked only where a text names the thread or "
            "tapping follows; always a guess."
        ),
        remedy=(
            "Cut it smaller and drill, or centre-mark and drill; in mixed gas tap one test hole "
            "first. Never cut the thread's own size."
        ),
        example=(
            "1 hole may be tapped, a guess as a text names the thread: 1 x 5 (M6). "
            "Top and bottom differ about 0.18 mm (6H allows 0.24)."
        ),
        asks_change=True,
        on_gas=likely_threaded,
    ),
)
