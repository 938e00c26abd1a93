"""Rules about the process: power, gas, next step, plate, tolerance, the shop's own table."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Any

from analyzer.process.flow import gas_use
from analyzer.process.supply import SUPPLIED
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import Case
from analyzer.rules.wording import size

MATERIAL_WORDS = {"mild-steel": "mild steel"}


def _whole(level: str, measured: float, limit: float, unit: str, say: str, cure: str) -> Draft:
    """Return a draft about the whole job, without places."""
    return Draft(level, None, (), measured, limit, unit, say, cure)


def beyond_power(case: Case) -> Iterator[Draft]:
    """Sheet thicker than the laser cuts in this gas, or the gas at less pressure than it needs."""
    setting, t, power = case.setting, case.thickness, case.job.power_kw
    yield from _too_little_pressure(case)
    if setting.power_level == "ok":
        return
    loss = setting.power_level == "beyond"
    limit = setting.power_caution if loss else setting.power_ok
    after = (
        "It will not cut through reliably."
        if loss
        else "It cuts, slowly and with more burr; a worn window or poor plate stops it."
    )
    yield _whole(
        "loss" if loss else "rework", t / power, limit / power, "mm per kW",
        f"{size(t)} mm on {size(power)} kW in {case.gas_words}: {size(t / power)} mm per kW, the "
        f"{'most' if loss else 'limit of good cutting'} is {size(limit / power)}. {after}",
        "Choose another gas or a stronger laser."
        if loss
        else "Cut one test piece first, or choose another gas.",
    )  # fmt: skip


def _too_little_pressure(case: Case) -> Iterator[Draft]:
    setting = case.setting
    has, level = setting.supplied_bar, setting.pressure_level
    if has is None or level == "ok":
        return
    loss, need = level == "beyond", setting.pressure_bar
    least = min(setting.least_bar, need)
    limit = least if loss else need
    words = f"{case.gas_words.capitalize()} at {size(has)} bar at the head: this sheet wants "
    words += f"{size(need)} bar"
    words += f", and below {size(least)} bar air does not cut well." if loss else "."
    yield _whole(
        "loss" if loss else "rework", has, limit, "bar", words,
        "Choose another gas, or a high-pressure compressor."
        if case.gas == "air"
        else "Ask who looks after the gas supply, or choose another gas; cut one test piece.",
    )  # fmt: skip


def short_supply(case: Case) -> Iterator[Draft]:
    """A supply that delivers less than the head takes while it blows."""
    for row in case.setting.shortages:
        supply = f"your {row.kind}" if row.kind else "your supply"
        yield _whole(
            "rework", row.delivered_nm3_per_h, row.needed_nm3_per_h, "Nm3/h",
            f"The head takes about {row.needed_nm3_per_h:.3g} Nm3/h of {row.gas}, {supply} "
            f"gives {size(row.delivered_nm3_per_h)}: the pressure falls in long cuts.",
            "Take a smaller nozzle, a stronger supply or another gas.",
        )  # fmt: skip
    yield from _runs_out(case)


def _runs_out(case: Case) -> Iterator[Draft]:
    """A job that takes more than one filling, bundle or cylinder holds."""
    looked_at = [(one.plan.timing, one.part) for one in case.evidence]
    if case.loose is not None:
        looked_at.append((case.loose.plan.timing, case.loose.part))
    beam_on = sum(p.count * (t.cut + t.slowed + t.leads + t.pierce + t.slugs) for t, p in looked_at)
    starts = sum(p.count * p.pierces for _, p in looked_at)
    use = gas_use(case.setting, beam_on, starts)
    for gas in SUPPLIED:
        supply = case.setting.supplies.of(gas)
        holds, needed = supply.content_nm3, use.of(gas)
        if holds is None or needed <= holds:
            continue
        one = f"one {supply.kind}" if supply.kind in ("bundle", "cylinder") else "one filling"
        yield _whole(
            "note", needed, holds, "Nm3",
            f"All copies take about {needed:.3g} Nm3 of {gas}, {one} holds {size(holds)}.",
            f"Have {math.ceil(needed / holds)} ready, or split the job: a supply that runs dry "
            "leaves a half-cut sheet.",
        )  # fmt: skip


def unsuited_gas(case: Case) -> Iterator[Draft]:
    """Oxygen on stainless or aluminium; oxygen in the gas on stainless."""
    material, share = case.job.material, case.setting.oxygen_share_percent
    name = MATERIAL_WORDS.get(material, material)
    if case.gas == "oxygen" and material != "mild-steel":
        yield _whole(
            "loss", share, 0.0, "% oxygen",
            f"Oxygen burns {name} to slag that clings to the edge; nothing of it is usable.",
            "Cut with nitrogen.",
        )  # fmt: skip
    elif case.gas in ("mixed", "air") and material == "stainless":
        seen = case.job.next_step == "visible" and case.gas == "mixed"
        yield _whole(
            "rework" if seen else "note", share, 0.0, "% oxygen",
            f"{size(share)} % oxygen on stainless: faster and less burr, but the edge oxidises.",
            "Pickle or brush the edge"
            + (", or cut with nitrogen." if seen else " where corrosion, welding or looks matter."),
        )  # fmt: skip


def unfit_edge(case: Case) -> Iterator[Draft]:
    """Edges the next step cannot take as cut."""
    for row in next_steps():
        if (
            case.job.next_step in row["next"]
            and case.gas in row["gas"]
            and case.job.material in row["material"]
        ):
            share = case.setting.oxygen_share_percent
            yield _whole(row["level"], share, 0.0, "% oxygen", row["message"], row["remedy"])
            return


@cache
def next_steps() -> list[dict[str, Any]]:
    """Return what the step after cutting asks of the edge: rows of next_steps.toml.

    Keys: next, gas, material (lists), level, message, remedy, source (in words).
    """
    text = files("analyzer.rules").joinpath("next_steps.toml").read_text(encoding="utf-8")
    content = tomllib.loads(text)
    return [{**row, "source": content["marks"][row["source"]]} for row in content["row"]]


def unsuited_plate(case: Case) -> Iterator[Draft]:
    """Rust, scale, film or zinc on the plate, where the gas minds it."""
    plate, gas, t = case.job.plate, case.gas, case.thickness
    limit = case.scene.constant("plate-unsuited", "rusty_nitrogen_mm")
    level, message, cure = "", "", ""
    if plate == "rusty" and gas == "nitrogen":
        # within 10 % of the limit a test piece decides, as everywhere
        level = "loss" if t >= 1.1 * limit else "rework"
        message = f"Rust: nitrogen loses cuts, above {size(limit)} mm for good, and burrs more."
        cure = "Take mixed gas or clean plate, or scribe the contours first."
    elif plate == "rusty" and gas in ("oxygen", "air"):
        level = "rework"
        message = f"Rust: {gas} loses cuts here and there and burrs more."
        cure = "Scribe the contours first, or take clean plate."
    elif plate == "scale" and gas in ("nitrogen", "air"):
        level = "rework"
        message = f"Mill scale or primer: more burr in {gas}."
        cure = "Take mixed gas or clean plate, or plan the hand work."
    elif plate == "scale" and gas == "oxygen":
        level, message = "note", "Mill scale: now and then a lost cut in oxygen."
        cure = "Keep an eye on the first sheet."
    elif plate == "film" and gas != "oxygen":
        level, message = "note", "Film: it blisters and catches fire under the jet."
        cure = "Lay the film side up and run a pre-pass over all contours; mind smoke."
    elif plate == "galvanised" and gas == "oxygen":
        level, message = "note", "Zinc: spatter in oxygen, and zinc fume."
        cure = "Cut with nitrogen where you can; extraction on, follow your local rules on fume."
    if level:
        yield _whole(level, t, limit, "mm", message, cure)


def doubted_rows(case: Case) -> Iterator[Draft]:
    """Own rows of the shop's table that cannot be right."""
    for doubt in case.setting.doubts:
        row = doubt.row
        yield _whole(
            "rework" if doubt.set_aside else "note", doubt.measured, doubt.limit, doubt.unit,
            f"Your table, row {size(row.thickness_mm)} mm / {size(row.power_kw)} kW "
            f"{row.gas}: {doubt.words}."
            + (" The row is not used until you confirm it." if doubt.set_aside else ""),
            "Check the row for a typing error or a wrong unit.",
        )  # fmt: skip


