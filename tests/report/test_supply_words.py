"""What the page says of a gas supply that is too small: common practice, no source."""

from dataclasses import replace

from hand_made import JOB, Case, analysis

from analyzer.comparison import Answer, advise
from analyzer.process.choose import settings_for
from analyzer.process.supply import Supplies, Supply
from analyzer.report.to_text import check_page, compare_page


def test_a_weak_compressor_is_named_and_not_advised() -> None:
    """8 bar at the head where 12 are wanted: a loss of air alone, not of the laser's power."""
    supplies = Supplies(by_gas={"air": Supply("compressor", pressure_bar=8.0)})
    settings, _ = settings_for(JOB, supplies=supplies)
    made = analysis({"air": Case(50.0, losses=[("thickness-beyond-power", (0.0, 0.0))]),
                     "nitrogen": Case(60.0)})  # fmt: skip
    by_gas = {s.gas: s for s in settings}
    gases = tuple(replace(r, setting=by_gas[r.gas]) for r in made.gases)
    weak = replace(made, gases=gases)
    advice = advise(weak)
    assert advice.gas == "nitrogen"
    page = " ".join(compare_page(Answer(weak, advice)).split())
    assert "air: 8 bar at the head, 12 bar wanted" in page
    only = replace(weak, gases=gases[1:])
    assert [r.gas for r in only.gases] == ["air"]
    assert "too little pressure" in check_page(Answer(only, advise(only)))
