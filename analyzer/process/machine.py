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
        Head lift and lowering per traverse. [s]
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
