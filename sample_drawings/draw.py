"""Draw the sample parts: plates of a small village footbridge, as DXF files.

    python sample_drawings/draw.py [FOLDER]

writes every drawing into FOLDER, by default beside this script.  The same bytes come
out every time.  Bolt holes follow ISO 273 (fine, medium or coarse as noted).  What a
correct reading of each must give stands in NAME.expected.toml, with the closed form
of every length; nothing there is taken from the program.

The drawings differ on purpose in how they are drawn, as drawings from different desks
do: polylines with bulges, single lines and arcs in any direction, blocks (turned,
mirrored, in rows and columns), old and new DXF versions, inches.
"""

import logging
import math
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import ezdxf
from ezdxf.document import Drawing
from ezdxf.layouts import BaseLayout

HERE = Path(__file__).resolve().parent
CUT, MARK, TEXT = "CUT", "MARK", "TEXT"
INCH, MILLIMETRE = 1, 4  # $INSUNITS codes of the DXF reference

Point = tuple[float, float]
Vertex = tuple[float, float, float]  # x, y, bulge (or corner radius before filleting)


# --- shapes -----------------------------------------------------------------


def filleted(corners: Sequence[Vertex]) -> list[Vertex]:
    """Return polyline points (x, y, bulge) of a polygon with corners (x, y, radius)."""
    points: list[Vertex] = []
    for i, (x, y, radius) in enumerate(corners):
        before, after = corners[i - 1], corners[(i + 1) % len(corners)]
        inward = math.atan2(y - before[1], x - before[0])
        outward = math.atan2(after[1] - y, after[0] - x)
        turn = math.remainder(outward - inward, math.tau)
        if radius == 0.0:
            points.append((x, y, 0.0))
            continue
        reach = radius * math.tan(abs(turn) / 2.0)
        points.append(
            (x - reach * math.cos(inward), y - reach * math.sin(inward), math.tan(turn / 4.0))
        )
        points.append((x + reach * math.cos(outward), y + reach * math.sin(outward), 0.0))
    return points


def plate(x: float, y: float, width: float, height: float, radius: float) -> list[Vertex]:
    """Return a rectangle with rounded corners, lower left corner at x, y."""
    return filleted(
        [
            (x, y, radius),
            (x + width, y, radius),
            (x + width, y + height, radius),
            (x, y + height, radius),
        ]
    )


def obround(x: float, y: float, length: float, width: float, upright: bool = False) -> list[Vertex]:
    """Return a slot with round ends, centred at x, y; `length` is over the ends."""
    half, r = (length - width) / 2.0, width / 2.0
    flat = [(-half, -r, 0.0), (half, -r, 1.0), (half, r, 0.0), (-half, r, 1.0)]
    if upright:
        return [(x - v, y + u, bulge) for u, v, bulge in flat]
    return [(x + u, y + v, bulge) for u, v, bulge in flat]


def polyline(layout: BaseLayout, points: Iterable[Vertex]) -> None:
    """Add a closed polyline with bulges on the cut layer."""
    layout.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": CUT})


def holes(layout: BaseLayout, diameter: float, centres: Iterable[Point], layer: str = CUT) -> None:
    """Add round holes."""
    for centre in centres:
        layout.add_circle(centre, diameter / 2.0, dxfattribs={"layer": layer})


def loose_edges(layout: BaseLayout, points: Sequence[Vertex]) -> None:
    """Add a closed outline as single lines and arcs, every other one the other way round."""
    for i, (x, y, bulge) in enumerate(points):
        end = points[(i + 1) % len(points)]
        a, b = (x, y), (end[0], end[1])
        if bulge:
            centre, start, stop, radius = ezdxf.math.bulge_to_arc(a, b, bulge)
            layout.add_arc(
                centre, radius, math.degrees(start), math.degrees(stop), dxfattribs={"layer": CUT}
            )
        else:
            layout.add_line(*((b, a) if i % 4 else (a, b)), dxfattribs={"layer": CUT})


def words(layout: BaseLayout, text: str, x: float, y: float, height: float) -> None:
    """Add one line of text."""
    layout.add_text(text, height=height, dxfattribs={"layer": TEXT}).set_placement((x, y))


def new_drawing(version: str, unit: int) -> Drawing:
    """Return an empty drawing with our layers."""
    drawing = ezdxf.new(version, units=unit)
    for name, colour in ((CUT, 7), (MARK, 3), (TEXT, 8)):
        drawing.layers.add(name, color=colour)
    return drawing


# --- the parts --------------------------------------------------------------


