"""The machine: what its drives and its head can do."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Machine:
    """Motion and head data of one laser.

    Start values: common practice, no source (handed to every answer as an assumption).

    Attributes
    ----------
    rapid_m_per_min : float
        Speed of moves between contours. [m/min]
    rapid_acceleration : float
        Acceleration of those moves. [m/s^2]
    cut_acceleration : float
        Acceleration along the contour and across it in curves. [m/s^2]
    jerk : float
        Change of acceleration. [m/s^3]
    corner_tolerance_mm : float
        How far the head may cut a corner. [mm]
    start_overhead_s : float
        Height sensing and gas settling at every start. [s]
    lift_s : float
        Head lift and lowering per traverse that is not overlapped with the move. [s]
        0 by default: a usual head hops 5 to 20 mm while it moves, and what sensing the
        plate takes is in `start_overhead_s`.  Full lifts of 30 to 50 mm take 0.15 to 0.6 s.
    marking_m_per_min : float
        Speed along mark lines. [m/min]
    """

    rapid_m_per_min: float = 120.0
    rapid_acceleration: float = 15.0
    cut_acceleration: float = 8.0
    jerk: float = 200.0
    corner_tolerance_mm: float = 0.05
    start_overhead_s: float = 0.3
    lift_s: float = 0.0
    marking_m_per_min: float = 15.0

    @property
    def rapid_mm_s(self) -> float:
        """Speed of moves between contours. [mm/s]"""
        return self.rapid_m_per_min * 1000.0 / 60.0

    @property
    def marking_mm_s(self) -> float:
        """Speed along mark lines. [mm/s]"""
        return self.marking_m_per_min * 1000.0 / 60.0


START_VALUES = Machine()
"""The machine nobody has described yet."""


def assumptions(machine: Machine) -> tuple[str, ...]:
    """Return what is taken for the machine, one line each, for the end of an answer.

    Values that are still ours are called start values.
    """

    def said(*names: str) -> str:
        same = all(getattr(machine, n) == getattr(START_VALUES, n) for n in names)
        return "start value" if same else "your value"

    m = machine
    lift = "overlapped with the move" if m.lift_s == 0.0 else f"{m.lift_s:g} s each"
    return (
        f"moves {m.rapid_m_per_min:g} m/min at {m.rapid_acceleration:g} m/s2 "
        f"({said('rapid_m_per_min', 'rapid_acceleration')})",
        f"cutting acceleration {m.cut_acceleration:g} m/s2 ({said('cut_acceleration')})",
        f"jerk {m.jerk:g} m/s3 ({said('jerk')})",
        f"corner tolerance {m.corner_tolerance_mm:g} mm ({said('corner_tolerance_mm')})",
        f"start, sensing and gas {m.start_overhead_s:g} s each ({said('start_overhead_s')})",
        f"head lift {lift} ({said('lift_s')})",
        f"marking {m.marking_m_per_min:g} m/min ({said('marking_m_per_min')})",
    )
