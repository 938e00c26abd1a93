"""The energy balance against worked values and its own scaling."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.process.energy import energy_balance
from analyzer.process.material import CUTTABLE, material

# Balance of Steen & Mazumder 2010 with the loss of Schulz et al. 1993 (both from memory),
# worked outside this project by script: material, mm, kW, m/min, kerf mm, Peclet, W, W, share.
WORKED = [
    ("mild-steel", 10, 10, 4.64, 0.5, 6.44, 3937, 2350, 0.629),
    ("mild-steel", 10, 10, 4.64, 0.6, 7.73, 4724, 2510, 0.723),
    ("mild-steel", 10, 10, 4.64, 0.7, 9.01, 5512, 2653, 0.816),
    ("mild-steel", 20, 20, 3.6, 0.5, 5.00, 6109, 4290, 0.520),
    ("mild-steel", 20, 20, 3.6, 0.6, 6.00, 7331, 4581, 0.596),
    ("mild-steel", 20, 20, 3.6, 0.7, 6.99, 8552, 4842, 0.670),
    ("stainless", 10, 12, 4.98, 0.506, 8.36, 3860, 1870, 0.477),
    ("aluminium", 8, 10, 5.84, 0.453, 0.82, 977, 1683, 0.266),
    ("mild-steel", 3, 10, 27.8, 0.277, 21.4, 3920, 1086, 0.501),
]


@pytest.mark.outside(
    "Energy balance, nine cases [-, W, W, share]",
    "Steen and Mazumder 2010, Schulz et al. 1993, from memory, worked by script",
)
@pytest.mark.parametrize("case", WORKED)
def test_worked_values(case: tuple[str, float, float, float, float, float, float, float, float]):
    name, t, power, speed, kerf, peclet, melt, conduction, absorbed = case
    found = energy_balance(name, t, kerf, speed, power)
    # stainless diffusivity is printed as 5.0 there, 25/(7900 x 630) = 5.023 was used
    assert found.peclet == pytest.approx(peclet, rel=0.009)
    assert found.melt_w == pytest.approx(melt, rel=0.002)
    assert found.conduction_w == pytest.approx(conduction, rel=0.005)
    assert found.absorbed == pytest.approx(absorbed, abs=0.0015)


@pytest.mark.outside(
    "Share absorbed with 300 K of superheat", "liquid iron of NIST-JANAF, worked by hand"
)
def test_superheat_adds_to_the_melt() -> None:
    """300 K of superheat at 824 J/kgK (liquid iron, NIST-JANAF): 0.704 instead of 0.629."""
    found = energy_balance("mild-steel", 10, 0.5, 4.64, 10, superheat_j_kg=300 * 824)
    assert found.absorbed == pytest.approx(0.704, abs=0.002)


@pytest.mark.outside(
    "Heat to melt steel, stainless, aluminium [J/mm3]", "NIST-JANAF; stainless from memory"
)
@pytest.mark.parametrize(
    ("name", "per_mm3"), [("mild-steel", 10.18), ("stainless", 9.19), ("aluminium", 2.77)]
)
def test_melt_enthalpy_per_volume(name: str, per_mm3: float) -> None:
    """J per mm3 melted from 20 C; iron and aluminium from NIST-JANAF, 304 from memory."""
    m = material(name)
    heat = m.specific_heat_j_kgk * m.melting_rise_k + m.latent_heat_j_kg
    assert m.density_kg_m3 * heat * 1e-9 == pytest.approx(per_mm3, abs=0.006)


@pytest.mark.parametrize("name", CUTTABLE)
def test_diffusivity_is_conductivity_over_heat_capacity(name: str) -> None:
    m = material(name)
    derived = m.conductivity_w_mk / (m.density_kg_m3 * m.specific_heat_j_kgk) * 1e6
    assert m.diffusivity_mm2_s == pytest.approx(derived, rel=0.01)


@given(v=st.floats(0.1, 60.0), k=st.floats(1.1, 5.0))
def test_scaling(v: float, k: float) -> None:
    """Melt power is linear in speed, the loss goes with its 0.36th power; sheet scales both."""
    one, faster = (energy_balance("stainless", 5, 0.4, s, 6) for s in (v, v * k))
    assert faster.melt_w == pytest.approx(k * one.melt_w)
    assert faster.conduction_w == pytest.approx(k**0.36 * one.conduction_w)
    thicker = energy_balance("stainless", 5 * k, 0.4, v, 6)
    assert thicker.absorbed == pytest.approx(k * one.absorbed)
    assert math.isclose(one.absorbed * 6000, one.melt_w + one.conduction_w)
