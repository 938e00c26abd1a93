"""Options that several commands share, and what they mean as values."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analyzer.errors import InputError
from analyzer.job import NEXT_STEPS, PLATES
from analyzer.units import parse_length, parse_power

if TYPE_CHECKING:
    from analyzer.report.manner import Manner
    from analyzer.request import Request

ROLES = ("cut", "mark", "bend", "sheet", "frame", "ignore")
LEVELS = ("note", "rework", "loss")
TABLES = ("findings", "features", "parts", "gases")


def choice(words: Sequence[str]) -> click.Choice[str]:
    """Return one of several words as the type of an option, capitals or not."""
    return click.Choice(words, case_sensitive=False)


Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


@dataclass(frozen=True)
class Asked:
    """What was typed, as values; None or empty where nothing was."""

    material: str | None
    thickness_mm: float | None
    power_kw: float | None
    plate: str | None
    next_step: str | None
    units: str | None
    join_mm: float | None
    tolerance: str | None
    gases: tuple[str, ...]
    share_percent: float | None
    shop: Path | None
    layer_roles: tuple[tuple[str, str], ...]
    limits: tuple[tuple[str, float], ...]
    formats: tuple[str, ...]
    out: Path | None
    force: bool
    fail_on: str | None
    why: bool
    brief: bool = False
    table: str | None = None
    decimal: str | None = None
    separator: str | None = None

    @property
    def manner(self) -> Manner:
        """How the output is written."""
        from analyzer.report.manner import PLAIN, Manner

        return Manner(
            self.why, self.brief, self.table or PLAIN.table, self.decimal or PLAIN.decimal,
            self.separator,
        )  # fmt: skip

    def check_manner(self, *, csv_anyway: bool = False) -> None:
        """Refuse what would be asked of a format that is not written, rather than ignore it."""
        formats = self.formats or ("text",)
        if self.brief and "text" not in formats:
            raise InputError("--brief is about text", hint="add --format text, or leave it out")
        if self.brief and self.why:
            raise InputError("--brief leaves no room for --why", hint="leave one of them out")
        for name in ("table", "decimal", "separator"):
            anyway = csv_anyway and name != "table"
            if getattr(self, name) and "csv" not in formats and not anyway:
                raise InputError(f"--{name} is about csv", hint="add --format csv")
        _ = self.manner

    def request(self) -> Request:
        """Return what decides an answer, without what is only about output."""
        from analyzer.request import Request

        return Request(**{name: getattr(self, name) for name in Request.__dataclass_fields__})


class _Quantity(click.ParamType):  # type: ignore[type-arg,unused-ignore]
    """A number with its unit; a bare number is in the unit named by `bare`."""

    def __init__(self, name: str, parse: Callable[[str], float]) -> None:
        self.name, self.parse = name, parse

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        if isinstance(value, float):
            return value
        try:
            return self.parse(str(value))
        except InputError as error:
            self.fail(str(error), param, ctx)


class _Role(click.ParamType):  # type: ignore[type-arg,unused-ignore]
    """ROLE=NAME of a layer."""

    name = "ROLE=NAME"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, str]:
        if isinstance(value, tuple):
            return value
        role, sign, name = str(value).partition("=")
        if not sign or not name:
            self.fail(f"{value!r} is not ROLE=NAME, such as cut=OUTLINE", param, ctx)
        if role not in ROLES:
            self.fail(f"role {role!r} is not known; use one of {', '.join(ROLES)}", param, ctx)
        return role, name


class _Limit(click.ParamType):  # type: ignore[type-arg,unused-ignore]
    """NAME=VALUE of a limit on input."""

    name = "NAME=VALUE"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, float]:
        if isinstance(value, tuple):
            return value
        from analyzer.budgets import limit_of

        try:
            return limit_of(str(value))
        except InputError as error:
            self.fail(str(error), param, ctx)


class _Format(click.ParamType):  # type: ignore[type-arg,unused-ignore]
    """One of the formats an answer can be written in."""

    name = "FORMAT"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        from analyzer.report.formats import FORMATS

        if value not in FORMATS:
            self.fail(f"{value!r} is not known; use one of {', '.join(FORMATS)}", param, ctx)
        return str(value)


LENGTH, POWER = _Quantity("LENGTH", parse_length), _Quantity("POWER", parse_power)

_JOB = (
    click.option("--material", metavar="NAME", help="mild-steel, stainless or aluminium; names"
                 " such as S235, 304 or AlMg3 are known."),
    click.option("--thickness", "thickness_mm", type=LENGTH, help="Sheet: 10, 10mm or 0.375in."),
    click.option("--power", "power_kw", type=POWER, help="Laser: 10, 10kW or 6000W."),
    click.option("--plate", type=choice(PLATES), help="Surface of the plate; taken as clean"
                 " where not told."),
    click.option("--next", "next_step", type=choice(NEXT_STEPS), help="What comes after."),
    click.option("--gas", "gases", multiple=True, metavar="GAS", help="oxygen, nitrogen, mixed or"
                 " air; repeatable. Without it every gas with a speed at this thickness."),
    click.option("--share", "share_percent", type=float, metavar="PERCENT", help="Oxygen in the"
                 " mixed gas, % by volume; the set point of the tables where not given."),
    click.option("--tolerance", metavar="CLASS", help="General tolerance, such as 2768-m."),
    click.option("--shop", type=click.Path(path_type=Path, dir_okay=False), help="Shop file;"
                 " otherwise burrcast.toml beside the drawing or above it."),
)  # fmt: skip
_DRAWING = (
    click.option("--units", metavar="UNIT", help="Unit of the drawing: mm, cm, m, in, ft;"
                 " as the drawing says where not given."),
    click.option("--join", "join_mm", type=LENGTH, help="Close gaps between line ends up to this;"
                 " 0.1mm where not given."),
    click.option("--layer", "layer_roles", type=_Role(), multiple=True, help="What a layer is:"
                 f" {', '.join(ROLES)}; NAME may hold * and ?; repeatable."),
    click.option("--limit", "limits", type=_Limit(), multiple=True, help="Lower or raise a limit"
                 " on input that burrcast limits lists, such as entities=2000000; repeatable."),
)  # fmt: skip
_OUTPUT = (
    click.option("--format", "formats", type=_Format(), multiple=True, metavar="FORMAT",
                 help="text (default), html, svg, png or pdf for people, csv for spreadsheets,"
                 " dxf for the designer (the drawing with marks), json for programs; repeatable"
                 " with --out."),
    click.option("--out", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
                 help="Write <drawing>.<format> into DIR, whole or not at all."),
    click.option("--force", is_flag=True, help="Replace files that exist."),
    click.option("--fail-on", type=choice(LEVELS), help="Exit 1 on a finding of this level"
                 " or worse in the advised gas (in any gas where none is advised)."),
    click.option("--why", is_flag=True, help="Show formula, inputs and source of every number."),
    click.option("--brief", is_flag=True, help="Text in one line a drawing."),
    click.option("--table", type=choice(TABLES), help="What a csv holds; findings where not"
                 " given."),
    click.option("--decimal", type=choice(("point", "comma")), help="Decimal sign in a csv;"
                 " point where not given."),
    click.option("--separator", type=choice(("comma", "semicolon", "tab")), help="Between"
                 " the cells of a csv; comma, or semicolon with --decimal comma, where not given."),
)  # fmt: skip


def asked_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add all options of a drawing command; they arrive as one `Asked`."""
    names = set(Asked.__dataclass_fields__)

    def gathered(**typed: Any) -> Any:
        asked = Asked(**{name: typed.pop(name) for name in names})
        return function(asked=asked, **typed)

    gathered.__doc__, gathered.__name__ = function.__doc__, function.__name__
    for option in reversed((*_JOB, *_DRAWING, *_OUTPUT)):
        gathered = option(gathered)
    return gathered
