"""A whole shop file to start from: every key with its start value, unit and source.

What the tool would take anyway stands behind a `#` without a blank: take the `#` away to
make the value yours.  Read back as it is, the file changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from analyzer.job import NEXT_STEPS, PLATES, Job
from analyzer.process.choose import settings_for
from analyzer.process.flow import bore_of
from analyzer.process.gas import GASES
from analyzer.process.hand_rates import BURR_METHODS, OXIDE_METHODS, ROUNDING_METHODS, START_RATES
from analyzer.process.listing import THICKNESSES
from analyzer.process.load import data, table, words
from analyzer.process.machine import START_VALUES
from analyzer.process.machine_section import KEYS, SOURCE, SWITCHES, WORDS
from analyzer.process.setting import Setting
from analyzer.process.supply import KINDS
from analyzer.rules.limits import Row, RuleLimits, load_limits

EXAMPLE_KW, EXAMPLE_MM = 10.0, 10.0  # of the example rows where no laser is named
_UNITS = (
    ("_m_per_min", "m/min"), ("_m_per_s2", "m/s2"), ("_m_per_s3", "m/s3"), ("_mm", "mm"),
    ("_min_per_m", "min/m"), ("_m2_per_h", "m2/h"), ("_nm3_per_h", "Nm3/h"),
    ("_per_h", "per hour"), ("content_nm3", "Nm3"), ("_bar", "bar gauge"),
    ("_per_nm3", "per Nm3"), ("_per_kwh", "per kWh"), ("_per_kg", "per kg"), ("_kg", "kg"),
    ("_per_beam_h", "per hour of beam"), ("_part_min", "min a part"),
    ("_min_per_part", "min a part"), ("_kw", "kW"), ("_s", "s"),
)  # fmt: skip
_HEAD = """\
# burrcast.toml: what this shop's laser, gas and prices are.
#
# Lay it beside your drawings or in a folder above them.  Every key names its unit.  A line
# that begins with # and no blank is a start value, in force as it stands, or an example where
# it says so: take the # away to change it, and that of the [section] above it where there is
# one.  Start values are not your machine.
"""


def shop_file(power_kw: float | None = None) -> str:
    """Return the text of a whole burrcast.toml.

    Parameters
    ----------
    power_kw : float, optional
        Laser: cutting rows of every material and thickness are written for it; without it
        an example of mild steel 10 mm on 10 kW. [kW]
    """
    sections = (
        _machine(power_kw), _gases(), _job(), _rates(), _rework(), _invest(), _layers(),
        _limits(), _cutting(power_kw),
    )  # fmt: skip
    return "\n".join([_HEAD, *("\n".join(section) + "\n" for section in sections)])


def _value(value: Any) -> str:
    """Return a value as TOML writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_value, value)) + "]"
    return f"{value:g}" if float(f"{value:g}") == value else repr(float(value))


def _unit(key: str) -> str:
    return next((unit for end, unit in _UNITS if key.endswith(end)), "")


def _line(key: str, value: Any, what: str, source: str = "", *, off: bool = True) -> str:
    """Return one key with its remark; `off` puts the # before it."""
    remark = "; ".join(said for said in (_unit(key), what, source) if said)
    said = f"{'#' if off else ''}{key} = {_value(value)}"
    return f"{said:<40}  # {remark}" if remark else said


def _machine(power_kw: float | None) -> Iterator[str]:
    yield "[machine]"
    power = power_kw or EXAMPLE_KW
    yield _line("power_kw", power, "of the laser", "an example, no start value")
    for key, (field, _, _) in KEYS.items():
        value = getattr(START_VALUES, field)
        yield _line(key, value, WORDS[key], SOURCE, off=False)
    for key in SWITCHES:
        yield _line(key, getattr(START_VALUES, key), WORDS[key], SOURCE, off=False)


def _gases() -> Iterator[str]:
    yield "# What gas you have.  Left out, every gas is looked at and an advice says what it needs."
    yield "[gases]"
    yield _line("available", list(GASES), "what you have: oxygen, nitrogen, mixed, air")
    yield _line("mixer", True, "a third gas line with a mixer")
    need = max(s.pressure_bar for s in _settings("mild-steel", EXAMPLE_MM, EXAMPLE_KW))
    yield _line("compressor_bar", need, "of your air at the head; an example")
    for gas, kind in (("nitrogen", "tank"), ("oxygen", "tank")):
        yield f"#[gases.{gas}]"
        yield _line("supply", kind, "one of " + ", ".join(KINDS))
        yield _line("flow_nm3_per_h", 150, "most it delivers, at 0 C, 1.013 bar; an example")
        yield _line("content_nm3", 2000, "of one filling, bundle or cylinder; an example")
        if gas == "nitrogen":
            yield _line("pressure_bar", 20, "at the head; an example")


def _job() -> Iterator[str]:
    yield "# What is cut where nothing is said; options win.  Examples, no start values."
    yield "[job]"
    yield _line("material", "mild-steel", "or a grade: S355, 1.4301, AlMg3")
    yield _line("thickness_mm", EXAMPLE_MM, "or thickness_in")
    yield _line("plate", "clean", "one of " + ", ".join(PLATES))
    yield _line("next", "none", "one of " + ", ".join(NEXT_STEPS))


def _rates() -> Iterator[str]:
    yield "# Prices.  Left out, gases are weighed by minutes.  The two rates are examples."
    yield "#[rates]"
    yield _line("currency", words("rates", "currency", "name"), "name of the money")
    yield _line("machine_per_h", 120, "laser with all that belongs to it; an example")
    yield _line("labour_per_h", 60, "hand work; an example")
    for key, row in data("rates").items():
        if key not in ("currency", "gas"):
            yield _line(key, row["value"], "", str(row["source"]))
    for gas, rows in table("rates", "gas").items():
        kind, row = next(iter(rows.items()))
        yield _line(f"{gas}_per_nm3", row["value"], f"from a {kind}", str(row["source"]))