def gusset() -> Drawing:
    """Gusset, 10 mm: M16 bolts (medium), M8 clips (medium), two rivet holes far too small."""
    drawing = new_drawing("R2010", MILLIMETRE)
    space = drawing.modelspace()
    polyline(
        space,
        filleted([(0, 0, 10), (280, 0, 10), (280, 90, 10), (130, 240, 10), (0, 240, 10)]),
    )
    holes(space, 17.5, [(45, 40), (105, 40), (165, 40), (225, 40), (45, 100), (45, 160)])
    holes(space, 9.0, [(220, 115), (195, 140), (170, 165), (145, 190)])
    holes(space, 3.5, [(110, 105), (140, 105)])
    words(space, "GUSSET G07  S235  t=10", 0, -20, 8)
    return drawing


def base_plate() -> Drawing:
    """Base plate, 20 mm: M24 anchors (coarse), grout hole, drain holes too small; loose edges."""
    drawing = new_drawing("R2000", MILLIMETRE)
    space = drawing.modelspace()
    loose_edges(space, plate(0, 0, 320, 320, 25))
    holes(space, 28.0, [(50, 50), (270, 50), (270, 270), (50, 270)])
    holes(space, 60.0, [(160, 160)])
    holes(space, 8.0, [(160, 40), (280, 160), (160, 280), (40, 160)])
    words(space, "BASE PLATE B02  S355  t=20", 0, -25, 10)
    return drawing


def railing_bracket() -> Drawing:
    """Railing bracket, 6 mm: M10 slots in a block, strap slot, tight and sharp inside corners."""
    drawing = new_drawing("R2013", MILLIMETRE)
    space = drawing.modelspace()
    polyline(
        space,
        filleted(
            [
                (0, 0, 10), (180, 0, 10), (180, 110, 20), (111, 110, 3), (111, 80, 0),
                (69, 80, 0), (69, 110, 3), (0, 110, 20),
            ]
        ),
    )  # fmt: skip
    slot = drawing.blocks.new("SLOT_M10")
    slot.add_lwpolyline(obround(0, 0, 36, 11), format="xyb", close=True)  # layer 0: the insert's
    for x in (30, 150):
        space.add_blockref("SLOT_M10", (x, 45), dxfattribs={"layer": CUT, "rotation": 90})
    polyline(space, obround(90, 66, 28, 3.2))
    polyline(space, plate(77.25, 20, 25.5, 25.5, 0.25))
    words(space, "RAILING BRACKET R11  S235  t=6", 0, -15, 6)
    return drawing


def deck_plate() -> Drawing:
    """Deck plate, aluminium 8 mm: 189 grip holes in rows and columns, hand slots, fixings."""
    drawing = new_drawing("R2018", MILLIMETRE)
    space = drawing.modelspace()
    polyline(space, plate(0, 0, 800, 300, 15))
    grip = drawing.blocks.new("GRIP_HOLE")
    grip.add_circle((0, 0), 5.0)
    space.add_blockref(
        "GRIP_HOLE",
        (100, 30),
        dxfattribs={
            "layer": CUT,
            "column_count": 21,
            "column_spacing": 30,
            "row_count": 9,
            "row_spacing": 30,
        },
    )
    for x in (45, 755):
        polyline(space, obround(x, 150, 90, 25, upright=True))
    holes(space, 9.0, [(25, 25), (775, 25), (775, 275), (25, 275)])
    holes(space, 6.6, [(60, 60), (740, 60)])
    words(space, "DECK PLATE D21  AlMg3  t=8", 0, -30, 12)
    return drawing


LETTERS: dict[str, list[list[Point]]] = {  # strokes on a grid 2 wide and 3 high
    "M": [[(0, 0), (0, 3), (1, 1.5), (2, 3), (2, 0)]],
    "A": [[(0, 0), (1, 3), (2, 0)], [(0.5, 1.5), (1.5, 1.5)]],
    "X": [[(0, 0), (2, 3)], [(0, 3), (2, 0)]],
    "5": [[(2, 3), (0, 3), (0, 2), (2, 2), (2, 0), (0, 0)]],
    "K": [[(0, 0), (0, 3)], [(2, 3), (0, 1.5), (2, 0)]],
    "N": [[(0, 0), (0, 3), (2, 0), (2, 3)]],
}


def name_plate() -> Drawing:
    """Load plate, stainless 3 mm: lettering on the mark layer, three strokes too narrow to cut."""
    drawing = new_drawing("R2010", MILLIMETRE)
    space = drawing.modelspace()
    polyline(space, plate(0, 0, 220, 90, 10))
    holes(space, 4.5, [(12, 12), (208, 12), (208, 78), (12, 78)])
    size, x = 9.0, 31.25
    for letter in "MAX 5 KN":
        for stroke in LETTERS.get(letter, []):
            space.add_lwpolyline(
                [(x + u * size, 44 + v * size) for u, v in stroke], dxfattribs={"layer": MARK}
            )
        x += 2.7 * size if letter in LETTERS else 1.0 * size
    for y in (18, 24, 30):
        polyline(space, obround(110, y, 120, 1.0))
    words(space, "LOAD PLATE N01  1.4301  t=3", 0, -12, 5)
    return drawing


