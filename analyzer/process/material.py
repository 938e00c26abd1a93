"""Materials: names people type, properties, and those that are refused."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

from analyzer.errors import InputError
from analyzer.process.load import data

CUTTABLE = ("mild-steel", "stainless", "aluminium")
"""Materials of the starter tables, in the order answers list them."""


@dataclass(frozen=True)
class Material:
    """One material.

    Attributes
    ----------
    name, words : str
        Canonical name ("mild-steel") and the name in a sentence ("mild steel").
    density_kg_m3 : float
        Density of the sheet. [kg/m^3]
    specific_heat_j_kgk, conductivity_w_mk, diffusivity_mm2_s : float
        Means from 20 C to melting. [J/kgK, W/mK, mm^2/s]
    melting_rise_k : float
        From 20 C to liquidus. [K]
    latent_heat_j_kg : float
        Latent heat of fusion. [J/kg]
    source : str
        Where the numbers are from.
    """

    name: str
    words: str
    density_kg_m3: float
    specific_heat_j_kgk: float
    conductivity_w_mk: float
    diffusivity_mm2_s: float
    melting_rise_k: float
    latent_heat_j_kg: float
    source: str

    def weight_kg(self, area_mm2: float, thickness_mm: float) -> float:
        """Return the weight of `area_mm2` of sheet. [kg]"""
        return area_mm2 * thickness_mm * 1e-9 * self.density_kg_m3


# What stands behind a grade and changes nothing here: as rolled or normalised (EN 10025),
# surface (EN 10088-2), temper (EN 515); all from memory.
_STATES = {
    "mild-steel": re.compile(r"\s*\+\s*(N|AR|M)$", re.IGNORECASE),
    "stainless": re.compile(r"[\s/-]+(1D|2B|2D|2R)$", re.IGNORECASE),
    "aluminium": re.compile(r"[\s/-]+(F|O|H[1-9]\d{1,2}|T[1-9]\d{0,3})$", re.IGNORECASE),
}


def _key(text: str) -> str:
    return "".join(c for c in text.lower() if c.isalnum())


@cache
def _names() -> dict[str, str]:
    """Return every spelling, stripped to letters and digits, with its canonical name."""
    return {
        _key(spelling): name
        for name, row in data("materials").items()
        for spelling in (name, *row["aliases"])
    }


def _in_its_state(text: str) -> str | None:
    """Return the material of a grade with the state it is delivered in behind it."""
    for name, state in _STATES.items():
        grade = state.sub("", text.strip())
        if grade != text.strip() and _names().get(_key(grade)) == name:
            return name
    return None


@cache
def material(name: str) -> Material:
    """Return the material of canonical `name` ("mild-steel", ...), without any refusal."""
    row = data("materials")[name]
    return Material(name=name, **{k: row[k] for k in Material.__dataclass_fields__ if k != "name"})


def material_named(text: str, own_rows_for: Collection[str] = ()) -> Material:
    """Return the material called `text` ("S235", "1.4301", "aluminum", ...).

    Parameters
    ----------
    text : str
        What the user typed.
    own_rows_for : collection of str
        Canonical names of the materials the shop has cutting rows of its own for.

    Raises
    ------
    InputError
        If the name is not known (the message lists the valid ones); for titanium and
        magnesium (fire); for copper and brass without own rows (back reflection).

    Examples
    --------
    >>> material_named("1.4301").name
    'stainless'
    >>> [material_named(grade).name for grade in ("S235JR+N", "EN AW-5754 H111")]
    ['mild-steel', 'aluminium']
    """
    name = _names().get(_key(text)) or _in_its_state(text)
    if name is None:
        near = get_close_matches(_key(text), _names(), n=1, cutoff=0.75)
        raise InputError(
            f"material {text!r} is not known",
            hint=(f"did you mean {_names()[near[0]]}? " if near else "")
            + "use one of "
            + ", ".join(CUTTABLE)
            + ", or a grade such as S355, 1.4301, AlMg3",
        )
    row = data("materials")[name]
    if reason := row.get("refused"):
        raise InputError(
            f"{name} is refused: {reason}",
            hint="ask the maker of the laser and your fire officer; this tool gives no settings",
        )
    if (reason := row.get("refused_without_own_rows")) and name not in own_rows_for:
        raise InputError(
            f"{name} is refused: {reason}, and the starter tables have no settings for it",
            hint="enter rows from your machine's own table as [[cutting]] in burrcast.toml",
        )
    return material(name)
