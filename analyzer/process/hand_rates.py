"""How the shop deburrs, brushes and rounds: section [rework] of the shop file.

Start values are those of `data/rework.toml`: common practice, no source, +-50 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from analyzer.job import NEXT_STEPS
from analyzer.process.load import number, table
from analyzer.process.typed import TomlFile

BURR_METHODS = ("grinder", "file", "belt")
OXIDE_METHODS = ("hand", "machine", "blast")
ROUNDING_METHODS = ("hand", "machine")
# Key: least and most that can be meant.
_NUMBERS: dict[str, tuple[float, float]] = {
    "class_1_min_per_m": (0.0, 60.0),
    "class_2_min_per_m": (0.0, 60.0),
    "class_3_min_per_m": (0.0, 120.0),
    "cut_outs_factor": (0.5, 10.0),
    "belt_class_1_m_per_min": (0.05, 30.0),
    "belt_class_2_m_per_min": (0.05, 30.0),
    "belt_class_3_m_per_min": (0.05, 30.0),
    "belt_part_min": (0.0, 10.0),
    "parts_abreast": (1.0, 50.0),
    "oxide_m_per_min": (0.01, 30.0),
    "brush_m_per_min": (0.05, 30.0),
    "brush_passes": (1.0, 10.0),
    "blast_m2_per_h": (0.1, 500.0),
    "rounding_min_per_m": (0.0, 60.0),
    "rounding_m_per_min": (0.05, 30.0),
    "pickle_min_per_m": (0.0, 60.0),
    "light_part_min": (0.0, 60.0),
    "heavy_part_min": (0.0, 60.0),
    "heavy_above_kg": (0.0, 1000.0),
}


@dataclass(frozen=True)
class HandRates:
    """What the shop has for the work after cutting; None where it leaves a rate to us.

    Attributes
    ----------
    burr : str
        "grinder" (or belt file), "file" (hand file or scraper) or "belt" (wide-belt machine).
    oxide : str
        "hand" (wire brush, flap disc), "machine" (steel brushes) or "blast".
    rounding : str
        "hand" or "machine".
    round_edges_before : tuple of str
        Next steps before which the edges are rounded, R 2.
    told : tuple of (str, float)
        Rates by their keys in [rework].
    burr_factor, oxide_factor, handling_factor : float
        Measured minutes over these rates, from calibration; 1 until measured. [-]
    """

    burr: str = "grinder"
    oxide: str = "hand"
    rounding: str = "hand"
    round_edges_before: tuple[str, ...] = ()
    told: tuple[tuple[str, float], ...] = ()
    burr_factor: float = 1.0
    oxide_factor: float = 1.0
    handling_factor: float = 1.0

    def rate(self, key: str) -> float:
        """Return the rate called `key`: the shop's, else the start value."""
        return dict(self.told).get(key, number("rework", "rates", key))

    def minutes_per_m(self) -> tuple[float, float, float, float]:
        """Return minutes per metre of edge by burr class 0..3, by hand. [min/m]"""
        start = table("rework", "burr", "by_tool")[self.burr if self.burr == "file" else "grinder"]
        told = dict(self.told)
        one, two, three = (
            float(told.get(f"class_{n}_min_per_m", start[n])) for n in (1, 2, 3)
        )  # fmt: skip
        return 0.0, one, two, three

    @property
    def by_machine(self) -> bool:
        """Whether a machine does any of it, so that the length of a part counts."""
        return "machine" in (self.oxide, self.rounding) or self.burr == "belt"

    @property
    def words(self) -> str:
        """How burr and oxide come off, for the list of what was assumed."""
        burr = {"grinder": "grinder or belt file", "file": "hand file", "belt": "wide-belt machine"}
        oxide = {"hand": "wire brush by hand", "machine": "brush machine", "blast": "blasting"}
        return f"burr by {burr[self.burr]}, oxide by {oxide[self.oxide]}"


START_RATES = HandRates()
"""Rates of a shop that has not told its own."""


def parse_rework(file: TomlFile, value: Any) -> dict[str, Any]:
    """Return the field `rework` that [rework] tells.

    Raises
    ------
    InputError
        If a key is not known or a value cannot be meant.
    """
    section = file.table("rework", value)
    choices = {"burr": BURR_METHODS, "oxide": OXIDE_METHODS, "rounding": ROUNDING_METHODS}
    file.known("rework", section, (*choices, "round_edges_before", *_NUMBERS))
    picked = {
        key: file.choice("rework", section, key, valid)
        for key, valid in choices.items()
        if key in section
    }
    steps: tuple[str, ...] = ()
    if "round_edges_before" in section:
        steps = file.texts("rework", section, "round_edges_before")
        for step in steps:
            if step not in NEXT_STEPS:
                raise file.wrong(
                    f"next step {step!r} is not known", "use one of " + ", ".join(NEXT_STEPS),
                    "rework", "round_edges_before",
                )  # fmt: skip
    told = tuple(
        (key, file.number("rework", section, key, *bounds))
        for key, bounds in _NUMBERS.items()
        if key in section
    )
    start = START_RATES
    rates = HandRates(
        burr=picked.get("burr", start.burr),
        oxide=picked.get("oxide", start.oxide),
        rounding=picked.get("rounding", start.rounding),
        round_edges_before=steps,
        told=told,
    )
    return {"rework": rates}
