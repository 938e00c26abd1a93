"""One line of the table of ratios, and how both of its sides are measured."""

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One line of the table; a goal is the most a ratio may be."""

    what: str
    against: str
    ours: float
    theirs: float
    goal: float
    unit: str = "s"

    @property
    def ratio(self) -> float:
        """Ours divided by theirs. [-]"""
        return self.ours / self.theirs

    def written(self) -> str:
        """Return the line as a row of a table."""
        met = "met" if self.ratio <= self.goal else "**not met**"
        cells = (
            self.what, self.against, self._shown(self.ours), self._shown(self.theirs),
            f"{self.ratio:.3g}", f"{self.goal:.3g}", met,
        )  # fmt: skip
        return "| " + " | ".join(cells) + " |"

    def _shown(self, value: float) -> str:
        """Return a value as it is written, whole numbers of many digits in full."""
        return f"{value:,.0f}" if value >= 1000.0 else f"{value:.3g} {self.unit}".strip()


def seconds(call: Callable[[], object]) -> float:
    """Return the processor time of one call. [s]"""
    begin = time.process_time()
    call()
    return time.process_time() - begin


def in_turns(ways: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Return the median of every way, run in turns. [s]"""
    times = [{name: seconds(way) for name, way in ways.items()} for _ in range(rounds)]
    return {name: statistics.median(one[name] for one in times) for name in ways}
