"""Real drawings of real people, against what their makers say of them.

Truths come from the drawing sheets, part lists and folder names of the open-hardware
projects the drawings belong to, as the manifest of the corpus notes them.
"""

import json
import subprocess
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from shared import CORPUS, SHARED, corpus_drawings, corpus_manifest, needs_corpus

from analyzer.budgets import DEFAULT as BUDGETS
from analyzer.drawing.drawing import Drawing
from analyzer.drawing.raw import RawDrawing
from analyzer.drawing.reading import read_drawing
from analyzer.drawing.sniff import read_bytes

pytestmark = needs_corpus


@cache
def read(name: str) -> Drawing:
    return read_drawing(CORPUS / f"{name}.dxf")


def round_diameters(drawing: Drawing) -> list[float]:
    """Return the diameters of contours all of whose joints lie on one circle, within 2 %."""
    cuts = drawing.cuts
    away = np.hypot(*(cuts.starts - cuts.centroid[cuts.owner]).T)
    first = cuts.offsets[:-1]
    low, high = np.minimum.reduceat(away, first), np.maximum.reduceat(away, first)
    size = cuts.box[:, 2:] - cuts.box[:, :2]
    # two half arcs or at least five corners, and no more bow than a circle has
    many = (np.diff(cuts.offsets) > 4) | (np.abs(cuts.bulges[first]) > 0.4)
    is_round = (
        cuts.closed & many & (low > 0.98 * high) & (size.max(axis=1) < 2.02 * high)
        & (size.min(axis=1) > 1.8 * high)
    )  # fmt: skip
    return np.sort(2.0 * high[is_round]).tolist()


# name: closed contours, round ones, cut length [mm] or None
TRUTH: dict[str, tuple[int, int | None, float | None]] = {
    "replimat__6mm_2x_01.04.01_Side": (14, 11, 1207.194),
    "replimat__6mm_13x_01.04.06_KnifeSpacer": (2, 1, 250.611),
    "replimat__5mm_5x_01.04.03_Knife1": (2, None, 438.135),
    "replimat__5mm_5x_knife_1": (2, None, 438.135),
    "replimat__3mm_2x_01.04.10_Sieve": (3, 2, None),
    "replimat__3mm_1x_01.04.13_bottom1": (6, 0, None),
    "replimat__extrusion_1x_back": (43, 4, None),
    "replimat__barrel_vice": (2, 1, None),
    "replimat__2x_barrel_strut": (3, 2, None),
    "replimat__bitbeam-nema-23-mount": (20, 19, None),
    "replimat__tractor-stockplate": (9, 8, None),
    "laser4diy__mainsheet_bend": (213, 203, 6923.176),
    "laser4diy__mainsheet_x": (213, 203, 6923.176),
    "laser4diy__chamber_sheet_top_bend": (5, 4, 1592.304),
    "laser4diy__chamber_sheet_top_x": (5, 4, 1592.304),
    "laser4diy__backplate_bend": (22, None, 3415.998),
    "laser4diy__hole_cover": (72, 71, 1600.8),
    "laser4diy__cutout_frontplate": (16, 14, None),
    "laser4diy__baseplate_8mm": (121, 114, 3403.128),
    "16n__16n-134-top": (25, 8, 3058.101),
    "16n__16n-134-bottom": (9, 8, 813.570),
    "compass__baseplate": (60, 54, None),
    "compass__facePlate": (13, 11, None),
    "barc__top_plate": (50, 16, None),
    "barc__side_cover": (4, 0, None),
    "trimesh__1002_tray_bottom": (24, 22, None),
    "trimesh__125_aluminum_srcMH": (126, 97, None),
    "trimesh__250_cycloidal": (106, 106, None),
    "trimesh__ChuteHolderPrint": (43, 3, None),
    "trimesh__apu-mount": (19, 14, None),
    "trimesh__sliding-base": (9, 4, None),
    "trimesh__wrench": (2, None, None),
    "prusamk3__MK3-front-plate": (19, 18, None),
    "prusa3__mini-plate-6mm-wood": (75, None, None),
    "tapster__base": (59, 58, None),
    "tapster__tapster": (10, None, None),
    "crkbd__crkbd-Edge.Cuts": (48, None, None),
}  # fmt: skip


