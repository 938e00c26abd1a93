"""The proof: it must find every fault, also those no packer of ours would make."""

from dataclasses import replace

import numpy as np
import pytest
from packing_parts import disc, rectangle, ring

from analyzer.errors import BurrcastError
from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout, Placement
from analyzer.packing.bare import bare_part
from analyzer.packing.demand import Clamp, Demand, Spacing
from analyzer.packing.proof import ProofError, prove, prove_quantities
from analyzer.packing.stock import Stock
from analyzer.parts.part import Part

SHEET = Stock("s", 400.0, 300.0, 2)
GAP = Spacing(5.0, 10.0)


def check(
    parts: list[Part], placements: list[Placement], spacing: Spacing = GAP, stock: Stock = SHEET,
    demands: list[Demand] | None = None,
) -> None:  # fmt: skip
    layout = Layout(tuple(parts), tuple(placements), stock.length_mm, stock.width_mm)
    asked = demands or [Demand(i, 9, None, True) for i in range(len(parts))]
    prove(layout, asked, stock, spacing)


def refused(*args: object, **more: object) -> str:
    with pytest.raises(ProofError) as caught:
        check(*args, **more)  # type: ignore[arg-type]
    assert isinstance(caught.value, BurrcastError)
    assert caught.value.exit_code == 70
    return str(caught.value)


def test_gaps_hold_to_a_millionth_of_a_millimetre() -> None:
    plate = rectangle(50, 50)
    check([plate], [Placement(0, 10, 10), Placement(0, 65, 10)])
    check([plate], [Placement(0, 10, 10), Placement(0, 65 - 0.9e-6, 10)])
    said = refused([plate], [Placement(0, 10, 10), Placement(0, 65 - 2e-6, 10)])
    assert said == (
        "copy 1 (part P1, row 1, at 10.000, 10.000) and copy 2 (part P1, row 1, at 65.000, 10.000) "
        "lie 4.999998 mm apart; the gap is 5"
    )


def test_gaps_between_arcs_are_those_of_the_arcs_not_of_chords() -> None:
    """Two discs along a slant: centre distance less both radii, to 1e-6."""
    for angle in np.radians([0.0, 17.0, 33.3, 45.0]):
        for off, fine in ((0.0, True), (2e-6, False)):
            x, y = (85.0 - off) * np.cos(angle), (85.0 - off) * np.sin(angle)
            both = [Placement(0, 60, 60), Placement(0, 60 + float(x), 60 + float(y))]
            if fine:
                check([disc(40)], both)
            else:
                assert "4.999998 mm apart" in refused([disc(40)], both)


def test_one_on_the_other_and_one_in_the_other_are_found() -> None:
    plate, large = rectangle(50, 50), rectangle(200, 200)
    for x, y in ((30, 30), (10, 10)):  # crossing, and exactly on it
        assert "-1.000000 mm apart" in refused([plate], [Placement(0, 10, 10), Placement(0, x, y)])
    said = refused([plate, large], [Placement(1, 10, 10), Placement(0, 80, 80)])
    assert "copy 1" in said
    assert "copy 2" in said


def test_in_a_cut_out_the_gap_is_that_to_the_cut_out() -> None:
    host, guest = ring(120, 100), disc(60)
    check([host, guest], [Placement(0, 150, 150), Placement(1, 150 + 35, 150)])
    said = refused([host, guest], [Placement(0, 150, 150), Placement(1, 150 + 35.01, 150)])
    assert "4.990000 mm apart" in said
    assert "-1.0" in refused([host, guest], [Placement(0, 150, 150), Placement(1, 150 + 60, 150)])


def test_touching_is_allowed_without_a_gap_only() -> None:
    plate, none = rectangle(50, 50), Spacing(0.0, 0.0)
    check([plate], [Placement(0, 0, 0), Placement(0, 50, 0)], none)
    assert "-1.0" in refused([plate], [Placement(0, 0, 0), Placement(0, 49.9, 0)], none)
    check([disc(40)], [Placement(0, 40, 40), Placement(0, 120, 40)], none)


def test_margins() -> None:
    plate = rectangle(50, 50)
    check([plate], [Placement(0, 340, 240)])
    said = refused([plate], [Placement(0, 340.1, 240)])
    assert said.endswith("lies 9.900000 mm from the edge of sheet s; the margin is 10")
    assert "lies 9.000000 mm" in refused([plate], [Placement(0, 9, 50)])
    triangle = Stock.left_over("t", Contours.from_points([[0, 0], [400, 0], [0, 300]]))
    check([plate], [Placement(0, 20, 20)], stock=triangle)
    # corner (250, 200) lies outside the slanted edge; (195, 145) is 7 mm from it
    for x in (200.0, 145.0):
        assert "from the edge of sheet t" in refused([plate], [Placement(0, x, x - 50)],
                                                     stock=triangle)  # fmt: skip


def test_clamps_turns_hands_and_grain() -> None:
    plate = rectangle(50, 40)
    clamp = replace(GAP, clamps=(Clamp("left", 30.0),))
    check([plate], [Placement(0, 30, 20)], clamp)
    assert "lies in the clamp" in refused([plate], [Placement(0, 29.9, 20)], clamp)
    only = [Demand(0, 1, (0.0, 180.0))]
    check([plate], [Placement(0, 100, 100, 180.0)], demands=only)
    check([plate], [Placement(0, 100, 100, -180.0)], demands=only)
    assert "may not lie at 90 degrees" in refused([plate], [Placement(0, 100, 100, 90.0)],
                                                  demands=only)  # fmt: skip
    assert "turned over" in refused([plate], [Placement(0, 100, 100, 0.0, True)], demands=only)
    brushed = replace(GAP, grain="y")
    check([plate], [Placement(0, 100, 100, 90.0)], brushed)
    assert "may not lie at 0" in refused([plate], [Placement(0, 100, 100)], brushed)


def test_quantities_and_stock() -> None:
    plate = rectangle(50, 40)
    layout = Layout((plate,), (Placement(0, 20, 20), Placement(0, 100, 20)), 400, 300)
    demand = [Demand(0, 5)]
    prove_quantities([(layout, 2, 0)], [plate], demand, [SHEET], [(0, 1)])
    with pytest.raises(ProofError, match=r"part P1 \(row 1\): 1 neither laid nor told of"):
        prove_quantities([(layout, 2, 0)], [plate], demand, [SHEET], [])
    with pytest.raises(ProofError, match="-1 neither"):
        prove_quantities([(layout, 3, 0)], [plate], demand, [SHEET], [])
    with pytest.raises(ProofError, match="3 sheets s are used, there are 2"):
        prove_quantities([(layout, 3, 0)], [plate], [Demand(0, 6)], [SHEET], [])


def test_lettering_in_a_cut_out_is_in_the_way() -> None:
    """An island in a cut-out comes loose with its scrap: nothing may lie on it."""
    host = ring(120, 100)
    island = Contours.circle(40.0, 0.0, 10.0)
    lettered = replace(bare_part(Contours.join([host.contours, island])), islands=(2,))
    check([lettered, disc(20)], [Placement(0, 150, 150), Placement(1, 110, 150)])
    near = [Placement(0, 150, 150), Placement(1, 150 + 6, 150)]
    assert "4.000000 mm apart" in refused([lettered, disc(20)], near)
