"""Own tables looked at as a whole, and CSV tables read."""

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.process.checked import NoRows, check_tables
from analyzer.process.own_rows import BadRow
from analyzer.process.tables import OwnRow
from analyzer.shop import load_shop

HEADER = "material,gas,power_kw,thickness_mm,speed_m_per_min"


def shop_with(folder: Path, table: str, toml: str = "", bad: list[BadRow] | None = None):
    (folder / "cutting.csv").write_text(table, encoding="utf-8")
    (folder / "burrcast.toml").write_text(f'[tables]\nfiles = ["cutting.csv"]\n{toml}')
    return load_shop(folder / "burrcast.toml", bad=bad)


def refused(folder: Path, table: str, toml: str = "") -> str:
    with pytest.raises(InputError) as caught:
        shop_with(folder, table, toml)
    return str(caught.value)


def test_a_csv_table_is_read_as_the_same_rows_of_the_shop_file(tmp_path: Path) -> None:
    shop = shop_with(
        tmp_path,
        "# our table, winter\n"
        "material,gas,power_kw,thickness_mm,speed_m_per_min,pressure_bar,nozzle,kerf_mm,"
        "pierce_s,oxygen_share_percent,confirmed\n"
        "S235,N2,10,10,4.9,11,S4.0,0.48,0.6,,\n"
        "\n"
        "S235,mixed,10,10,5.3,10,S4,0.5,,2,yes\n",
        '[[cutting]]\nmaterial = "S235"\ngas = "oxygen"\npower_kw = 10\n'
        "thickness_mm = 10\nspeed_m_per_min = 2.3\n",
    )
    oxygen, nitrogen, mixed = shop.own_rows
    assert oxygen.gas == "oxygen"
    assert nitrogen == OwnRow(
        "mild-steel", "nitrogen", 10.0, 10.0, 4.9, 0.48, 0.6, None, False,
        f"{tmp_path / 'cutting.csv'}, line 3", 11.0, "S4.0",
    )  # fmt: skip
    assert (mixed.oxygen_share_percent, mixed.confirmed, mixed.pierce_s) == (2.0, True, None)
    assert mixed.where.endswith("line 5")


@pytest.mark.parametrize(
    ("column", "cell", "field", "value"),
    [  # an inch is 25.4 mm; a psi is 6894.757 Pa (both by definition)
        ("speed_mm_per_s", "80", "speed_m_per_min", 4.8),
        ("speed_in_per_min", "200", "speed_m_per_min", 5.08),
        ("Speed [mm/min]", "5080", "speed_m_per_min", 5.08),
        ("speed (in/min)", "200", "speed_m_per_min", 5.08),
        ("thickness_in", "0.375", "thickness_mm", 9.525),
        ("pressure_psi", "145.0377", "pressure_bar", 10.0),
        ("pressure_mpa", "1.2", "pressure_bar", 12.0),
        ("kerf_in", "0.02", "kerf_mm", 0.508),
    ],
)
def test_the_header_names_the_unit(
    tmp_path: Path, column: str, cell: str, field: str, value: float
) -> None:
    quantity = re.split(r"[_ ]", column.lower())[0]
    names = [n for n in HEADER.split(",") if not n.startswith(quantity)]
    cells = {"material": "S235", "gas": "N2", "power_kw": "10", "thickness_mm": "10",
             "speed_m_per_min": "4.6"}  # fmt: skip
    table = ",".join([*names, column]) + "\n" + ",".join([*(cells[n] for n in names), cell]) + "\n"
    (row,) = shop_with(tmp_path, table).own_rows
    assert getattr(row, field) == pytest.approx(value, rel=1e-6)


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    (row,) = shop_with(tmp_path, HEADER.replace(",", ";") + "\nS235;N2;10;10;4,6\n").own_rows
    assert row.speed_m_per_min == 4.6
    (row,) = shop_with(tmp_path, HEADER.replace(",", "\t") + "\nS235\tN2\t10\t10\t4,6\n").own_rows
    assert row.speed_m_per_min == 4.6


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("", "the table is empty"),
        ("material,gas,power_kw,thickness,speed_m_per_min\n", "column 'thickness' names no unit"),
        (
            "material,gas,power_kw,thickness_mm,speed\n",
            "speed_m_per_min, speed_mm_per_min, speed_mm_per_s or",
        ),
        ("material,gas,power_kw,thickness_gauge,speed_m_per_min\n", "gauge numbers mean other"),
        (HEADER + ",wibble\n", "key 'wibble' is not known"),
        (HEADER + ",speed_mm_per_h\n", "did you mean speed_m"),
        (HEADER + ",gas\n", "'gas' stands there twice"),
        (HEADER + "\nS235,N2,10,10,fast\n", "line 2, column speed_m_per_min: speed_m_per_min"),
        (HEADER + "\nS235,N2,10,10,4,6\n", "line 2: 6 cells for 5 columns"),
        (HEADER + "\nS235,N2,10,10\n", "line 2: this row has no speed_m_per_min"),
        (HEADER + "\nS235,N2,10,10,4.6\nS235,N2,10,10,4.7\n", "line 3: mild-steel in nitrogen"),
        (HEADER + "\nS235,N2,10,10,600\n", "cannot be meant"),
        (HEADER + "\ntitanium,N2,10,10,4\n", "titanium is refused"),
        (HEADER + ",oxygen_share_percent\nS235,mixed,10,10,4,30\n", "oxygen-enriched"),
        (HEADER + ",nozzle\nS235,N2,10,10,4,wide\n", "is no nozzle"),
        (HEADER + ",pressure_bar\nS235,N2,10,10,4,145\n", "cannot be meant"),
        (HEADER + ",confirmed\nS235,N2,10,10,4,perhaps\n", "neither true nor false"),
        (HEADER + ",speed_mm_per_s\nS235,N2,10,10,4,80\n", "say the same thing"),
    ],
)
def test_what_a_table_may_not_hold(tmp_path: Path, table: str, said: str) -> None:
    message = refused(tmp_path, table)
    assert said in message
    assert "cutting.csv" in message


