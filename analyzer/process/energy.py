"""Energy balance of fusion cutting: could the beam have cut that fast?

P A = rho w d v [c (Tm - T0) + Lm] + P_cond, the lumped heat-capacity form (Steen & Mazumder,
*Laser Material Processing*, 4th ed., Springer 2010; from memory), with the conduction loss
P_cond = 4 k d (Tm - T0) (v w / 4 alpha)^0.36 (Schulz, Becker, Franke, Kemmerling, Herziger,
J. Phys. D 26 (1993) 1357-1363; formula from memory, an upper estimate).
"""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.process.material import material as known_material


@dataclass(frozen=True)
class EnergyBalance:
    """What one cut needs. Powers [W]; Peclet number v w / alpha and absorbed share [-]."""

    peclet: float
    melt_w: float
    conduction_w: float
    absorbed: float


def energy_balance(
    material: str,
    thickness_mm: float,
    kerf_mm: float,
    speed_m_per_min: float,
    power_kw: float,
    superheat_j_kg: float = 0.0,
) -> EnergyBalance:
    """Return the power a fusion cut needs, and the share of the beam it must absorb.

    Parameters
    ----------
    material : str
        Canonical name.
    thickness_mm, kerf_mm : float
        Sheet and mean kerf. [mm]
    speed_m_per_min : float
        Cutting speed. [m/min]
    power_kw : float
        Laser power. [kW]
    superheat_j_kg : float
        Heat the melt takes up above melting; 0 for the plausibility check. [J/kg]

    Examples
    --------
    >>> round(energy_balance("mild-steel", 10.0, 0.5, 4.64, 10.0).absorbed, 3)
    0.629
    """
    m = known_material(material)
    d, w, v = thickness_mm * 1e-3, kerf_mm * 1e-3, speed_m_per_min / 60.0
    heat = m.specific_heat_j_kgk * m.melting_rise_k + m.latent_heat_j_kg + superheat_j_kg
    melt = m.density_kg_m3 * w * d * v * heat
    peclet = v * w / (m.diffusivity_mm2_s * 1e-6)
    conduction = 4.0 * m.conductivity_w_mk * d * m.melting_rise_k * (peclet / 4.0) ** 0.36
    return EnergyBalance(peclet, melt, conduction, (melt + conduction) / (power_kw * 1e3))
