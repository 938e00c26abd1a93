"""Which of some gases to take: losses first, then money or minutes.  Rules: docs/advice.md."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.analysis import GasResult
from analyzer.reasons import (
    TIE,
    Key,
    against,
    burr_metres,
    burrs_more,
    leaves_no_burr,
    listed,
    losses,
    money,
    spoken,
    why_worse,
)
from analyzer.spread import worth
from analyzer.units import span

LOST_WHOLE = {"thickness-beyond-power", "gas-unsuited", "edge-unfit-for-next-step"}
"""Rules whose loss is all that is cut, not one place of it."""

SPEED_ALONE = 0.05  # least gain for which mixed gas is worth it by speed alone [-]; docs/advice.md


@dataclass(frozen=True, eq=False)
class Pick:
    """The gas chosen, the reason, and the next best it was weighed against."""

    result: GasResult
    reason: str
    rival: GasResult | None
    told: bool = False  # the reason says itself that the difference is not known


def _tier(result: GasResult, everywhere: set[Key]) -> tuple[int, int]:
    """Order of worth before minutes: without own loss and within power; without; the fewest.

    A gas that loses all that is cut comes after every gas that loses places of it.
    """
    own = losses(result.findings) - everywhere
    if not own:
        return (0, 0) if result.setting.within_power else (1, 0)
    whole = any(rule in LOST_WHOLE for rule, _, _ in own)
    return (3 if whole else 2, len(own))


def choose(candidates: list[GasResult], everywhere: set[Key], currency: str = "") -> Pick:
    """Return the best of `candidates`, the reason, and the next best it was weighed against."""
    tiers = {result.gas: _tier(result, everywhere) for result in candidates}
    least = min(tiers.values())
    peers = [result for result in candidates if tiers[result.gas] == least]
    best, passed_over = _best(peers)
    others = [result for result in peers if result is not best]
    rival = min(others, key=worth) if others else None
    told = bool(passed_over)
    if told:
        reason = _for_speed_alone(passed_over, best, currency)
    else:
        worse = [r for r in candidates if r not in peers]
        reason = _reason(best, rival, worse, everywhere, currency)
    if least[0] >= 2:  # the reason has to begin with that
        reason = f"no gas is without loss; {_fewest(least, candidates, tiers, best)}{reason}"
    return Pick(best, reason, rival, told)


def _best(peers: list[GasResult]) -> tuple[GasResult, list[GasResult]]:
    """Return the gas of least worth, and those passed over that had speed alone for them."""
    nitrogen = next((result for result in peers if result.gas == "nitrogen"), None)
    left = list(peers)
    passed_over: list[GasResult] = []
    while True:
        least = min(worth(result) for result in left)
        tied = [result for result in left if worth(result) <= least * (1.0 + TIE)]
        cleanest = min(tied, key=burr_metres)
        clean = [result for result in tied if not burrs_more(result, cleanest)]
        best = min(clean, key=lambda r: (r.gas == "mixed", r.gas == "air", worth(r)))
        if nitrogen is None or not _speed_alone(best, nitrogen):
            return best, passed_over
        passed_over.append(best)
        left.remove(best)


def _speed_alone(best: GasResult, nitrogen: GasResult) -> bool:
    """Whether a gas with oxygen has only machine time for it, and too little of that.

    Mixed gas needs a mixer; and on stainless the edge oxidises in mixed gas and air.
    """
    if not (best.gas == "mixed" or (best.gas == "air" and _stainless(best))):
        return False
    if nitrogen.rework_min - best.rework_min > TIE * nitrogen.minutes:
        return False  # it saves hand work too
    if leaves_no_burr(nitrogen):
        return True
    return worth(nitrogen) - worth(best) < SPEED_ALONE * worth(nitrogen)


def _for_speed_alone(passed_over: list[GasResult], best: GasResult, currency: str) -> str:
    """Say why gases that are a little faster or cheaper than the best are not worth it."""
    gases = listed(spoken(result.gas) for result in passed_over)
    gain = worth(best) - min(worth(result) for result in passed_over)
    in_money = best.cost is not None
    how = "cheaper" if in_money else "faster"
    much = f"{money(gain)} {currency}" if in_money else span(60.0 * gain)
    if gain < (0.005 if in_money else 0.05 / 60.0):
        faster = f"would be no {how}"
    elif len(passed_over) == 1:
        faster = f"would only be {much} {how}"
    else:
        faster = f"would be at most {much} {how}"
    edge = ", oxidise the edge" if _stainless(best) and best.gas == "nitrogen" else ""
    words = f"{gases} {faster}{edge} and save no hand work"
    if leaves_no_burr(best):
        return f"{words}, and {spoken(best.gas)} leaves no burr here"
    if any(burrs_more(best, result) for result in passed_over):
        words += " unless burr left as cut has to come off"
    return f"{words}; that is less than we know of the speeds"


def _stainless(result: GasResult) -> bool:
    return result.material == "stainless"


def _reason(
    best: GasResult,
    rival: GasResult | None,
    worse: list[GasResult],
    everywhere: set[Key],
    currency: str,
) -> str:
    if rival is not None:
        return against(best, rival, currency)
    if worse:
        return why_worse(worse, everywhere)
    return "no other gas was looked at"


def _fewest(
    least: tuple[int, int], candidates: list[GasResult], tiers: dict[str, tuple[int, int]],
    best: GasResult,
) -> str:  # fmt: skip
    """Say how many places the best loses of its own, and the others."""
    others = [r for r in candidates if r is not best and tiers[r.gas] > least]
    if least[0] > 2:
        return f"{spoken(best.gas)} is the least bad; "
    if others and all(tiers[r.gas][0] > 2 for r in others):
        more = "; the others lose all that is cut"
    else:
        counts = [
            f"{'all' if tiers[r.gas][0] > 2 else tiers[r.gas][1]} in {spoken(r.gas)}"
            for r in others
        ]
        more = f"; {', '.join(counts)}" if counts else ""
    return f"{spoken(best.gas)} has the fewest of its own ({least[1]}{more}); "
