"""Errors: what is wrong, where, and what to do about it.

An *error* means we cannot go on.  What a station measured or repaired is a *fact*
(`analyzer.drawing.drawing.Fact`), and a fact judged by a rule is a *finding*
(`analyzer.rules.rule.Finding`); neither is raised.
"""


class BurrcastError(Exception):
    """Base: what is wrong, where, and what to do about it."""

    exit_code = 70

    def __init__(self, problem: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(problem)
        self.problem, self.where, self.hint = problem, where, hint

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        advice = f" ({self.hint})" if self.hint else ""
        return f"{place}{self.problem}{advice}"


class InputError(BurrcastError, ValueError):
    """The user can mend it: a file, an option, a value."""

    exit_code = 2


class DrawingError(InputError):
    """The file cannot be read as a flat drawing, or breaks a limit on input."""