def splice_plate() -> Drawing:
    """Splice plate, 15 mm: M20 bolts (medium), three windows with webs of 4 mm between them."""
    drawing = new_drawing("R2007", MILLIMETRE)
    space = drawing.modelspace()
    polyline(space, plate(0, 0, 420, 150, 12))
    holes(space, 22.0, [(x, y) for x in (45, 105, 315, 375) for y in (40, 110)])
    for x in (161, 195, 229):
        polyline(space, plate(x, 40, 30, 70, 6))
    words(space, "SPLICE PLATE S05  S355  t=15", 0, -20, 8)
    return drawing


def bracing_plate() -> Drawing:
    """Bracing plates, 12 mm, pointed: two of one hand (one turned), one of the other hand."""
    drawing = new_drawing("R2010", MILLIMETRE)
    brace = drawing.blocks.new("BRACE")
    polyline(brace, filleted([(0, 0, 0), (260, 0, 15), (260, 110, 15), (200, 140, 15)]))
    holes(brace, 17.5, [(220, 40), (160, 40)])
    holes(brace, 13.5, [(215, 95)])
    space = drawing.modelspace()
    space.add_blockref("BRACE", (0, 0), dxfattribs={"layer": CUT})
    space.add_blockref("BRACE", (290, 240), dxfattribs={"layer": CUT, "rotation": 180})
    space.add_blockref("BRACE", (580, 0), dxfattribs={"layer": CUT, "xscale": -1})
    words(space, "BRACING PLATE X03  S235  t=12", 0, -80, 8)
    return drawing


def rough_plate() -> Drawing:
    """Cover plate, 3/16 in, badly drawn: inches not told, a gap, doubled edges, an open slot."""
    drawing = ezdxf.new("R12", units=0)  # this version has no unit in its header
    space = drawing.modelspace()
    gap = 0.05 / 25.4
    r = 0.5
    edges = [
        ((r, 0), (9 - r, 0)),
        ((9, r), (9, 6 - r)),
        ((9 - r, 6), (r + gap, 6)),  # stops 0.05 mm short
        ((0, 6 - r), (0, r)),
        ((9 - r, 0), (r, 0)),  # the bottom again, the other way
        ((9, 1), (9, 3)),  # a stretch of the right side again
    ]
    for a, b in edges:
        space.add_line(a, b)
    corners = [((r, r), 180), ((9 - r, r), 270), ((9 - r, 6 - r), 0), ((r, 6 - r), 90)]
    for centre, start in corners:
        space.add_arc(centre, r, start, start + 90)
    holes(space, 0.4375, [(1, 1), (8, 1), (8, 5), (1, 5), (1, 1)], layer="0")  # one twice
    space.add_line((3.5, 2.75), (5.5, 2.75))  # a slot whose second end was never drawn
    space.add_arc((5.5, 3), 0.25, 270, 90)
    space.add_line((5.5, 3.25), (3.5, 3.25))
    space.add_text("COVER C09  3/16 A36", height=0.25).set_placement((0, -0.6))
    return drawing


def stringer_splice() -> Drawing:
    """Stringer splice, 10 mm: fishplate with slanted ends, M20 bolts (medium), two slots."""
    drawing = new_drawing("R2010", MILLIMETRE)
    space = drawing.modelspace()
    polyline(
        space,
        [(40, 0, 0), (560, 0, 0), (600, 90, 0), (560, 180, 0), (40, 180, 0), (0, 90, 0)],
    )
    holes(space, 22.0, [(x, y) for x in (100, 170, 430, 500) for y in (45, 135)])
    for y in (45, 135):
        polyline(space, obround(300, y, 80, 22))
    words(space, "STRINGER SPLICE S11  S355  t=10", 0, -20, 8)
    return drawing


def post_foot() -> Drawing:
    """Post foot, 10 mm: a wide opening for the post, M16 bolts (medium); loose edges."""
    drawing = new_drawing("R2000", MILLIMETRE)
    space = drawing.modelspace()
    loose_edges(space, plate(0, 0, 260, 260, 20))
    holes(space, 140.0, [(130, 130)])
    holes(space, 17.5, [(35, 35), (225, 35), (225, 225), (35, 225)])
    words(space, "POST FOOT P03  S235  t=10", 0, -20, 8)
    return drawing


