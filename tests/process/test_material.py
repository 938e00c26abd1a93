"""Materials and gases by the names people type."""

import pytest

from analyzer.errors import InputError
from analyzer.process.gas import GASES, gas_named
from analyzer.process.load import data
from analyzer.process.material import CUTTABLE, material, material_named


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("mild-steel", "mild-steel"), ("Mild Steel", "mild-steel"), ("S235JR", "mild-steel"),
        ("s355", "mild-steel"), ("1.0038", "mild-steel"), ("MS", "mild-steel"),
        ("304", "stainless"), ("1.4301", "stainless"), ("X5CrNi18-10", "stainless"),
        ("aluminum", "aluminium"), ("AlMg3", "aluminium"), ("EN AW-5754", "aluminium"),
        ("en_aw 5754", "aluminium"),
    ],
)  # fmt: skip
def test_names(text: str, name: str) -> None:
    assert material_named(text).name == name


def test_densities() -> None:
    """EN 1993-1-1, EN 10088-1 and a data sheet of AlMg3 (2660 to 2670), from memory."""
    assert material("mild-steel").density_kg_m3 == 7850
    assert material("stainless").density_kg_m3 == 7900
    assert 2660 <= material("aluminium").density_kg_m3 <= 2670


def test_weight() -> None:
    """1 m2 of 10 mm steel weighs 78.5 kg."""
    assert material("mild-steel").weight_kg(1e6, 10.0) == pytest.approx(78.5)


@pytest.mark.parametrize("text", ["titanium", "Ti", "Ti-6Al-4V", "magnesium", "AZ31"])
def test_what_burns_is_refused_whatever_rows_exist(text: str) -> None:
    with pytest.raises(InputError, match=r"refused.*burns"):
        material_named(text, own_rows_for={"titanium", "magnesium"})


@pytest.mark.parametrize(("text", "name"), [("copper", "copper"), ("CuZn37", "brass")])
def test_what_reflects_needs_own_rows(text: str, name: str) -> None:
    with pytest.raises(InputError, match="reflects"):
        material_named(text)
    with pytest.raises(InputError, match="reflects"):
        material_named(text, own_rows_for={"mild-steel"})
    assert material_named(text, own_rows_for={name}).name == name


def test_unknown_material_names_the_valid_ones() -> None:
    with pytest.raises(InputError) as caught:
        material_named("stainles")
    said = str(caught.value)
    assert "'stainles'" in said
    assert "did you mean stainless" in said
    assert all(name in said for name in CUTTABLE)
    assert caught.value.exit_code == 2
    for text in ("", "wood", "\x1b[31m"):
        with pytest.raises(InputError):
            material_named(text)


def test_no_spelling_means_two_materials() -> None:
    def key(text: str) -> str:
        return "".join(c for c in text.lower() if c.isalnum())

    seen: dict[str, str] = {}
    for name, row in data("materials").items():
        for spelling in (name, *row["aliases"]):
            assert seen.setdefault(key(spelling), name) == name, spelling


@pytest.mark.parametrize(
    ("text", "gas"),
    [("O2", "oxygen"), ("N2", "nitrogen"), ("mix", "mixed"), ("Compressed air", "air")]
    + [(g, g) for g in GASES],
)
def test_gas_names(text: str, gas: str) -> None:
    assert gas_named(text) == gas


def test_unknown_gas_names_the_valid_ones() -> None:
    with pytest.raises(InputError, match=r"did you mean nitrogen.*oxygen, nitrogen, mixed, air"):
        gas_named("nitrogn")
    with pytest.raises(InputError, match="'argon'"):
        gas_named("argon")
