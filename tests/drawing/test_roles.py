"""Layer roles: what the user says, what the drawing hides, names, linetypes."""

from pathlib import Path
from typing import Any

import pytest
from drawing.making import PLATE_LENGTH, draw_plate, fact, read_made, reasons

from analyzer.drawing.reading import ReadOptions
from analyzer.drawing.roles import role_by_name


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("BEND", "bend"), ("BEND_EXTENT", "bend"), ("IV_BEND", "bend"), ("Biegelinien", "bend"),
        ("Biegung oben", "bend"), ("fold-lines", "bend"), ("PLIAGE", "bend"),
        ("Engrave", "mark"), ("ENGRAVING_1", "mark"), ("Laser_Mark", "mark"), ("MARKING", "mark"),
        ("etch", "mark"), ("GRAVIRANJE", "mark"), ("Gravur", "mark"),
        ("_U+5F6B_U+523B_U+30D1_U+30B9", "mark"), ("\\U+5F6B\\U+523B", "mark"),
        ("DIM", "ignore"), ("Dimensions", "ignore"), ("Bemaßung", "ignore"), ("Text", "ignore"),
        ("CONSTRUCTION", "ignore"), ("Hilfslinien", "ignore"), ("CenterLines", "ignore"),
        ("CENTERMARK", "ignore"), ("Mittellinien", "ignore"), ("HIDDEN", "ignore"),
        ("FRAME", "frame"), ("Title Block", "frame"), ("Zeichnungsrahmen", "frame"),
        ("BORDER", "frame"), ("FORMAT", "frame"),
        ("SHEET", "sheet"), ("Rohteil", "sheet"),
        ("CUT", "cut"), ("CUT_TEXT", "cut"), ("OUTER_PROFILES", None), ("INTERIOR_PROFILES", None),
        ("0", None), ("Layer 1", None), ("119", None), ("Kontur", "cut"), ("M3", None),
        ("_U+5207_U+65AD_U+30D1_U+30B9", "cut"), ("AUSSENKANTE", None), ("SHEET_METAL", None),
        ("Layer 1_Num_Penna__5_Num_Penna__150", None), ("HOLES", None), ("IZREZ", None),
    ],
)  # fmt: skip
def test_names(name: str, role: str | None) -> None:
    assert role_by_name(name) in ((role, "cut") if role is None else (role,))


def with_extra(layer: str, **attributes: Any) -> Any:
    def draw(space: Any) -> None:
        draw_plate(space, "CUT")
        space.add_circle((60, 90), 6, dxfattribs={"layer": layer, **attributes})
        space.add_line((100, 20), (150, 20), dxfattribs={"layer": layer, **attributes})

    return draw


@pytest.mark.parametrize("layer", ["DIM", "Defpoints", "FRAME", "SHEET", "CONSTRUCTION"])
def test_layers_not_cut_by_name(tmp_path: Path, layer: str) -> None:
    drawing = read_made(tmp_path, with_extra(layer))
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    assert drawing.account.used == 13
    said = fact(drawing, "layer-role")
    assert said.count == 2
    assert f"'{layer}'" in said.message
    assert all(reason for _, reason in reasons(drawing))


def test_mark_and_bend_layers_are_used_but_not_cut(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, with_extra("Engrave"))
    assert drawing.marks.length.sum() == pytest.approx(50 + 12 * 3.14159265, abs=1e-6)
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    assert drawing.account.used == drawing.account.total == 15
    drawing = read_made(tmp_path, with_extra("BEND_EXTENT"))
    assert len(drawing.bends) == 2  # the closed one is no cut-out
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    assert "bend lines" in fact(drawing, "layer-role").message


@pytest.mark.parametrize("state", ["off", "freeze", "no plot"])
def test_hidden_layers_are_not_cut(tmp_path: Path, state: str) -> None:
    def draw(space: Any) -> None:
        layer = space.doc.layers.add("JUNK")
        {"off": layer.off, "freeze": layer.freeze, "no plot": lambda: layer.set_flag_state}[state]()
        if state == "no plot":
            layer.dxf.plot = 0
        with_extra("JUNK")(space)

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    assert {"off": "off", "freeze": "frozen", "no plot": "plot"}[state] in str(reasons(drawing))
    assert "'JUNK'" in fact(drawing, "layer-role").message


@pytest.mark.parametrize("linetype", ["CENTER", "DASHED", "HIDDEN2", "PHANTOM", "ACAD_ISO04W100"])
@pytest.mark.parametrize("by_layer", [False, True])
def test_broken_linetypes_are_not_cut(tmp_path: Path, linetype: str, by_layer: bool) -> None:
    def draw(space: Any) -> None:
        space.doc.linetypes.add(linetype, [1.0, 0.5, -0.5])
        space.doc.layers.add("THIN", linetype=linetype if by_layer else "CONTINUOUS")
        more = {} if by_layer else {"linetype": linetype}
        with_extra("THIN", **more)(space)

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    assert linetype in fact(drawing, "layer-role").message


def test_where_nothing_else_is_left_the_name_is_no_reason(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, lambda m: draw_plate(m, "TEXT"))
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    assert "because nothing else is left to cut" in fact(drawing, "layer-role").message


def test_a_frozen_cut_layer_leaves_nothing_to_cut(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.doc.layers.add("CUT").freeze()
        draw_plate(space, "CUT")

    drawing = read_made(tmp_path, draw)
    assert len(drawing.cuts) == 0
    assert drawing.account.used == 0
    assert fact(drawing, "nothing-to-cut")
    assert "frozen" in str(reasons(drawing))


@pytest.mark.parametrize("role", ["mark", "bend", "sheet", "frame", "ignore", "cut"])
def test_the_user_decides_first(tmp_path: Path, role: str) -> None:
    """A pattern, in any case, wins over names and over a frozen layer."""

    def draw(space: Any) -> None:
        space.doc.layers.add("Bend_7").freeze()
        with_extra("Bend_7")(space)

    options = ReadOptions(layer_roles=((role, "BEND*"), ("cut", "Bend_7")))
    drawing = read_made(tmp_path, draw, options=options)
    extra = 50 + 12 * 3.14159265
    assert drawing.cuts.length.sum() == pytest.approx(
        PLATE_LENGTH + (extra if role == "cut" else 0), abs=1e-6
    )
    assert len(drawing.marks) == (2 if role == "mark" else 0)
    assert len(drawing.bends) == (2 if role == "bend" else 0)
    if role != "cut":
        assert "told" in fact(drawing, "layer-role").message


def test_a_role_asked_for_that_no_layer_has_is_said(tmp_path: Path) -> None:
    """--layer cut=OUTLNE is a slip of the pen; a shop file's patterns are for all drawings."""
    asked = (("mark", "engrve*"), ("cut", "c?t"), ("ignore", "DIM"), ("ignore", "DIM"))
    options = ReadOptions(layer_roles=(*asked, ("bend", "KANT*")), asked_roles=asked)
    drawing = read_made(tmp_path, with_extra("ENGRAVE"), options=options)
    said = [f.message for f in drawing.facts if f.kind == "layer-not-there"]
    assert said == [
        "no layer here is called 'engrve*', as mark=engrve* asks; layers with lines or words:"
        " 'CUT', 'ENGRAVE'",
        "no layer here is called 'DIM', as ignore=DIM asks; layers with lines or words:"
        " 'CUT', 'ENGRAVE'",
    ]
