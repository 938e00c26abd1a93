"""Tolerances that have a name; they are passed in, never written as numbers in the code."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Tolerances:
    """Distances and angles below which two things count as the same.

    Attributes
    ----------
    weld : float
        Ends nearer than this are one point. [mm]
    join : float
        A gap between two dangling ends up to this is closed, and said. [mm]
    flatten : float
        Splines and ellipses are replaced by lines and arcs within this. [mm]
    vanish : float
        A segment shorter than this has no length. [mm]
    smooth_deg : float
        A joint turning less than this is no corner. [degrees]
    same_part : float
        Two parts whose outlines and cut-outs differ less than this are the same. [mm]
    round_hole : float
        A cut-out is a round hole when it stays this near to its fitted circle, in
        proportion to the radius (never less than `flatten`). [-]
    """

    weld: float = 1e-4
    join: float = 0.1
    flatten: float = 0.01
    vanish: float = 1e-9
    smooth_deg: float = 3.0
    same_part: float = 0.02
    round_hole: float = 0.02


DEFAULT = Tolerances()
