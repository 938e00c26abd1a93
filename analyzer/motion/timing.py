"""Where the seconds go: the time split of a part, a drawing or a sheet."""

from __future__ import annotations

from dataclasses import dataclass, fields

TERMS = ("cut", "slowed", "leads", "starts", "pierce", "traverse", "marking")
"""Terms every answer has; the others only where they are not 0."""

EXTRAS = ("film", "slugs", "cool", "handling")


@dataclass(frozen=True)
class Timing:
    """Time split. [s]

    cut = path length, overlap included / table speed; slowed = what the profile takes longer;
    leads = lead-ins / table speed; starts = sensing and gas settling; pierce; traverse =
    moves between contours and lift; marking; film = the pass that burns the film off; slugs =
    cutting large cut-outs into pieces; cool = pauses at sharp corners in oxygen; handling = pallet
    change of a sheet.
    """

    cut: float = 0.0
    slowed: float = 0.0
    leads: float = 0.0
    starts: float = 0.0
    pierce: float = 0.0
    traverse: float = 0.0
    marking: float = 0.0
    film: float = 0.0
    slugs: float = 0.0
    cool: float = 0.0
    handling: float = 0.0

    @property
    def total(self) -> float:
        """Sum of the terms. [s]"""
        return float(sum(self.terms().values()))

    def terms(self) -> dict[str, float]:
        """Return the terms by name, those of `EXTRAS` only where they are not 0. [s]

        Examples
        --------
        >>> list(Timing(cut=2.0, film=1.0).terms())
        ['cut', 'slowed', 'leads', 'starts', 'pierce', 'traverse', 'marking', 'film']
        """
        found = {f.name: float(getattr(self, f.name)) for f in fields(self)}
        return {name: value for name, value in found.items() if name in TERMS or value != 0.0}

    def __add__(self, other: Timing) -> Timing:
        return Timing(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

    def __mul__(self, times: float) -> Timing:
        return Timing(*(getattr(self, f.name) * times for f in fields(self)))