@pytest.mark.parametrize("name", TRUTH)
def test_contours_holes_and_length(name: str) -> None:
    count, holes, length = TRUTH[name]
    drawing = read(name)
    assert int(drawing.cuts.closed.sum()) == count
    assert drawing.cuts.closed.all()
    if holes is not None:
        assert len(round_diameters(drawing)) == holes
    if length is not None:
        # the truth of the hole cover is analytic, "about"
        slack = 0.3 if name == "laser4diy__hole_cover" else 0.002
        assert drawing.cuts.length.sum() == pytest.approx(length, abs=slack)


# name: width, height as the makers state them [mm]
SIZES = {
    "replimat__6mm_2x_01.04.01_Side": (210, 135),
    "replimat__6mm_13x_01.04.06_KnifeSpacer": (50, 50),
    "replimat__3mm_2x_01.04.10_Sieve": (121, 50.5),
    "replimat__extrusion_1x_back": (150, 200),
    "replimat__barrel_vice": (50, 60),
    "replimat__2x_barrel_strut": (313.48, 35),
    "replimat__bitbeam-nema-23-mount": (56, 71.44),
    "replimat__tractor-stockplate": (8 * 25.4, 16 * 25.4),
    "laser4diy__mainsheet_bend": (776.52, 790),
    "laser4diy__backplate_bend": (492.52, 274.79),
    "laser4diy__hole_cover": (160, 90),
    "laser4diy__baseplate_8mm": (275, 390),
    "16n__16n-134-top": (254, 125.73),
    "compass__baseplate": (360, 250),
    "compass__facePlate": (247.6, 92),
    "barc__top_plate": (14 * 25.4, 4 * 25.4),
    "barc__side_cover": (7 * 25.4, 3.65 * 25.4),
    "trimesh__1002_tray_bottom": (14 * 25.4, 14 * 25.4),
    "trimesh__wrench": (3.25 * 25.4, 0.937 * 25.4),
    "prusa3__Prusa3_SC10UU-v1": (370, 370),
    "prusa3__mini-plate-6mm-wood": (477.1, 309.4),
    "crkbd__top-bottom": (11.31 * 25.4, 7.90 * 25.4),
}


@pytest.mark.parametrize("name", SIZES)
def test_size_in_millimetres(name: str) -> None:
    box = read(name).cuts.box
    size = box[:, 2:].max(axis=0) - box[:, :2].min(axis=0)
    assert size == pytest.approx(SIZES[name], abs=0.15)


@pytest.mark.parametrize(
    ("name", "diameters"),
    [
        ("replimat__6mm_2x_01.04.01_Side", {4.234: 2, 9: 4, 10.5: 4, 42: 1}),
        ("laser4diy__baseplate_8mm", {4: 4, 5: 109, 30.7: 1}),
        ("laser4diy__cutout_frontplate", {3.5: 4, 6: 4, 19: 1, 21: 1, 23: 4}),
        ("compass__baseplate", {3.2: 32, 5.3: 22}),
        ("compass__facePlate", {2.4: 1, 3.4: 8, 7.4: 1, 16: 1}),
        ("prusamk3__MK3-front-plate", {3: 6, 3.3: 4, 5: 8}),
        ("barc__top_plate", {0.1339 * 25.4: 16}),
        ("16n__16n-134-bottom", {2.5: 8}),
    ],
)
def test_hole_diameters(name: str, diameters: dict[float, int]) -> None:
    found = round_diameters(read(name))
    expected = sorted(d for d, count in diameters.items() for _ in range(count))
    assert found == pytest.approx(expected, abs=0.06)


@pytest.mark.parametrize("path", corpus_drawings(), ids=lambda p: p.stem)
def test_units_are_right_and_guesses_are_said(path: Path) -> None:
    """Column real_unit of the manifest, found by other means than ours."""
    row = corpus_manifest()[path.name]
    if row["file"] == "trimesh__tray-easy1.dxf":
        pytest.skip("nothing in model space to tell by")
    drawing = read(path.stem)
    assert drawing.units.name == row["real_unit"]
    guessed = [fact for fact in drawing.facts if fact.kind == "unit-guessed"]
    assert bool(guessed) == (drawing.units.source == "evidence")


