"""Parts of the footbridge on small sheets: many sheets, many that tip."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from tempfile import TemporaryDirectory

from shared import SAMPLES

from analyzer.orders import Given
from analyzer.packing.stock import Stock
from analyzer.sheet_order import SheetOptions
from analyzer.sheet_planning import plan_sheets
from analyzer.sheeting import Sheeting


def small_sheets(rows: Iterable[tuple[str, int]]) -> Sheeting:
    """Return so many copies of sample drawings on sheets of 1000 x 600, 10 mm of mild steel."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "order.csv"
        lines = [f"{SAMPLES / name},{count}" for name, count in rows]
        path.write_text("\n".join(("drawing,quantity", *lines)) + "\n", encoding="utf-8")
        options = SheetOptions((Stock("1000x600", 1000.0, 600.0),), effort_s=0.0, what_if=False)
        return plan_sheets(path, Given("mild-steel", 10.0, 10.0), None, options)
