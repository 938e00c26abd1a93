"""The shop file to start from: read back it changes nothing, and nothing is left out of it."""

import re
from pathlib import Path

import pytest

from analyzer.errors import InputError
from analyzer.process.checked import check_tables
from analyzer.process.gas import GASES
from analyzer.process.hand_rates import START_RATES
from analyzer.process.listing import THICKNESSES, process_table
from analyzer.process.machine import START_VALUES
from analyzer.process.machine_section import KEYS, SWITCHES, WORDS
from analyzer.process.material import CUTTABLE
from analyzer.report.shop_file import shop_file
from analyzer.rules.limits import load_limits
from analyzer.shop import Shop, parse_shop

PATH = Path("burrcast.toml")


def opened(text: str) -> str:
    """Return the file with every start value made the shop's own."""
    return "\n".join(re.sub(r"^#(?=[^ #\n])", "", line) for line in text.splitlines())


@pytest.mark.parametrize("power", [None, 6.0])
def test_read_back_it_gives_exactly_the_start_values(power: float | None) -> None:
    assert parse_shop(shop_file(power), PATH) == Shop(path=PATH)


def test_opened_line_by_line_it_says_the_start_values_too() -> None:
    shop = parse_shop(opened(shop_file()), PATH)
    assert shop.machine == START_VALUES
    assert shop.gases == GASES
    assert (shop.power_kw, shop.material, shop.thickness_mm) == (10.0, "mild-steel", 10.0)
    for key, value in shop.rework.told:
        if not key.startswith(("class_", "oxide_")):
            assert value == START_RATES.rate(key)
    assert shop.rework.minutes_per_m() == START_RATES.minutes_per_m()
    assert shop.rates is not None
    start = load_limits()
    own = load_limits(shop.limits)
    assert set(own.rules) == set(start.rules)
    for name in start.rules:
        for key, constant in start.rules[name].constants.items():
            assert own.constant(name, key) == constant.value
        for gas in GASES:
            for material in CUTTABLE:
                for t in (*THICKNESSES, 0.5, 3.5, 12.5, 14.9, 30.0):
                    row, mine = start.at(name, gas, material, t), own.at(name, gas, material, t)
                    assert (row is None) == (mine is None)
                    if row is not None and mine is not None:
                        assert dict(row.values) == dict(mine.values)
                        assert mine.own


def test_every_rate_the_shop_file_knows_is_there() -> None:
    text = opened(shop_file())
    shop = parse_shop(text, PATH)
    assert set(KEYS) | set(SWITCHES) == set(WORDS)
    for key in WORDS:
        assert re.search(rf"^{key} = \S+ +# .*source", text, re.MULTILINE), key
    known = {"machine_per_h", "labour_per_h", "electricity_per_kwh", "nitrogen_per_nm3"}
    assert shop.rates is not None
    assert known <= set(shop.rates.told)
    assert {"heavy_above_kg", "brush_m_per_min"} <= {key for key, _ in shop.rework.told}


def test_rows_for_one_laser_are_the_table_in_force() -> None:
    rows = parse_shop(opened(shop_file(6.0)), PATH).own_rows
    listed = [
        row
        for row in process_table(6.0)
        if row.setting is not None and row.setting.power_level != "beyond"
    ]
    assert len(rows) == len(listed)
    by_place = {(r.material, r.gas, r.thickness_mm): r for r in rows}
    for row in listed:
        mine = by_place[row.material, row.gas, row.thickness_mm]
        assert row.setting is not None
        assert mine.speed_m_per_min == pytest.approx(row.setting.speed_m_per_min, rel=1e-5)
        assert mine.kerf_mm == pytest.approx(row.setting.kerf_mm, rel=1e-5)
        assert mine.pressure_bar == pytest.approx(row.setting.pressure_bar, rel=1e-5)
    assert not check_tables(rows).refused  # our own start rows are believed


def test_no_line_breaks_the_file_and_each_value_has_a_remark() -> None:
    for line in opened(shop_file(10.0)).splitlines():
        if re.match(r"\w+ = [^[{]", line) and not line.startswith(("material", "gas =")):
            assert "  # " in line, line


def test_one_line_opened_alone_is_read_or_says_which_header_too(tmp_path: Path) -> None:
    """As docs/start.md asks: the # away before one key.  Its section may still be behind one."""
    lines = shop_file().splitlines()
    headers = {}  # the last header above each line, and whether it is behind a #
    here = ("", False)
    for number, line in enumerate(lines):
        found = re.match(r"(#?)(\[{1,2}[^\[\]]+\]{1,2})$", line)
        here = (found[2], bool(found[1])) if found else here
        headers[number] = here
    opened: dict[str, int] = {}
    for number, line in enumerate(lines):
        if re.match(r"#[a-z_0-9]+ = [^\[{]", line):
            opened.setdefault(headers[number][0], number)
    assert {"[gases]", "[rates]", "[[cutting]]", "[gases.nitrogen]"} < set(opened)
    for header, number in opened.items():
        text = "\n".join([*lines[:number], lines[number][1:], *lines[number + 1 :]])
        if headers[number][1]:
            with pytest.raises(InputError, match=re.escape(f"before {header} above it too")):
                parse_shop(text, tmp_path / "burrcast.toml")
        else:
            parse_shop(text, tmp_path / "burrcast.toml")
    assert not headers[opened["[gases]"]][1]  # docs/start.md names only the key