def test_tables_that_cannot_be_read(tmp_path: Path) -> None:
    path = tmp_path / "burrcast.toml"
    for names, said in (
        ('["none.csv"]', "line 2, [tables]: there is no table none.csv"),
        ('"cutting.csv"', "is not a list of texts"),
        ('["."]', "cannot be read"),
        ('["big.csv"]', "over the limit"),
        ('["binary.csv"]', "not UTF-8"),
        ('["wide.csv"]', "wide.csv: not a CSV table"),
    ):
        (tmp_path / "big.csv").write_bytes(b"x" * 1_000_001)
        (tmp_path / "wide.csv").write_text(HEADER + "\n" + "x" * 200_000)
        (tmp_path / "binary.csv").write_bytes(b"\xff\xfe\x00")
        path.write_text(f"[tables]\nfiles = {names}\n")
        with pytest.raises(InputError, match=r"burrcast\.toml|wide\.csv") as caught:
            load_shop(path)
        assert said in str(caught.value)


@given(st.text(max_size=80))
def test_any_text_is_a_table_or_refused(tmp_path_factory: pytest.TempPathFactory, text: str):
    folder = tmp_path_factory.mktemp("any", numbered=True)
    (folder / "cutting.csv").write_bytes(text.encode("utf-8", "surrogatepass"))
    (folder / "burrcast.toml").write_text('[tables]\nfiles = ["cutting.csv"]\n')
    try:
        said = f"cutting.csv with {len(load_shop(folder / 'burrcast.toml').own_rows)} rows"
    except InputError as error:
        said = str(error)
    assert "cutting.csv" in said


def test_rows_that_cannot_be_read_stop_only_themselves(tmp_path: Path) -> None:
    bad: list[BadRow] = []
    shop = shop_with(
        tmp_path, HEADER + "\nS235,N2,10,10,fast\nS235,N2,10,12,3.5\nS235,N2,10,12,3.6\n",
        "[[cutting]]\nmaterial = 'wood'\n", bad,
    )  # fmt: skip
    assert [row.thickness_mm for row in shop.own_rows] == [12]
    assert len(bad) == 3
    found = check_tables(shop.own_rows, bad)
    assert (found.rows, found.used, len(found.unreadable)) == (4, 1, 3)
    assert any("line 2" in row.where and "not a number" in row.reason for row in bad)


def row(t: float, v: float, gas: str = "nitrogen", **more: bool) -> OwnRow:
    return OwnRow("mild-steel", gas, 10.0, t, v, **more)


def test_typing_error_is_refused_until_confirmed() -> None:
    """46 for 4.6 m/min at 10 mm on 10 kW: scenario of the trade, absorption 4.5 needed."""
    found = check_tables([row(8, 6.4), row(10, 46.0), row(12, 3.5)])
    assert [d.row.thickness_mm for d in found.refused] == [10]
    assert (found.rows, found.used) == (3, 2)
    assert found.confirmed == found.doubted == ()
    found = check_tables([row(10, 46.0, confirmed=True)])
    assert (found.used, len(found.refused), len(found.confirmed)) == (1, 0, 1)


def test_missing_gases() -> None:
    rows = [row(10, 4.6), row(10, 2.3, "oxygen")]
    assert check_tables(rows).missing == (
        NoRows("mild-steel", 10.0, "mixed"), NoRows("mild-steel", 10.0, "air"),
    )  # fmt: skip
    assert check_tables(rows, gases=("oxygen", "nitrogen")).missing == ()
    only = check_tables([row(10, 46.0)], gases=("nitrogen",))  # its one row is refused
    assert only.missing == (NoRows("mild-steel", 10.0, "nitrogen"),)
    stainless = check_tables([OwnRow("stainless", "nitrogen", 10.0, 10.0, 3.9)])
    assert [m.gas for m in stainless.missing] == ["mixed", "air"]  # no oxygen asked
    assert check_tables(()).missing == ()
