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
    x_acceleration, y_acceleration : float
        Largest acceleration of each axis while cutting; 0 where the axes are not told. [m/s^2]
    x_jerk, y_jerk : float
        Largest jerk of each axis; 0 where the axes are not told. [m/s^3]
    hop_up_to_mm : float
        Moves up to this length hide the lift in the move; longer ones pay `lift_s`. [mm]
    overlap_mm : float
        How far the cut runs on past where it began; negative leaves a gap. [mm]
    cool_point_s : float
        Beam-off pause at sharp outside corners in oxygen; 0 is none. [s]
    pre_pierce : bool
        All pierces of a thick oxygen cut are made before the first contour.
    fly_cutting_up_to_mm : float
        Grids of holes and slots are cut without a stop up to this thickness; 0 is not at
        all. [mm]
    slug_cut_from_mm : float
        Cut-outs with an extent above this are cut into pieces that fall; 0 is never. [mm]
    film_m_per_min : float
        Speed of the pass that burns the film off before the cut. [m/min]
    pallet_change_s : float
        From the end of one sheet to the start of the next. [s]
    slat_pitch_mm, slat_thickness_mm : float
        Distance and thickness of the slats a sheet lies on. [mm]
    standoff_mm : float
        Nozzle above the sheet while it cuts; a raised edge above it is hit. [mm]
    purge_s : float
        Gas that blows before every pierce, part of `start_overhead_s`. [s]
    gas_flow_factor : float
        Gas used by your own meter over the gas forecast; 1 until you have read one. [-]
    electric_cutting_kw, electric_idle_kw : float
        Electric power of the whole machine with the beam on, and off but running; 0 where
        it follows from the laser power. [kW]
    """

    rapid_m_per_min: float = 120.0
    rapid_acceleration: float = 15.0
    cut_acceleration: float = 8.0
    jerk: float = 200.0
    corner_tolerance_mm: float = 0.05
    start_overhead_s: float = 0.3
    lift_s: float = 0.0
    marking_m_per_min: float = 15.0
    x_acceleration: float = 0.0
    y_acceleration: float = 0.0
    x_jerk: float = 0.0
    y_jerk: float = 0.0
    hop_up_to_mm: float = 0.0
    overlap_mm: float = 0.0
    cool_point_s: float = 0.0
    pre_pierce: bool = False
    fly_cutting_up_to_mm: float = 0.0
    slug_cut_from_mm: float = 0.0
    film_m_per_min: float = 20.0
    pallet_change_s: float = 25.0
    slat_pitch_mm: float = 66.7
    slat_thickness_mm: float = 2.0
    standoff_mm: float = 1.0
    purge_s: float = 0.3
    gas_flow_factor: float = 1.0
    electric_cutting_kw: float = 0.0
    electric_idle_kw: float = 0.0

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


# Said only where the shop tells its own: few jobs hang on them.
_ONLY_IF_TOLD = {
    "x_acceleration": "x axis {:g} m/s2",
    "y_acceleration": "y axis {:g} m/s2",
    "x_jerk": "x axis {:g} m/s3",
    "y_jerk": "y axis {:g} m/s3",
    "hop_up_to_mm": "moves to {:g} mm hide the lift",
    "overlap_mm": "overlap {:g} mm",
    "cool_point_s": "cool points {:g} s",
    "pre_pierce": "pierces first: {}",
    "fly_cutting_up_to_mm": "cutting on the fly to {:g} mm",
    "slug_cut_from_mm": "cut-outs above {:g} mm cut up",
    "film_m_per_min": "film pass {:g} m/min",
    "pallet_change_s": "pallet change {:g} s",
    "purge_s": "purge {:g} s a start",
    "gas_flow_factor": "gas use {:g} x forecast, by your meter",
    "electric_cutting_kw": "{:g} kW electric while cutting",
    "electric_idle_kw": "{:g} kW electric between cuts",
}


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
        f"slats {m.slat_thickness_mm:g} mm thick every {m.slat_pitch_mm:g} mm "
        f"({said('slat_pitch_mm', 'slat_thickness_mm')})",
        f"nozzle {m.standoff_mm:g} mm above the sheet ({said('standoff_mm')})",
        *(
            words.format(getattr(m, name)) + " (your value)"
            for name, words in _ONLY_IF_TOLD.items()
            if getattr(m, name) != getattr(START_VALUES, name)
        ),
    )