def _rework() -> Iterator[str]:
    rates, source = table("rework", "rates"), words("rework", "rates", "source")
    yield "# Work after cutting."
    yield "[rework]"
    for key, ways in (
        ("burr", BURR_METHODS), ("oxide", OXIDE_METHODS), ("rounding", ROUNDING_METHODS),
    ):  # fmt: skip
        yield _line(key, getattr(START_RATES, key), "one of " + ", ".join(ways), source)
    yield _line("round_edges_before", [], "next steps before which edges are rounded, R 2", source)
    by_class = START_RATES.minutes_per_m()
    for number in (1, 2, 3):
        yield _line(f"class_{number}_min_per_m", by_class[number], "burr off by hand", source)
    yield _line("oxide_m_per_min", table("rework", "oxide")["m_per_min_thin"],
                "oxide off by hand; half above 12 mm until told", source)  # fmt: skip
    for key, value in rates.items():
        if key != "source":
            yield _line(key, value, "", source)


def _invest() -> Iterator[str]:
    yield "# What a mixer or a compressor would cost you, for burrcast payback.  Examples."
    yield "[invest]"
    for key in ("mixer_price", "mixer_per_month", "compressor_price", "compressor_per_month"):
        yield _line(key, 0, "in the money of [rates]")


def _layers() -> Iterator[str]:
    yield "# What layers are, by name; * and ? stand for any letters."
    yield "[layers]"
    yield _line("mark", ["ENGRAVE*"], "an example; also cut, bend, sheet, frame, ignore")


def _limits() -> Iterator[str]:
    yield "# Limits of the rules: below ok is rework, below last is loss."
    for name, rule in load_limits().rules.items():
        yield f'#[limits."{name}"]'
        yield f"# {rule.what}; {rule.unit}" if rule.what else f"# {rule.unit}"
        yield from _rule(rule)


def _rule(rule: RuleLimits) -> Iterator[str]:
    for name, constant in rule.constants.items():
        remark = "; ".join((constant.unit, constant.what, constant.source))
        yield f"#{name} = {_value(constant.value)}  # {remark}"
    for gas in GASES:
        rows = [row for row in rule.rows if gas in row.gases]
        if rows:
            yield f"#{gas} = ["
            yield from (f"#{_inline(_of_row(row))},  # {row.source}" for row in rows)
            yield "#]"


def _of_row(row: Row) -> dict[str, Any]:
    told = {} if row.material is None else {"material": row.material}
    return {**told, **dict(row.bounds), **dict(row.values)}


def _inline(keys: Mapping[str, Any]) -> str:
    return "{ " + ", ".join(f"{key} = {_value(value)}" for key, value in keys.items()) + " }"


def _cutting(power_kw: float | None) -> Iterator[str]:
    yield "# Rows of your machine's own table; CSV files with the same names in their first line."
    yield "# The rows below are start values.  A row without its # counts as yours, to +-10 %: take"
    yield "# it away only where the speed is what you cut with."
    yield "#[tables]"
    yield _line("files", [], 'such as ["cutting.csv"], from the folder of this file')
    for material, thickness in _sheets(power_kw):
        for setting in _settings(material, thickness, power_kw or EXAMPLE_KW):
            yield ""
            yield from _row_of(material, thickness, power_kw or EXAMPLE_KW, setting)


def _sheets(power_kw: float | None) -> Iterable[tuple[str, float]]:
    if power_kw is None:
        return [("mild-steel", EXAMPLE_MM)]
    materials = ("mild-steel", "stainless", "aluminium")
    return [(material, thickness) for material in materials for thickness in THICKNESSES]


def _settings(material: str, thickness: float, power_kw: float) -> tuple[Setting, ...]:
    made, _ = settings_for(Job(material, thickness, power_kw))
    return tuple(setting for setting in made if setting.power_level != "beyond")


def _row_of(material: str, thickness: float, power_kw: float, setting: Setting) -> Iterator[str]:
    sources = dict(setting.sources)
    bore = bore_of(setting.nozzle)
    yield "#[[cutting]]"
    yield _line("material", material, "")
    yield _line("gas", setting.gas, "")
    yield _line("power_kw", power_kw, "of the laser")
    yield _line("thickness_mm", thickness, "or thickness_in")
    yield _line("speed_m_per_min", float(f"{setting.speed_m_per_min:.6g}"),
                "or speed_mm_per_min, speed_mm_per_s, speed_in_per_min",
                sources["speed_mm_s"])  # fmt: skip
    yield _line("kerf_mm", float(f"{setting.kerf_mm:.6g}"), "or kerf_in", sources["kerf_mm"])
    yield _line("pierce_s", float(f"{setting.pierce_s:.6g}"), "", sources["pierce_s"])
    yield _line("pressure_bar", float(f"{setting.pressure_bar:.6g}"),
                "or pressure_psi, pressure_mpa", sources["pressure_bar"])  # fmt: skip
    yield _line("nozzle", f"{'D' if bore.double else 'S'}{bore.bore_mm:g}",
                "bore in mm; S single, D double", sources["pressure_bar"])  # fmt: skip
    if setting.gas == "mixed":
        yield _line("oxygen_share_percent", setting.oxygen_share_percent, "% by volume",
                    words("settings", material, "source"))  # fmt: skip