@pytest.mark.parametrize("path", corpus_drawings(), ids=lambda p: p.stem)
def test_every_drawing_is_read_or_refused_and_the_account_adds_up(path: Path) -> None:
    drawing = read(path.stem)
    tags = RawDrawing(read_bytes(path, BUDGETS), path.name)
    in_model_space = sum(not entity.paper for entity in tags.entities)
    assert drawing.account.total == in_model_space
    for account in (drawing.account, drawing.in_blocks):
        assert account.total == account.used + sum(row.count for row in account.ignored)
        assert all(row.reason for row in account.ignored)
    assert np.isfinite(drawing.cuts.starts).all()
    assert len(drawing.cut_sources) == len(drawing.cuts)
    assert all(drawing.cut_sources)
    made_of = {entity for source in drawing.cut_sources for entity in source}
    top = {entity for entity in made_of if not entity.in_block}
    assert len(top) <= drawing.account.used
    # the ends of segments meet
    cuts = drawing.cuts
    inner = np.flatnonzero(cuts.previous >= 0)
    assert (cuts.starts[inner] == cuts.ends[cuts.previous[inner]]).all()


def test_bend_twins_are_one_part() -> None:
    """The same part with bend lines and with circles of extrusion (0, 0, -1)."""
    bent, plain = read("laser4diy__mainsheet_bend"), read("laser4diy__mainsheet_x")
    assert np.sort(bent.cuts.area) == pytest.approx(np.sort(plain.cuts.area), rel=1e-6)
    assert bent.bends.length.tolist() == pytest.approx([790.0] * 6)
    assert len(plain.bends) == 0


def test_a_closed_loop_on_a_bend_layer_is_no_cut_out() -> None:
    drawing = read("laser4diy__backplate_bend")
    assert drawing.bends.closed.sum() >= 1
    assert drawing.account.used == drawing.account.total == 37


def test_doubles_are_counted() -> None:
    """22 holes drawn twice, and one arc on top of a fillet of the outline."""
    (fact,) = [f for f in read("compass__baseplate").facts if f.kind == "double-line"]
    assert fact.count == 23
    assert "378.876 mm" in fact.message  # 22 x 5.3 pi, and a quarter of R 8
    assert 22 * 5.3 * np.pi + 4 * np.pi == pytest.approx(378.876, abs=5e-4)


def test_three_writings_of_one_sampler() -> None:
    """R12 with curve-fit polylines, R13 with splines, R2010 binary."""
    old, new, binary = (read(f"trimesh__ae.{v}") for v in ("r12a", "r13a", "r2010b"))
    assert new.cuts.length == pytest.approx(binary.cuts.length, abs=1e-6)
    assert old.cuts.length.sum() == pytest.approx(new.cuts.length.sum(), rel=2e-3)
    assert len(old.cuts) == len(new.cuts) == len(binary.cuts) == 9


def test_an_array_of_blocks_with_a_scale_of_zero_upwards() -> None:
    small = [d for d in round_diameters(read("skydxf__arrayed-holes")) if d < 10]
    assert small == pytest.approx([0.26 * 25.4] * 14, abs=0.05)


def test_a_drawing_in_paper_space_says_so() -> None:
    drawing = read("trimesh__tray-easy1")
    assert len(drawing.cuts) == 0
    assert any("470 entities lie in paper space" in fact.message for fact in drawing.facts)


def test_centre_marks_and_logo_of_a_name_plate() -> None:
    """Dashed centre marks through every hole are no cuts, nor is the logo; five contours are."""
    drawing = read("m17rru__nameplate")
    assert drawing.cuts.closed.tolist() == [True] * 5
    assert len([d for d in round_diameters(drawing) if d == pytest.approx(3.2, abs=0.01)]) == 4
    assert any(f.kind == "layer-role" and "ACAD_ISO02W100" in f.message for f in drawing.facts)


@pytest.mark.slow
def test_a_dirty_sheet_of_known_truth(tmp_path: Path) -> None:
    """Ends off by up to 0.01 mm, doubles, gaps of 0.5 mm: counts and length of the generator."""
    make = SHARED / "prototypes" / "make_sheet.py"
    if not make.is_file():
        pytest.skip("the sheet generator is not here")
    path = tmp_path / "sheet.dxf"
    subprocess.run(
        [sys.executable, make, "20000", path], check=True, cwd=tmp_path, capture_output=True
    )
    truth = json.loads(Path(f"{path}.truth.json").read_text())
    drawing = read_drawing(path)
    assert int(drawing.cuts.closed.sum()) == truth["closed"]
    assert int((~drawing.cuts.closed).sum()) == truth["open"]
    assert drawing.cuts.length.sum() == pytest.approx(truth["length"], rel=1e-6)
    doubles = sum(r.count for r in drawing.account.ignored if r.reason == "drawn twice")
    assert doubles == truth["dup"]
