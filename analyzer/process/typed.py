"""A TOML file typed by hand: values checked, faults named with line, section and remedy."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches
from pathlib import Path
from typing import Any, TypeVar

from analyzer.errors import InputError

_T = TypeVar("_T")
_UNIT = re.compile(r"(_(m|mm|in|s|s2|s3|kw|percent|per|min|h|nm3|bar|psi|mpa|kg|kwh|m2))+$")
_NEAR = 0.6  # least likeness of two keys to ask "did you mean"


def _nearest(key: str, valid: tuple[str, ...]) -> str:
    """Return the valid key most like `key`, its unit left out or not; empty if none is."""

    def likeness(name: str) -> float:
        stems = (name, _UNIT.sub("", name))
        return max(SequenceMatcher(None, key.lower(), stem).ratio() for stem in stems)

    best = max(valid, key=likeness)
    return best if likeness(best) >= _NEAR else ""


@dataclass(frozen=True)
class TomlFile:
    """The file being read: checks values and says where a wrong one stands."""

    path: Path
    text: str

    def content(self) -> Mapping[str, Any]:
        """Return the file as TOML.

        Raises
        ------
        InputError
            If it is not TOML; the message has line and column.
        """
        try:
            return tomllib.loads(self.text)
        except tomllib.TOMLDecodeError as error:
            raise InputError(
                f"not valid TOML: {error}", where=str(self.path), hint="mend it in a text editor"
            ) from None
        except RecursionError:
            raise InputError(
                "not valid TOML: lists within lists without end", where=str(self.path),
                hint="mend it in a text editor",
            ) from None  # fmt: skip

    def wrong(
        self, problem: str, hint: str, section: str, key: str = "", nth: int = 0
    ) -> InputError:
        """Return the error to raise: file, line and section as its place."""
        return InputError(problem, where=self.place(section, key, nth), hint=hint)

    def place(self, section: str, key: str = "", nth: int = 0) -> str:
        """Return file, line and section in words."""
        line = self.line_of(section, key, nth)
        said = f"{self.path}" + (f", line {line}" if line else "")
        return said + (f", [{section}]" if section else "")

    def line_of(self, section: str, key: str, nth: int = 0) -> int:
        """Return the line of `key` in the nth table `section`; 0 when not found.

        Only for messages: it looks for headers and keys as they are usually written.
        """
        seen, inside, header_line = -1, not section, 0
        for number, line in enumerate(self.text.splitlines(), start=1):
            header = re.match(r"\s*\[{1,2}\s*([^\]]*?)\s*\]{1,2}", line)
            if header:
                name = header[1].replace('"', "").replace("'", "")
                if not section and name.split(".")[0] == key:
                    return number
                if section and key and f"{name}.".startswith(f"{section}.{key}."):
                    return number  # [gases.argon]
                inside = name == section
                seen += inside
                inside = inside and seen == nth
                header_line = number if inside else header_line
                if inside and not key:
                    return number
            elif inside and key and re.match(rf"""\s*["']?{re.escape(key)}["']?\s*[=.]""", line):
                return number
        return header_line

    def _muted_header(self, section: str, key: str, nth: int) -> str:
        """Return the header behind a # that `key` was meant for; empty where there is none."""
        line = self.line_of(section, key, nth)
        for text in reversed(self.text.splitlines()[: max(line - 1, 0)]):
            if re.match(r"\s*\[", text):
                return ""
            muted = re.match(r"\s*#\s*(\[{1,2}[^\[\]]+\]{1,2})\s*$", text)
            if muted:
                return muted[1]
        return ""

    def known(
        self, section: str, table: Mapping[str, Any], valid: tuple[str, ...], nth: int = 0
    ) -> None:
        """Raise InputError at the first key of `table` that is not `valid`."""
        for key in table:
            if key not in valid:
                near = _nearest(key, valid)
                kind = "key" if section else "section"
                hint = f"did you mean {near}?" if near else "use one of " + ", ".join(valid)
                muted = self._muted_header(section, key, nth)
                if muted:
                    hint = f"take the # away before {muted} above it too"
                raise self.wrong(f"{kind} {key!r} is not known", hint, section, key, nth)

    def table(self, section: str, value: Any) -> Mapping[str, Any]:
        """Return `value`, which must be a section."""
        if not isinstance(value, dict):
            raise self.wrong(f"{section} must be a section", f"write [{section}]", "", section)
        return value

    def number(
        self,
        section: str,
        table: Mapping[str, Any],
        key: str,
        low: float,
        high: float,
        nth: int = 0,
    ) -> float:
        """Return the number at `key`, which must lie in [low, high]."""
        value = table[key]
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.wrong(
                f"{key} = {value!r} is not a number",
                "write it without quotes and unit; the key names the unit",
                section,
                key,
                nth,
            )
        if not low <= value <= high:  # refuses nan and inf too
            raise self.wrong(
                f"{key} = {value:g} cannot be meant",
                f"between {low:g} and {high:g}; the key names the unit",
                section,
                key,
                nth,
            )
        return float(value)

    def text_at(self, section: str, table: Mapping[str, Any], key: str, nth: int = 0) -> str:
        """Return the text at `key`."""
        value = table[key]
        if not isinstance(value, str):
            raise self.wrong(
                f"{key} = {value!r} is not text", "write it in quotes", section, key, nth
            )
        return value

    def flag(self, section: str, table: Mapping[str, Any], key: str, nth: int = 0) -> bool:
        """Return the true or false at `key`."""
        value = table[key]
        if not isinstance(value, bool):
            problem = f"{key} = {value!r} is neither true nor false"
            raise self.wrong(problem, "write true or false, without quotes", section, key, nth)
        return value

    def texts(self, section: str, table: Mapping[str, Any], key: str) -> tuple[str, ...]:
        """Return the list of texts at `key`."""
        value = table[key]
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise self.wrong(
                f"{key} = {value!r} is not a list of texts",
                f'write {key} = ["...", "..."]',
                section,
                key,
            )
        return tuple(value)

    def choice(
        self, section: str, table: Mapping[str, Any], key: str, valid: tuple[str, ...]
    ) -> str:
        """Return the text at `key`, one of `valid`, capitals or not."""
        value = self.text_at(section, table, key)
        if value.lower() not in valid:
            near = get_close_matches(value.lower(), valid, n=1)
            hint = f"did you mean {near[0]}?" if near else "use one of " + ", ".join(valid)
            raise self.wrong(f"{key} = {value!r} is not known", hint, section, key)
        return value.lower()

    def placed(self, section: str, key: str, make: Callable[[], _T], nth: int = 0) -> _T:
        """Return `make()`; an InputError it raises gets file and line of `key`."""
        try:
            return make()
        except InputError as error:
            raise self.wrong(error.problem, error.hint, section, key, nth) from None

    def one_of_units(
        self, section: str, table: Mapping[str, Any], units: Mapping[str, float], nth: int = 0
    ) -> tuple[str, float] | None:
        """Return the key given of those that differ in unit, and its factor; None if none."""
        given = [key for key in units if key in table]
        if len(given) > 1:
            raise self.wrong(
                f"{given[0]} and {given[1]} say the same thing", "keep one", section, given[1], nth
            )
        return (given[0], units[given[0]]) if given else None