RULES = (
    Rule(
        name="gas-supply-too-small",
        group="process",
        kind="process",
        question="Does the supply deliver what the head takes?",
        why=(
            "A nozzle of 4 mm at 10 bar takes about 70 Nm3/h of nitrogen while it blows. A bundle "
            "or a generator that gives less lets the pressure fall, and the cut is lost or "
            "burrs; one that runs dry leaves a half-cut sheet. Asked only where the shop file "
            "tells what the supply delivers or holds."
        ),
        remedy="Take a smaller nozzle, a stronger supply or another gas.",
        example=(
            "The head takes about 69.4 Nm3/h of nitrogen, your bundle gives 40: the pressure falls "
            "in long cuts."
        ),
        asks_change=True,
        on_gas=short_supply,
    ),
    Rule(
        name="thickness-beyond-power",
        group="process",
        kind="process",
        question="Are the laser and the gas pressure strong enough for the sheet in this gas?",
        why=(
            "Nitrogen, mixed gas and air melt the whole kerf with laser power alone: about "
            "1 mm of mild steel per kW cuts well. Oxygen brings heat of its own and goes "
            "much thicker. The jet must blow the melt out of the kerf: where the shop file tells "
            "the pressure it has, that is looked at too; air wants about 10 bar at the head or "
            "more, which takes a high-pressure compressor."
        ),
        remedy="Choose another gas or a stronger laser.",
        example=(
            "12 mm on 6 kW in nitrogen: 2 mm per kW, the most is 1.25. "
            "It will not cut through reliably."
        ),
        asks_change=True,
        on_gas=beyond_power,
    ),
    Rule(
        name="gas-unsuited",
        group="process",
        kind="process",
        question="Does the gas suit the material?",
        why=(
            "Oxygen burns stainless and aluminium to slag. Oxygen mixed into the nitrogen, or "
            "air, cuts stainless faster and with less burr, but leaves an oxidised edge."
        ),
        remedy="Cut with nitrogen, or pickle or brush the edge.",
        example="3 % oxygen on stainless: faster and less burr, but the edge oxidises.",
        asks_change=False,
        on_gas=unsuited_gas,
    ),
    Rule(
        name="edge-unfit-for-next-step",
        group="process",
        kind="process",
        question="Can the next step take the edge as cut?",
        why=(
            "Oxide under paint, powder or zinc comes off with the coating, and gives pores in "
            "a weld. Asked only where the next step is told."
        ),
        remedy="Take the oxide off, or choose a gas that leaves none.",
        example="Coating holds on to the oxide of the oxygen cut, and the oxide leaves the steel.",
        asks_change=False,
        on_gas=unfit_edge,
    ),
    Rule(
        name="plate-unsuited",
        group="process",
        kind="process",
        question="Does the gas cope with the plate as it is?",
        why=(
            "Rust and mill scale change what the beam meets from one millimetre to the next: "
            "nitrogen loses the cut, oxygen boils. Mixed gas copes. Film and zinc burn."
        ),
        remedy="Take mixed gas or clean plate, or scribe the contours first.",
        example="Rust: nitrogen loses cuts, above 6 mm for good, and burrs more.",
        asks_change=True,
        on_gas=unsuited_plate,
    ),
    Rule(
        name="table-implausible",
        group="process",
        kind="process",
        question="Can the rows of your own table be right?",
        why=(
            "A speed that would need more power than the beam has, or that jumps between "
            "neighbours in thickness, is a typing error or a wrong unit more often than not."
        ),
        remedy="Check the row for a typing error or a wrong unit.",
        example=(
            "Your table, row 10 mm / 10 kW nitrogen: 46 m/min is faster than the beam energy "
            "allows: check thickness, power and the unit of the speed. "
            "The row is not used until you confirm it."
        ),
        asks_change=True,
        on_gas=doubted_rows,
    ),
)
