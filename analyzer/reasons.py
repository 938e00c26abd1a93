"""Two results side by side, in words: what one costs more, how sure that is, what would turn it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from analyzer.analysis import GasResult
from analyzer.rules.rule import Finding
from analyzer.spread import worth
from analyzer.units import by_hand, span

TIE = 0.01  # differences below this share of the minutes or money decide nothing [-]
SHOWN_TERM = 0.2  # least share of a difference in money that a term is named for [-]
FEW_CENTS = 0.1  # differences below this are said for a hundred [money]
TERM_WORDS = {
    "machine": "machine time", "operator": "operator", "gas": "gas", "energy": "electricity",
    "consumables": "wear parts", "rework": "hand work", "unloading": "unloading",
    "material": "plate",
}  # fmt: skip

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


def burrs_more(one: GasResult, other: GasResult) -> bool:
    """Whether `one` leaves more burr than `other` by more than can be told: 1 % of its edge."""
    return burr_metres(one) - burr_metres(other) > TIE * sum(one.edge_m)


def leaves_no_burr(result: GasResult) -> bool:
    """Whether the edge is as good as free of burr.

    The fraction of a millimetre at the start and end of every contour, where the head
    speeds up, does not count against a gas.
    """
    return burr_metres(result) <= TIE * sum(result.edge_m)


def spoken(gas: str) -> str:
    """Return the gas as it is spoken of: "mixed gas", else its name."""
    return "mixed gas" if gas == "mixed" else gas


def money(value: float) -> str:
    """Return money as spoken: whole from ten on, else with the small change.

    Examples
    --------
    >>> money(1234.4), money(9.95), money(0.4)
    ('1,234', '9.95', '0.40')
    """
    return f"{value:,.0f}" if abs(value) >= 10.0 else f"{value:.2f}"


def against(best: GasResult, rival: GasResult, currency: str = "") -> str:
    """Say what the rival costs more: in money where there are rates, else in time."""
    if best.cost is not None and rival.cost is not None:
        return _dearer(best, rival, currency)
    if abs(rival.minutes - best.minutes) <= TIE * best.minutes:
        return _as_good("takes as long", best, rival)
    return slower(best, rival)


def _as_good(what: str, best: GasResult, rival: GasResult) -> str:
    if burrs_more(best, rival):  # passed over: docs/advice.md, not for speed alone
        return f"{spoken(rival.gas)} {what}; its lesser burr saves no hand work"
    more = burrs_more(rival, best)
    edge = "leaves more burr" if more else f"gives no better edge than {spoken(best.gas)}"
    return f"{spoken(rival.gas)} {what} and {edge}"


def slower(best: GasResult, rival: GasResult) -> str:
    """Say what the rival takes longer, hand work and machine apart."""
    machine = rival.timing.total - best.timing.total
    hand = 60.0 * (rival.rework_min - best.rework_min)
    name = spoken(rival.gas)
    if abs(machine) < 0.05 and hand < 0.5:  # "0.0 s more" says nothing
        saved = f"saves {by_hand(-hand)} by hand and takes" if hand <= -0.5 else "takes"
        return f"{name} {saved} as long at the machine"
    if abs(machine) < 0.05 and hand >= 0.5:
        return f"{name} takes as long at the machine but needs {by_hand(hand)} more by hand"
    if machine < 0.0 and hand < 0.5:
        saved = f" and saves {by_hand(-hand)} by hand" if hand <= -0.5 else ""
        return f"{name} is {span(-machine)} faster{saved}"
    if machine < 0.0:
        return f"{name} is {span(-machine)} faster but needs {by_hand(hand)} more by hand"
    more = f"needs {span(machine)} more at the machine"
    if hand >= 0.5:
        return f"{name} {more} and {by_hand(hand)} more by hand"
    if hand <= -0.5:
        return f"{name} saves {by_hand(-hand)} by hand but {more}"
    return f"{name} {more} for the same hand work"


def _dearer(best: GasResult, rival: GasResult, currency: str) -> str:
    """Say what the rival costs more, and in which terms."""
    if best.cost is None or rival.cost is None:
        return slower(best, rival)
    more = rival.cost.of_the_gas - best.cost.of_the_gas
    if abs(more) <= TIE * best.cost.of_the_gas:
        return _as_good("costs as much", best, rival)
    # a part of a few cents: said for a hundred, or nothing is left of the difference
    often, per = (100.0, " per 100") if abs(more) < FEW_CENTS else (1.0, "")
    terms = {
        name: often * (getattr(rival.cost, name) - getattr(best.cost, name))
        for name in TERM_WORDS
        if name not in ("material", "unloading")
    }
    shown = SHOWN_TERM * often * abs(more)
    up = sorted((n for n in terms if terms[n] >= shown), key=lambda n: -terms[n])
    down = sorted((n for n in terms if terms[n] <= -shown), key=lambda n: terms[n])
    amount = f"{money(often * abs(more))} {currency} {'more' if more > 0 else 'less'}{per}"
    ups = listed(f"{money(terms[name])} for {TERM_WORDS[name]}" for name in up)
    downs = listed(f"{money(-terms[name])} less for {TERM_WORDS[name]}" for name in down)
    split = f"{ups}{', but ' if ups and downs else ''}{downs}"
    return f"{spoken(rival.gas)} costs {amount} ({split})"


def changes(best: GasResult, rival: GasResult) -> str:
    """Say what is different with the rival: time, hand work, burr, oxide of the gas."""
    words = [slower(best, rival)]
    for number, name in ((3, "burr for the grinder"), (2, "burr for brush or belt")):
        more = rival.edge_m[number] - best.edge_m[number]
        if abs(more) >= 0.05:
            words.append(f"{abs(more):.1f} m {'more' if more > 0 else 'less'} {name}")
    if _face(best) != _face(rival):
        words.append(_face(rival))
    return ", ".join(words)


_FACES = {
    ("mild-steel", "oxygen"): "a loose black oxide",
    ("mild-steel", "mixed"): "a thin dark oxide that holds",
    ("mild-steel", "air"): "a thin oxide",
    ("stainless", "mixed"): "an oxidised edge",
    ("stainless", "air"): "an oxidised edge",
}


def _face(result: GasResult) -> str:
    """Return what the gas leaves on the cut face."""
    return _FACES.get((result.material, result.gas), "a bright edge")


def by_the_edge(best: GasResult, rival: GasResult) -> str:
    """Say which of two gases to take by what each leaves on the edge."""
    less = rival if burrs_more(best, rival) else best if burrs_more(rival, best) else None
    if _face(best) == _face(rival):
        if less is None:
            return ", nor in the edge"
        return f": where the edge matters take {spoken(less.gas)}, which leaves less burr"
    burr = {id(less): "less burr but "} if less else {}
    both = (f"{spoken(r.gas)} leaves {burr.get(id(r), '')}{_face(r)}" for r in (best, rival))
    return f": choose by the edge ({'; '.join(both)})"


def stays_on(result: GasResult) -> float:
    """Metres of edge with burr of class 2 and 3. [m]"""
    return result.edge_m[2] + result.edge_m[3]


def cleaner(best: GasResult, others: Iterable[GasResult]) -> GasResult | None:
    """Return the gas that leaves least burr of class 2 and up, by more than 1 % of the edge less
    than `best`; None where `best` is as clean as any."""
    enough = stays_on(best) - TIE * sum(best.edge_m)
    less = [one for one in others if stays_on(one) < enough]
    return min(less, key=lambda one: (stays_on(one), worth(one)), default=None)


def _past(result: GasResult) -> str:
    """Say what holds back a gas that loses nothing of its own."""
    if result.setting.power_level == "ok" and result.setting.pressure_level != "ok":
        return "wants more pressure than the shop has"
    return "past what this power cuts well"


def why_worse(worse: Iterable[GasResult], everywhere: set[Key]) -> str:
    """Say why these gases are out, those with the same reason together."""
    by_reason: dict[str, list[str]] = {}
    for result in worse:
        own = sorted({rule for rule, _, _ in losses(result.findings) - everywhere})
        reason = f" would lose: {', '.join(own)}" if own else f": {_past(result)}"
        by_reason.setdefault(reason, []).append(spoken(result.gas))
    return "; ".join(f"{listed(gases)}{reason}" for reason, gases in by_reason.items())


def listed(words: Iterable[str]) -> str:
    """Return "a", "a and b", "a, b and c"."""
    all_words = list(words)
    if len(all_words) < 2:
        return "".join(all_words)
    return ", ".join(all_words[:-1]) + " and " + all_words[-1]
