"""The page docs/rules.md, made from the registry: python -m analyzer.rules.document."""

from __future__ import annotations

from collections.abc import Iterator

from analyzer.rules.explain import Explanation, explain
from analyzer.rules.process import next_steps
from analyzer.rules.registry import RULES

HEAD = """\
# The rules

Made by `python -m analyzer.rules.document > docs/rules.md`; a test checks that it is current.

Every rule is named after the fault. Levels go by consequence: `note` (look once), `rework`
(hand work to expect), `loss` (scrap, crash or re-cut to expect). A value below "clean from"
is `rework`, below "lost below" it is `loss`; less than 10 % beyond that it is still `rework`
with the remedy to cut one test piece, because no limit here has a source sharper than that.
Equal features of one part (same rule and level, measured within 1 %) are one finding.

Rules that "only foretell" tell of hand work or slower corners to expect; the others ask for
a change, or a question to the customer, before cutting. A `loss` always asks for one.

## Your own limits

A shop file overrides any limit. By gas, or `all` for every gas:

```toml
[limits.hole-too-small.nitrogen]
ok = 0.8
last = 0.45
```

By material and thickness, as a list in which the first that fits is in force:

```toml
[[limits.hole-too-small.oxygen]]
above = 12
up_to = 20
last = 0.6
```

and the further numbers of a rule by their names:

```toml
[limits.web-too-thin]
least_mm = 1.2
```

Bounds are `above` < thickness <= `up_to`, or `from` <= thickness < `below`, in mm.
"""


def page() -> str:
    """Return docs/rules.md as text."""
    blocks = [HEAD]
    group = ""
    for rule in RULES:
        if rule.group != group:
            group = rule.group
            blocks.append(f"# Rules: {group}\n")
        blocks.append("\n".join(_section(explain(rule.name))) + "\n")
    return "\n".join(blocks)


def _section(told: Explanation) -> Iterator[str]:
    rule = told.rule
    yield f"## {rule.name}\n"
    yield f"{rule.question}\n"
    yield f"**Why.** {rule.why}\n"
    yield f"**Remedy.** {rule.remedy}\n"
    yield f"**For example.** {rule.example}\n"
    judged = {"drawing": "once, under every gas", "sheet": "for every sheet and gas"}.get(
        rule.kind, "for every gas"
    )
    sort = "asks for a change" if rule.asks_change else "only foretells"
    yield f"Judged {judged}; {sort}."
    if told.measured:
        yield f"\nMeasured: {told.measured} ({told.unit})."
    if told.limits:
        names = list(dict.fromkeys(name for line in told.limits for name, _ in line.values))
        yield "\n| gas | material | thickness | " + " | ".join(names) + " | source |"
        yield "|" + "---|" * (4 + len(names))
        for line in told.limits:
            values = dict(line.values)
            cells = [f"{values[name]:g}" if name in values else "" for name in names]
            yield (
                "| " + " | ".join([line.gas, line.material, line.band, *cells, line.source]) + " |"
            )
    if told.constants:
        yield "\n| number | value | meaning | source |\n|---|---|---|---|"
        for c in told.constants:
            unit = "" if c.unit == "-" else f" {c.unit}"
            yield f"| `{c.name}` | {c.value:g}{unit} | {c.what} | {c.source} |"
    if rule.name == "edge-unfit-for-next-step":
        yield from _next_steps()


def _next_steps() -> Iterator[str]:
    yield "\n| next | gas | material | level | says | source |\n|---|---|---|---|---|---|"
    for row in next_steps():
        names = (", ".join(row[key]).replace("-", " ") for key in ("next", "gas", "material"))
        yield "| " + " | ".join([*names, row["level"], row["message"], row["source"]]) + " |"


if __name__ == "__main__":
    print(page(), end="")
