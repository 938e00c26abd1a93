"""The shop file: what it gives, and how plainly it refuses."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.process.machine import Machine
from analyzer.process.supply import Supply
from analyzer.shop import Shop, load_shop, parse_shop

WHOLE = """\
[machine]
power_kw = 12
rapid_m_per_min = 140
rapid_acceleration_m_per_s2 = 20
cut_acceleration_m_per_s2 = 10.5
jerk_m_per_s3 = 300
corner_tolerance_mm = 0.03
start_overhead_s = 0.25
lift_s = 0.15
marking_m_per_min = 20

[gases]
available = ["N2", "oxygen"]

[job]
material = "S355"
thickness_mm = 10
plate = "scale"
next = "Weld"

[[cutting]]
material = "S235"
gas = "nitrogen"
power_kw = 12
thickness_mm = 10
speed_m_per_min = 5.4
kerf_mm = 0.48
pierce_s = 0.6

[[cutting]]
material = "mild steel"
gas = "mixed"
power_kw = 12
thickness_in = 0.5
speed_in_per_min = 180
oxygen_share_percent = 2.5
confirmed = true

[limits."hole-too-small"]
nitrogen = { ok = 0.9, last = 0.4 }

[layers]
mark = ["MARK*", "ENGRAVE"]
ignore = ["DIM"]
"""
PATH = Path("burrcast.toml")


def refused(text: str) -> str:
    with pytest.raises(InputError) as caught:
        parse_shop(text, PATH)
    assert caught.value.exit_code == 2
    return str(caught.value)


def row(**changes: str | None) -> str:
    keys = {
        "material": '"S235"', "gas": '"nitrogen"', "power_kw": "10", "thickness_mm": "10",
        "speed_m_per_min": "5",
    } | changes  # fmt: skip
    return "[[cutting]]\n" + "".join(f"{k} = {v}\n" for k, v in keys.items() if v is not None)


def test_whole_file(tmp_path: Path) -> None:
    path = tmp_path / "burrcast.toml"
    path.write_text(WHOLE, encoding="utf-8")
    shop = load_shop(path)
    assert shop.path == path
    assert shop.power_kw == 12
    assert shop.machine == Machine(140, 20, 10.5, 300, 0.03, 0.25, 0.15, 20)
    assert shop.gases == ("oxygen", "nitrogen")  # canonical, in answer order
    assert (shop.material, shop.thickness_mm) == ("mild-steel", 10)
    assert (shop.plate, shop.next_step) == ("scale", "weld")
    assert shop.limits == {"hole-too-small": {"nitrogen": {"ok": 0.9, "last": 0.4}}}
    assert shop.layer_roles == (("mark", "MARK*"), ("mark", "ENGRAVE"), ("ignore", "DIM"))
    first, second = shop.own_rows
    assert (first.material, first.gas, first.speed_m_per_min) == ("mild-steel", "nitrogen", 5.4)
    assert (first.kerf_mm, first.pierce_s, first.confirmed) == (0.48, 0.6, False)
    assert first.where == f"{path}, line 21, [cutting]"
    assert second.thickness_mm == pytest.approx(12.7)
    assert second.speed_m_per_min == pytest.approx(180 * 0.0254)
    assert (second.oxygen_share_percent, second.confirmed) == (2.5, True)
    assert second.where.endswith("line 30, [cutting]")


def test_found_upward_from_the_drawing(tmp_path: Path) -> None:
    deep = tmp_path / "orders" / "bridge"
    deep.mkdir(parents=True)
    (tmp_path / "burrcast.toml").write_text("[machine]\npower_kw = 6\n")
    drawing = deep / "gusset.dxf"
    drawing.touch()
    assert load_shop(None, drawing).power_kw == 6
    assert load_shop(None, deep).power_kw == 6
    (deep / "burrcast.toml").write_text("[machine]\npower_kw = 10\n")
    assert load_shop(None, drawing).power_kw == 10  # the nearest wins
    assert load_shop(tmp_path / "burrcast.toml", drawing).power_kw == 6  # the given one wins
    (deep / "burrcast.toml").unlink()
    (deep / "burrcast.toml").mkdir()  # a folder of that name is no shop file
    assert load_shop(None, drawing).power_kw == 6


def test_no_file_means_start_values() -> None:
    assert load_shop(None, None) == Shop()
    assert Shop().machine == Machine()
    assert Shop().path is None
    assert parse_shop("", PATH) == Shop(path=PATH)


def test_a_path_that_is_given_must_be_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.toml: there is no such shop file"):
        load_shop(tmp_path / "none.toml", tmp_path)
    with pytest.raises(InputError, match="cannot be read"):
        load_shop(tmp_path)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(InputError, match="not UTF-8"):
        load_shop(binary)
    big = tmp_path / "big.toml"
    big.write_bytes(b"#" * 1_000_001)
    with pytest.raises(InputError, match="over the limit"):
        load_shop(big)


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "burrcast.toml"
    path.write_bytes(b"\xef\xbb\xbf[machine]\npower_kw = 6\n")
    assert load_shop(path).power_kw == 6


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[machne]\n", ["line 1", "section 'machne'", "did you mean machine"]),
        ("\n[machine]\njerk = 200\n", ["line 3, [machine]", "'jerk'", "jerk_m_per_s3"]),
        ("[machine]\nrapid_acceleration = 15\n", ["rapid_acceleration_m_per_s2"]),
        ("[gases]\navailble = ['N2']\n", ["line 2, [gases]", "did you mean available"]),
        ("[job]\nmaterail = 'S235'\n", ["line 2, [job]", "did you mean material"]),
        ("[layers]\nmarks = ['A']\n", ["did you mean mark"]),
        ("[layers]\nxyz = ['A']\n", ["use one of cut, mark, bend, sheet, frame, ignore"]),
        (row() + row(sped="1"), ["line 13, [cutting]", "'sped'", "did you mean speed_"]),
        ("[machine\n", ["not valid TOML", "line 1"]),
        ("[machine]\njerk_m_per_s3 = 1\njerk_m_per_s3 = 2\n", ["not valid TOML", "line 3"]),
    ],
)
def test_unknown_keys_name_line_section_and_the_nearest_valid_one(
    text: str, said: list[str]
) -> None:
    message = refused(text)
    assert all(part in message for part in said), message


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("machine = 3\n", "write [machine]"),
        ("cutting = 3\n", "write [[cutting]]"),
        ("[cutting]\ngas = 'N2'\n", "write [[cutting]]"),
        ("limits = { x = 1 }\n", 'write [limits."x"]'),
        ("[machine]\npower_kw = '12kW'\n", "line 2, [machine]: power_kw = '12kW' is not a number"),
        ("[machine]\npower_kw = true\n", "not a number"),
        ("[machine]\npower_kw = 12000\n", "12000 kW is impossible"),
        ("[machine]\npower_kw = nan\n", "cannot be meant"),
        ("[machine]\nrapid_m_per_min = 120000\n", "between 1 and 500"),
        ("[machine]\nstart_overhead_s = -1\n", "cannot be meant"),
        ("[machine]\njerk_m_per_s3 = inf\n", "cannot be meant"),
        ("[gases]\navailable = 'N2'\n", "is not a list of texts"),
        ("[gases]\navailable = ['argon']\n", "line 2, [gases]: 'argon' is not a cutting gas"),
        ("[gases]\navailable = []\n", "no gas is available"),
        ("[job]\nmaterial = 'titanium'\n", "line 2, [job]: titanium is refused"),
        ("[job]\nmaterial = 'copper'\n", "reflects"),
        ("[job]\nmaterial = 304\n", "write it in quotes"),
        ("[job]\nthickness_mm = 40\n", "40 mm is impossible"),
        ("[job]\nthickness_mm = 3\nthickness_in = 0.1\n", "say the same thing"),
        ("[job]\nplate = 'rust'\n", "did you mean rusty"),
        ("[job]\nnext = 'welding'\n", "did you mean weld"),
        ("[layers]\nmark = 'A'\n", "is not a list of texts"),
        ("[layers]\nmark = ['A', 'X*']\ncut = ['B', 'x*']\n", "layer 'x*' is to be mark and cut"),
        (row(speed_m_per_min=None), "this row has no speed_m_per_min"),
        (row(thickness_mm=None), "this row has no thickness_mm"),
        (row(gas=None), "this row has no gas"),
        (row(speed_mm_per_s="80"), "say the same thing"),
        (row(speed_m_per_min="5000"), "cannot be meant"),
        (row(speed_m_per_min="0"), "cannot be meant"),
        (row(thickness_mm="0.1"), "impossible"),
        (row(power_kw="6000"), "impossible"),
        (row(material="'wood'"), "material 'wood' is not known"),
        (row(material="'Ti'"), "titanium is refused"),
        (row(gas="'plasma'"), "not a cutting gas"),
        (row(kerf_mm="30"), "cannot be meant"),
        (row(pierce_s="'fast'"), "not a number"),
        (row(confirmed="1"), "neither true nor false"),
        (row(nozzle="'wide'"), "is no nozzle"),
        (row(pressure_bar="145"), "cannot be meant"),
        (row(pressure_bar="10", pressure_psi="145"), "say the same thing"),
        (row(gas="'mixed'", oxygen_share_percent="30"), "oxygen-enriched"),
        (row(oxygen_share_percent="2"), "belongs to mixed gas"),
        (row() + row(speed_m_per_min="6"), "stands there twice"),
    ],
)
def test_wrong_values(text: str, said: str) -> None:
    message = refused(text)
    assert said in message
    assert message.startswith("burrcast.toml")


def test_own_rows_let_copper_in() -> None:
    shop = parse_shop("[job]\nmaterial = 'Cu'\n" + row(material="'copper'"), PATH)
    assert shop.material == "copper"


def test_zero_start_and_lift_are_allowed() -> None:
    shop = parse_shop("[machine]\nstart_overhead_s = 0\nlift_s = 0\n", PATH)
    assert (shop.machine.start_overhead_s, shop.machine.lift_s) == (0, 0)


SUPPLIES = """\
[gases]
available = ["O2", "N2", "mixed", "air"]
mixer = true
compressor_bar = 13
[gases.nitrogen]
supply = "bundle"
flow_nm3_per_h = 80
content_nm3 = 110
pressure_bar = 20
[gases.oxygen]
supply = "cylinder"
"""


def test_supplies() -> None:
    shop = parse_shop(SUPPLIES, PATH)
    assert shop.gases == ("oxygen", "nitrogen", "mixed", "air")
    assert shop.supplies.mixer is True
    assert shop.supplies.of("nitrogen") == Supply("bundle", 80.0, 110.0, 20.0)
    assert shop.supplies.of("oxygen") == Supply("cylinder")
    assert shop.supplies.of("air") == Supply("compressor", pressure_bar=13.0)
    bars = {gas: shop.supplies.pressure_bar(gas) for gas in shop.gases}
    assert bars == {"oxygen": None, "nitrogen": 20.0, "mixed": 20.0, "air": 13.0}
    assert parse_shop("", PATH).supplies.of("nitrogen") == Supply()


@pytest.mark.parametrize(
    ("text", "gases"),
    [
        ("mixer = true", ("oxygen", "nitrogen", "mixed")),
        ("mixer = false", ("oxygen", "nitrogen")),
        ("mixer = false\ncompressor_bar = 12", ("oxygen", "nitrogen", "air")),
        ("compressor_bar = 12", None),  # tells nothing of the other gases
        ('available = ["N2"]\nmixer = false', ("nitrogen",)),
    ],
)
def test_gases_a_told_mixer_implies(text: str, gases: tuple[str, ...] | None) -> None:
    assert parse_shop(f"[gases]\n{text}\n", PATH).gases == gases


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('available = ["N2"]\nmixer = true', "mixed gas is not available"),
        ('available = ["mixed"]\nmixer = false', "but mixer = false"),
        ("mixer = 1", "neither true nor false"),
        ("compressor_bar = 700", "cannot be meant"),
        ("compresor_bar = 7", "did you mean compressor_bar"),
        ("[gases.nitrogen]\nsupply = 'tankk'", "line 3, [gases.nitrogen]: supply = 'tankk'"),
        ("[gases.nitrogen]\nflow = 7", "did you mean flow_nm3_per_h"),
        ("[gases.nitrogen]\ncontent_nm3 = 0", "cannot be meant"),
        ("[gases.argon]\nsupply = 'tank'", "key 'argon' is not known"),
        ("compressor_bar = 7\n[gases.air]\npressure_bar = 8", "say the same thing"),
        ("nitrogen = 3", "must be a section"),
    ],
)
def test_gases_that_cannot_be_meant(text: str, said: str) -> None:
    assert said in refused(f"[gases]\n{text}\n")


@pytest.mark.parametrize(
    ("key", "value", "bar"),
    [("pressure_bar", 12.0, 12.0), ("pressure_psi", 145.038, 10.0), ("pressure_mpa", 1.5, 15.0)],
)
def test_pressure_of_a_row_in_any_unit(key: str, value: float, bar: float) -> None:
    """1 psi = 6894.757 Pa, 1 MPa = 10 bar, by definition."""
    (own,) = parse_shop(row(**{key: str(value)}, nozzle='"S4.0"'), PATH).own_rows
    assert own.pressure_bar == pytest.approx(bar, rel=1e-5)
    assert own.nozzle == "S4.0"


def read_or_refused(text: str) -> bool:
    """Read a file, or see it refused with its name in front; anything else raises."""
    try:
        return parse_shop(text, PATH).path == PATH
    except InputError as error:
        return str(error).startswith("burrcast.toml")


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_in_one_way(text: str) -> None:
    assert read_or_refused(text)


VALUES = st.recursive(
    st.sampled_from(["1", "-1", "0", "nan", "inf", "true", "'x'", "''", "1979-05-27", "1e400"]),
    lambda inner: st.one_of(
        st.lists(inner, max_size=2).map(lambda v: "[" + ", ".join(v) + "]"),
        inner.map(lambda v: "{ a = " + v + " }"),
    ),
    max_leaves=3,
)


@given(
    header=st.sampled_from(
        ["", "[machine]", "[gases]", "[gases.nitrogen]", "[tables]", "[job]", "[[cutting]]",
         "[cutting]", "[limits]", "[layers]"]
    ),
    key=st.sampled_from(
        ["power_kw", "available", "material", "gas", "plate", "next", "thickness_mm", "mark",
         "machine", "cutting", "jerk_m_per_s3", "confirmed", "files", "mixer", "nitrogen",
         "supply", "compressor_bar"]
    ),
    value=VALUES,
)  # fmt: skip
def test_any_value_at_any_key_is_read_or_refused_in_one_way(
    header: str, key: str, value: str
) -> None:
    assert read_or_refused(f"{header}\n{key} = {value}\n")
