"""What the process station asks of a job; `analyzer.job.Job` has all of it.

The station lies below the job, so it names what it reads instead of importing it.
"""

from __future__ import annotations

from typing import Protocol


class Asked(Protocol):
    """Material, sheet, laser and wishes of one job; see `analyzer.job.Job`."""

    @property
    def material(self) -> str:
        """Canonical name of the material."""

    @property
    def thickness_mm(self) -> float:
        """Sheet thickness. [mm]"""

    @property
    def power_kw(self) -> float:
        """Laser power. [kW]"""

    @property
    def next_step(self) -> str | None:
        """What follows cutting; None when not told."""

    @property
    def gases(self) -> tuple[str, ...]:
        """Gases asked for; empty means every gas with a speed."""

    @property
    def oxygen_share_percent(self) -> float | None:
        """Oxygen in the mixed gas; None means the set point. [% by volume]"""
