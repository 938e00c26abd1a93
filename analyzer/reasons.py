"""Two results side by side, in words: what one costs more, how sure that is, what would turn it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from analyzer.analysis import GasResult
from analyzer.rules.rule import Finding

TIE = 0.01  # differences below this share of the minutes decide nothing [-]
# How sure two gases differ, as a share of the machine minutes: gases that cut by the same law
# times a factor against gases of two laws.  Our own guess, no source; docs/advice.md.
SAME_LAW, OTHER_LAW = 0.05, 0.15
HAND_WORK = 0.5  # spread of the minutes of hand work (common practice, no source) [-]

Key = tuple[str, str | None, tuple[float, float] | None]


def losses(findings: Iterable[Finding]) -> set[Key]:
    """Return every `loss`, one for each place."""
    return {
        (finding.rule, finding.part, place)
        for finding in findings
        if finding.level == "loss"
        for place in (finding.places or (None,))
    }


def losses_in_every_gas(gases: Sequence[GasResult]) -> set[Key]:
    """Return the losses that no choice of gas avoids."""
    each = [losses(result.findings) for result in gases]
    return set.intersection(*each) if each else set()


def burr_metres(result: GasResult) -> float:
    """Metres of edge weighted by burr class: what "less burr" compares. [m]"""
    return sum(number * metres for number, metres in enumerate(result.edge_m))


def leaves_no_burr(result: GasResult) -> bool:
    """Whether the edge is as good as free of burr.

    The fraction of a millimetre at the start and end of every contour, where the head
    speeds up, does not count against a gas.
    """
    return burr_metres(result) <= TIE * sum(result.edge_m)


def span(seconds: float) -> str:
    """Return a duration as spoken: seconds below two minutes, hours from three on. [s]

    Examples
    --------
    >>> span(26.2), span(1500.0), span(44_600.0)
    ('26 s', '25 min', '12 h')
    """
    unit, scale = unit_of(seconds)
    return f"{seconds / scale:.{digits_of(seconds / scale)}f} {unit}"


def by_hand(seconds: float) -> str:
    """Return a time of hand work: whole seconds, as its rates are +-50 %; "-" for none. [s]

    Examples
    --------
    >>> by_hand(2.9), by_hand(144.0), by_hand(0.0)
    ('3 s', '2.4 min', '-')
    """
    if seconds < 0.5:
        return "-"
    return f"{seconds:.0f} s" if unit_of(seconds)[0] == "s" else span(seconds)


def unit_of(seconds: float) -> tuple[str, float]:
    """Return the unit a duration is spoken in, and its seconds."""
    if seconds < 119.5:
        return "s", 1.0
    return ("min", 60.0) if seconds < 10_800.0 else ("h", 3600.0)


def digits_of(value: float) -> int:
    """Return the decimals that are worth saying: one below ten."""
    return 1 if value < 9.95 else 0


def spoken(gas: str) -> str:
    """Return the gas as it is spoken of: "mixed gas", else its name."""
    return "mixed gas" if gas == "mixed" else gas


def against(best: GasResult, rival: GasResult) -> str:
    """Say what the rival costs more, hand work and machine apart."""
    machine = rival.timing.total - best.timing.total
    hand = 60.0 * (rival.rework_min - best.rework_min)
    name = spoken(rival.gas)
    if abs(rival.minutes - best.minutes) <= TIE * best.minutes:
        less = burr_metres(rival) - burr_metres(best)
        edge = "leaves more burr" if less > 0 else f"gives no better edge than {spoken(best.gas)}"
        return f"{name} takes as long and {edge}"
    if abs(machine) < 0.5 and hand >= 0.5:
        return f"{name} takes as long at the machine but needs {by_hand(hand)} more by hand"
    if machine < 0.0:
        return f"{name} is {span(-machine)} faster but needs {by_hand(hand)} more by hand"
    more = f"needs {span(machine)} more at the machine"
    if hand >= 0.5:
        return f"{name} {more} and {by_hand(hand)} more by hand"
    if hand <= -0.5:
        return f"{name} saves {by_hand(-hand)} by hand but {more}"
    return f"{name} {more} for the same hand work"


def why_worse(worse: Iterable[GasResult], everywhere: set[Key]) -> str:
    """Say why these gases are out, those with the same reason together."""
    by_reason: dict[str, list[str]] = {}
    for result in worse:
        own = sorted({rule for rule, _, _ in losses(result.findings) - everywhere})
        reason = f" would lose: {', '.join(own)}" if own else ": past what this power cuts well"
        by_reason.setdefault(reason, []).append(spoken(result.gas))
    return "; ".join(f"{listed(gases)}{reason}" for reason, gases in by_reason.items())


def listed(words: Iterable[str]) -> str:
    """Return "a", "a and b", "a, b and c"."""
    all_words = list(words)
    if len(all_words) < 2:
        return "".join(all_words)
    return ", ".join(all_words[:-1]) + " and " + all_words[-1]


def difference_is_proven(one: GasResult, other: GasResult) -> bool:
    """Return whether the difference in minutes is larger than its own band.

    What both share (the level of all speeds) cancels; what is left is how sure the ratio of
    their speeds is, and the rates of hand work where they differ.
    """
    law = OTHER_LAW if "oxygen" in (one.gas, other.gas) else SAME_LAW
    machine = law * max(one.timing.total, other.timing.total) / 60.0
    hand = HAND_WORK * abs(one.rework_min - other.rework_min)
    return abs(one.minutes - other.minutes) > machine + hand


def flip_point(best: GasResult, rival: GasResult) -> str:
    """Say which one input, changed least against how sure it is, turns the advice."""
    gap = rival.minutes - best.minutes
    law = OTHER_LAW if "oxygen" in (best.gas, rival.gas) else SAME_LAW
    ways: list[tuple[float, str]] = []
    slower = gap / (best.timing.total / 60.0)
    ways.append((slower / law, f"{spoken(best.gas)} ran {slower:.0%} slower than reckoned"))
    if best.rework_min > 0.0:
        more = gap / best.rework_min
        ways.append(
            (more / HAND_WORK, f"hand work after {spoken(best.gas)} took {more:.0%} longer")
        )
    if rival.rework_min > gap > 0.0:
        less = gap / rival.rework_min
        if less < 1.5 * HAND_WORK:  # nearly no hand work at all is no change anyone could make
            words = f"hand work after {spoken(rival.gas)} took {less:.0%} less"
            ways.append((less / HAND_WORK, words))
    unlikely, words = min(ways)
    if gap <= 0.0 or unlikely > 3.0:
        return ""  # three times what the input may be off: not near
    return f"if {words}, {spoken(rival.gas)} would win".replace("%", " %")