def cleat() -> Drawing:
    """Cleat, 10 mm: an angle with M12 bolts (medium), rounded in the inner corner."""
    drawing = new_drawing("R2007", MILLIMETRE)
    space = drawing.modelspace()
    polyline(
        space,
        filleted(
            [
                (0, 0, 6), (120, 0, 6), (120, 45, 6),
                (45, 45, 10), (45, 120, 6), (0, 120, 6),
            ]
        ),
    )  # fmt: skip
    holes(space, 13.5, [(95, 22.5), (22.5, 95)])
    words(space, "CLEAT C04  S235  t=10", 0, -15, 6)
    return drawing


def washer_plate() -> Drawing:
    """Washer plate, 6 mm: square with one M20 hole (medium)."""
    drawing = new_drawing("R2013", MILLIMETRE)
    space = drawing.modelspace()
    polyline(space, plate(0, 0, 60, 60, 8))
    holes(space, 22.0, [(30, 30)])
    words(space, "WASHER PLATE W01  S235  t=6", 0, -10, 4)
    return drawing


def kick_plate() -> Drawing:
    """Kick plate, stainless 3 mm: long, three drain notches along the bottom, M8 slots."""
    drawing = new_drawing("R2010", MILLIMETRE)
    space = drawing.modelspace()
    bottom: list[Vertex] = []
    for x in (200, 560, 920):
        bottom += [(x, 0, 5), (x, 20, 5), (x + 80, 20, 5), (x + 80, 0, 5)]
    polyline(space, filleted([(0, 0, 5), *bottom, (1200, 0, 5), (1200, 100, 5), (0, 100, 5)]))
    for x in (60, 420, 780, 1140):
        polyline(space, obround(x, 70, 30, 9))
    words(space, "KICK PLATE K07  1.4301  t=3", 0, -20, 8)
    return drawing


def fascia_segment() -> Drawing:
    """Fascia segment, stainless 3 mm: 40 degrees of a ring, M8 holes (medium); arcs and lines."""
    drawing = new_drawing("R2018", MILLIMETRE)
    space = drawing.modelspace()
    on = {"layer": CUT}

    def at(radius: float, degrees: float) -> Point:
        angle = math.radians(degrees)
        return radius * math.cos(angle), radius * math.sin(angle)

    for radius in (780, 900):
        space.add_arc((0, 0), radius, 70, 110, dxfattribs=on)
    for degrees in (70, 110):
        space.add_line(at(780, degrees), at(900, degrees), dxfattribs=on)
    holes(space, 9.0, [at(radius, degrees) for radius in (800, 880) for degrees in (73, 107)])
    words(space, "FASCIA F22  1.4301  t=3", -60, 700, 8)
    return drawing


def tread_plate() -> Drawing:
    """Winder tread, aluminium 8 mm: tapered, two windows, M10 holes (medium)."""
    drawing = new_drawing("R2010", MILLIMETRE)
    space = drawing.modelspace()
    polyline(space, [(0, 0, 0), (900, 0, 0), (900, 180, 0), (0, 300, 0)])
    polyline(space, plate(120, 70, 260, 120, 10))
    polyline(space, plate(480, 60, 260, 90, 10))
    holes(space, 11.0, [(30, 30), (870, 30), (870, 150), (30, 265)])
    words(space, "WINDER TREAD T15  AlMg3  t=8", 0, -25, 10)
    return drawing


DRAWINGS: dict[str, Callable[[], Drawing]] = {
    "gusset": gusset,
    "base_plate": base_plate,
    "railing_bracket": railing_bracket,
    "deck_plate": deck_plate,
    "name_plate": name_plate,
    "splice_plate": splice_plate,
    "bracing_plate": bracing_plate,
    "rough_plate": rough_plate,
    "stringer_splice": stringer_splice,
    "post_foot": post_foot,
    "cleat": cleat,
    "washer_plate": washer_plate,
    "kick_plate": kick_plate,
    "fascia_segment": fascia_segment,
    "tread_plate": tread_plate,
}


def draw_all(folder: Path) -> list[Path]:
    """Write every sample drawing into `folder`; the same bytes every time."""
    ezdxf.options.write_fixed_meta_data_for_testing = True
    logging.getLogger("ezdxf").setLevel(logging.ERROR)  # that R12 has no unit is the point
    paths = []
    for name, draw in DRAWINGS.items():
        path = folder / f"{name}.dxf"
        drawing = draw()
        classes = drawing.classes  # ezdxf takes them from a set, in any order
        classes.add_required_classes(drawing.dxfversion)
        classes.classes = dict(sorted(classes.classes.items()))
        drawing.saveas(path)
        paths.append(path)
    return paths


if __name__ == "__main__":
    draw_all(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
