"""The job: what is to be cut, on which laser, and what happens to the part next.  Values only."""

from dataclasses import dataclass

from analyzer.errors import InputError

PLATES = ("clean", "rusty", "scale", "film", "galvanised")
NEXT_STEPS = ("weld", "powder", "paint", "galvanise", "bend", "tap", "visible", "none")


@dataclass(frozen=True)
class Job:
    """One material and thickness on one laser.

    Attributes
    ----------
    material : str
        Canonical name: "mild-steel", "stainless" or "aluminium".
    thickness_mm : float
        Sheet thickness. [mm]
    power_kw : float
        Laser power. [kW]
    plate : str
        Surface of the plate, one of PLATES.
    plate_told : bool
        False where nobody said and `plate` is only taken to be so.
    next_step : str or None
        What follows cutting, one of NEXT_STEPS; None when not told.
    gases : tuple of str
        Gases asked for; empty means every gas with a table speed.
    oxygen_share_percent : float or None
        Oxygen in the mixed gas; None means the set point of the tables. [% by volume]
    tolerance : str or None
        General tolerance of the drawing, such as "2768-m".

    Raises
    ------
    InputError
        If plate or next step is not one of those.
    """

    material: str
    thickness_mm: float
    power_kw: float
    plate: str = "clean"
    next_step: str | None = None
    gases: tuple[str, ...] = ()
    oxygen_share_percent: float | None = None
    tolerance: str | None = None
    plate_told: bool = False

    def __post_init__(self) -> None:
        if self.plate not in PLATES:
            raise InputError(
                f"plate {self.plate!r} is not known", hint="use one of " + ", ".join(PLATES)
            )
        if self.next_step is not None and self.next_step not in NEXT_STEPS:
            raise InputError(
                f"next step {self.next_step!r} is not known",
                hint="use one of " + ", ".join(NEXT_STEPS),
            )
