"""burrcast: which gas, what goes wrong where, and how many minutes, before packing.

>>> import analyzer
>>> job = analyzer.Job("mild-steel", thickness_mm=10.0, power_kw=10.0)

Everything in `__all__` is imported when it is first asked for, so that `import analyzer`
stays light.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from analyzer._version import __version__

if TYPE_CHECKING:
    from analyzer.analysis import Analysis, GasResult, analyse
    from analyzer.comparison import Advice, Answer, advise, check
    from analyzer.drawing.drawing import Drawing
    from analyzer.drawing.reading import ReadOptions, read_drawing
    from analyzer.errors import BurrcastError, DrawingError, InputError
    from analyzer.headlines import Number
    from analyzer.job import Job
    from analyzer.orders import Given
    from analyzer.parts.part import Part, PartSet
    from analyzer.report.formats import sheeting_written, written
    from analyzer.request import Request
    from analyzer.rules.rule import Finding
    from analyzer.sheet_order import SheetOptions
    from analyzer.sheet_planning import plan_sheets
    from analyzer.sheeting import Sheeting, SheetJob
    from analyzer.shop import Shop, load_shop
    from analyzer.tolerances import Tolerances

_HOMES = {
    "Advice": "comparison", "Analysis": "analysis", "Answer": "comparison",
    "BurrcastError": "errors", "Drawing": "drawing.drawing", "DrawingError": "errors",
    "Finding": "rules.rule", "GasResult": "analysis", "Given": "orders",
    "InputError": "errors", "Job": "job", "Number": "headlines", "Part": "parts.part",
    "PartSet": "parts.part",
    "ReadOptions": "drawing.reading", "Request": "request", "SheetJob": "sheeting",
    "SheetOptions": "sheet_order",
    "Sheeting": "sheeting", "Shop": "shop", "Tolerances": "tolerances",
    "advise": "comparison", "analyse": "analysis", "check": "comparison", "load_shop": "shop",
    "plan_sheets": "sheet_planning", "read_drawing": "drawing.reading",
    "sheeting_written": "report.formats", "written": "report.formats",
}  # fmt: skip

_ANSWERS, _SHEETS = {"Answer", "Request", "check"}, {"Sheeting", "plan_sheets"}
"""Names that lead to results which notebooks show; sheets hold answers."""

__all__ = [
    "Advice",
    "Analysis",
    "Answer",
    "BurrcastError",
    "Drawing",
    "DrawingError",
    "Finding",
    "GasResult",
    "Given",
    "InputError",
    "Job",
    "Number",
    "Part",
    "PartSet",
    "ReadOptions",
    "Request",
    "SheetJob",
    "SheetOptions",
    "Sheeting",
    "Shop",
    "Tolerances",
    "__version__",
    "advise",
    "analyse",
    "check",
    "load_shop",
    "plan_sheets",
    "read_drawing",
    "sheeting_written",
    "written",
]


def __getattr__(name: str) -> Any:
    """Import a public name from its home on first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module 'analyzer' has no attribute {name!r}")
    value = getattr(import_module(f"analyzer.{_HOMES[name]}"), name)
    if name in _ANSWERS | _SHEETS:
        from analyzer.report.notebook import teach_answers, teach_sheets

        teach_answers()
        if name in _SHEETS:
            teach_sheets()
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
