"""docs/money.md says what is reckoned with: its tables against data and code."""

import re
import tomllib
from pathlib import Path

import pytest
from shared import ROOT

from analyzer import flips, spread
from analyzer.headlines import OWN_SPEED, STARTER_SPEED
from analyzer.money import TERMS
from analyzer.process.load import table
from analyzer.shop import parse_shop

PAGE = (ROOT / "docs" / "money.md").read_text(encoding="utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in PAGE.splitlines()
    if line.startswith("|")
]


def typical() -> dict[str, dict[str, float]]:
    """Return the rows of rates.toml by key, gases by key and supply."""
    found: dict[str, dict[str, float]] = {}
    for key, row in table("rates").items():
        if key == "gas":
            for gas, kinds in row.items():
                found |= {f"{gas}_per_nm3, {kind}": one for kind, one in kinds.items()}
        elif key != "currency":
            found[key] = row
    return found


def stated() -> dict[str, tuple[float, float, float]]:
    """Return value, low and high of every row of the page's table of prices."""
    found = {}
    for cells in ROWS:
        match = re.fullmatch(r"([\d.]+) to ([\d.]+)", cells[-1])
        if len(cells) != 3 or match is None:
            continue
        key, _, kinds = re.sub(r"`| \(.*", "", cells[0]).partition(", ")
        values = (float(cells[1].split(" ")[0]), float(match[1]), float(match[2]))
        for kind in kinds.split(" or "):
            found[f"{key}, {kind}" if kind else key] = values
    return found


def test_typical_prices_are_those_of_the_data() -> None:
    data = {k: (float(r["value"]), float(r["low"]), float(r["high"])) for k, r in typical().items()}
    assert stated() == data


def test_every_term_has_its_formula() -> None:
    assert set(TERMS) <= {cells[0] for cells in ROWS}
    for row in table("rates"):
        assert row in PAGE


@pytest.mark.parametrize(
    ("words", "spreads"),
    [
        ("speed level", (STARTER_SPEED, OWN_SPEED)),
        ("ratio of speeds against nitrogen", (spread.SAME_LAW, spread.OTHER_LAW)),
        ("starts", (spread.STARTS,)),
        ("piercing", (spread.PIERCING,)),
        ("corners, moves, marking", (spread.CORNERS,)),
        ("burr, oxide, handling, rounding", (spread.HAND_WORK,)),
        ("gas flow, electricity", (spread.GAS_FLOW, spread.ELECTRICITY)),
    ],
)
def test_spreads_are_those_of_the_code(words: str, spreads: tuple[float, ...]) -> None:
    (row,) = [cells for cells in ROWS if cells[0] == words]
    assert [float(n) / 100.0 for n in re.findall(r"([\d.]+) %", row[1])] == list(spreads)


def test_what_else_is_stated() -> None:
    assert spread.CORNERS == spread.MOVES == spread.MARKING  # one row of the table
    assert f"{spread.DRAWS:,} draws" in PAGE
    assert flips.LABOUR == flips.MACHINE == 0.25
    assert flips.GAS_PRICE == 0.5
    assert flips.NEAR == 3.0


def test_the_worked_sheet_adds_up() -> None:
    """The sums of the page itself, and what tests/test_money.py reckons."""
    named = {cells[0]: cells[1:] for cells in ROWS}
    minutes = [cell.split(" = ") for cell in named["cut + corners + pierces + moves, min"]]
    for terms, whole in minutes:
        assert sum(map(float, terms.split(" + "))) == pytest.approx(float(whole), abs=0.011)
    machine = [float(cell) for cell in named["machine at 120 EUR/h"]]
    assert machine == pytest.approx([2.0 * float(whole) for _, whole in minutes], abs=0.051)
    terms = ("machine at 120 EUR/h", "hand work at 60 EUR/h", "gas at 0.20 EUR/Nm3")
    sums = [sum(float(named[term][n]) for term in terms) for n in range(3)]
    totals = [float(cell) for cell in named["in all, EUR (rounded at the end)"]]
    assert totals == [76.7, 70.6, 126.0]  # cutting data of common practice, no source
    assert sums == pytest.approx(totals, abs=0.15)


def test_its_shop_file_can_be_read() -> None:
    text = "\n".join(re.findall(r"```toml\n(.*?)```", PAGE, flags=re.S))
    shop = parse_shop(text, Path("burrcast.toml"))
    assert shop.rates is not None
    for key in tomllib.loads(text)["rates"]:
        assert key == "currency" or shop.rates.price(key).told
    assert shop.rework.round_edges_before == ()
    assert shop.rework.rate("belt_part_min") == 0.4
