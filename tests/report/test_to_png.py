"""Pictures hold what the findings and numbers say: looked for in the figure and in its pixels."""

import io
from functools import cache
from pathlib import Path

import ezdxf
import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from PIL import Image
from shared import CORPUS, SAMPLES, needs_corpus

from analyzer.comparison import Answer, check
from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.report.marks import pictures_of
from analyzer.report.palette import BURR_COLOURS, CUT_OUT, TERM_COLOURS
from analyzer.report.to_png import FORMS, answer_figures, answer_picture
from analyzer.report.to_png_marks import FEWER_NUMBERED, marks_in
from analyzer.report.to_png_page import ENDS
from analyzer.report.to_png_scene import scene_of
from analyzer.report.to_png_words import DPI

A4 = (1753, 1240)  # 297 x 210 mm at 150 dots an inch (ISO 216)
JOBS = {
    "gusset.dxf": Job("mild-steel", 10.0, 10.0, next_step="powder"),
    "splice_plate.dxf": Job("mild-steel", 15.0, 15.0),
    "bracing_plate.dxf": Job("mild-steel", 12.0, 12.0),
    "kick_plate.dxf": Job("stainless", 3.0, 6.0),
    "rough_plate.dxf": Job("mild-steel", 5.0, 6.0),
    "name_plate.dxf": Job("stainless", 3.0, 6.0),
    "deck_plate.dxf": Job("aluminium", 8.0, 10.0),
}


@cache
def answer_of(name: str) -> Answer:
    return check(Path(SAMPLES / name), JOBS[name])


@cache
def figures_of(name: str) -> list[Figure]:
    return answer_figures(answer_of(name))


def main_axes(figure: Figure) -> Axes:
    return next(axes for axes in figure.axes if axes.get_gid() == "main")


def shown_gas(answer: Answer):  # type: ignore[no-untyped-def]
    return next(gas for gas in pictures_of(answer) if gas.gas == answer.advice.gas)


def pixels_of(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)


def numbers_at(axes: Axes) -> dict[int, list[np.ndarray]]:
    """Return where every numbered mark stands, by number."""
    found: dict[int, list[np.ndarray]] = {}
    for text in axes.texts:
        gid = text.get_gid() or ""
        if gid.startswith("number-"):
            assert gid == f"number-{text.get_text()}"
            found.setdefault(int(text.get_text()), []).append(np.array(text.xy))
    return found


@pytest.mark.parametrize("name", [n for n in JOBS if n != "bracing_plate.dxf"])
def test_leaders_begin_where_the_findings_are_and_end_at_their_numbers(name: str) -> None:
    """A single part keeps the drawing's axes: places are those of the JSON."""
    gas = shown_gas(answer_of(name))
    marks = [mark for part in gas.parts for mark in part.marks] + list(gas.on_drawing)
    axes = main_axes(figures_of(name)[0])
    leaders = [c for c in axes.collections if c.get_gid() == "leaders"]
    lines = [line for c in leaders for line in c.get_segments()]
    numbers = numbers_at(axes)
    assert set(numbers) == {mark.number for mark in marks}
    for mark in marks:
        ends = {tuple(line[0].round(6)): line[1] for line in lines}
        for place in mark.places.tolist():
            assert tuple(np.round(place, 6)) in ends
        there = np.array(numbers[mark.number])
        reached = [line[1] for line in lines if any(np.allclose(line[0], p) for p in mark.places)]
        assert all(min(np.abs(np.array(reached) - at).max(axis=1)) < 1e-6 for at in there)


@pytest.mark.parametrize("name", JOBS)
def test_numbers_do_not_lie_on_one_another(name: str) -> None:
    for figure in figures_of(name):
        axes = main_axes(figure)
        at = [place for places in numbers_at(axes).values() for place in places]
        if len(at) < 2:
            continue
        paper = axes.transData.transform(np.array(at)) * 72.0 / DPI
        apart = np.abs(paper[:, None] - paper[None]).max(axis=2)
        assert apart[np.triu_indices(len(at), 1)].min() > 12.0  # points: about a mark's width


@pytest.mark.parametrize("name", JOBS)
def test_pictures_are_true_to_scale(name: str) -> None:
    for figure in figures_of(name):
        for axes in figure.axes:
            if axes.get_gid() is None:
                continue
            box = axes.get_window_extent()
            x, y = axes.get_xlim(), axes.get_ylim()
            assert box.width / (x[1] - x[0]) == pytest.approx(box.height / (y[1] - y[0]), rel=1e-9)


@pytest.mark.parametrize("name", JOBS)
def test_scale_bar_is_as_long_as_it_says(name: str) -> None:
    axes = main_axes(figures_of(name)[0])
    bars = [patch for patch in axes.patches if patch.get_gid() == "scale"]
    told = next(t.get_text() for t in axes.texts if t.get_gid() == "scale-words")
    length = float(told.split()[0]) * (1000.0 if told.endswith(" m") else 1.0)
    assert sum(bar.get_width() for bar in bars) == pytest.approx(length)


@pytest.mark.parametrize("name", ["gusset.dxf", "splice_plate.dxf", "kick_plate.dxf"])
def test_pixels_show_outline_cut_outs_and_losses(name: str) -> None:
    answer = answer_of(name)
    (figure,) = figures_of(name)
    picture = pixels_of(answer_picture(answer))
    assert picture.shape == (A4[1], A4[0], 3)
    axes = main_axes(figure)
    contours = answer.analysis.parts.parts[0].contours

    def colours(places: np.ndarray) -> np.ndarray:
        at = np.round(axes.transData.transform(places)).astype(int)
        near = [picture[A4[1] - 1 - y - 1 : A4[1] - y + 2, x - 1 : x + 2] for x, y in at.tolist()]
        return np.array([patch.reshape(-1, 3) for patch in near])

    middle = contours.points_at(np.arange(len(contours.bulges)), np.full(len(contours.bulges), 0.5))
    dark = colours(middle).sum(axis=2).min(axis=1)
    assert (dark < 200).mean() > 0.95  # a mark may cover one
    grey = int(CUT_OUT[1:3], 16)
    covered = {tuple(line[0].round(3)) for c in axes.collections if c.get_gid() == "leaders"
               for line in c.get_segments()}  # fmt: skip
    holes = [h for h in answer.analysis.parts.parts[0].holes
             if h.diameter > 8.0 and (round(h.x, 3), round(h.y, 3)) not in covered]  # fmt: skip
    for hole in holes:
        assert np.abs(colours(np.array([[hole.x, hole.y]])) - grey).max() <= 2


@pytest.mark.parametrize("name", ["gusset.dxf", "splice_plate.dxf"])
def test_bands_have_the_class_that_the_runs_say(name: str) -> None:
    answer = answer_of(name)
    gas, axes = shown_gas(answer), main_axes(figures_of(name)[0])
    drawn = {c.get_gid(): c for c in axes.collections if (c.get_gid() or "").startswith("burr-")}
    classes = set(gas.parts[0].runs.burr_class.tolist()) - {0}
    assert set(drawn) == {f"burr-{one}" for one in classes}
    for burr_class in classes:
        lines = drawn[f"burr-{burr_class}"]
        assert mpl.colors.to_hex(lines.get_colors()[0]).upper() == BURR_COLOURS[burr_class]
        length = sum(np.hypot(*np.diff(line, axis=0).T).sum() for line in lines.get_segments())
        assert length == pytest.approx(1000.0 * gas.parts[0].runs.metres[burr_class], rel=2e-3)


def test_bars_are_as_long_as_the_times() -> None:
    answer = answer_of("gusset.dxf")
    axes = next(
        a for a in figures_of("gusset.dxf")[0].axes if a.get_title("left")[:10] == "Time split"
    )
    for gas in pictures_of(answer):
        for bar in gas.bars:
            colour = TERM_COLOURS[bar.term]
            widths = [patch.get_width() for patch in axes.patches
                      if mpl.colors.to_hex(patch.get_facecolor()).upper() == colour]  # fmt: skip
            assert bar.seconds == 0.0 or min(abs(w - bar.seconds) for w in widths) < 1e-9


def test_moves_and_speeds_are_drawn_small() -> None:
    (figure,) = figures_of("gusset.dxf")
    gas = shown_gas(answer_of("gusset.dxf"))
    order = next(axes for axes in figure.axes if axes.get_gid() == "Cutting order, moves")
    drawn = [line for c in order.collections if hasattr(c, "get_segments")
             for line in c.get_segments()]  # fmt: skip
    for move in gas.parts[0].moves:
        assert any(line.shape == move.shape and np.allclose(line, move) for line in drawn)
    speed = next(axes for axes in figure.axes if axes.get_gid() == "Local speed")
    shares = np.concatenate([c.get_array() for c in speed.collections if c.get_array() is not None])
    assert 0.0 <= shares.min() < 0.3
    assert shares.max() == pytest.approx(1.0)


def marks_clear_of_words(figure: Figure) -> int:
    """Assert that no number stands on words or on the key; return how many there are."""
    axes = main_axes(figure)
    at = [place for places in numbers_at(axes).values() for place in places]
    words = [t for t in axes.texts if not (t.get_gid() or "").startswith("number-")]
    boxes = [text.get_window_extent().extents for text in words]
    legend = axes.get_legend()
    boxes += [legend.get_window_extent().extents] if legend is not None else []
    boxes += [p.get_window_extent().extents for p in axes.patches if p.get_gid() == "scale"]
    for place in axes.transData.transform(np.array(at).reshape(-1, 2)):
        for low_x, low_y, high_x, high_y in boxes:
            beyond = max(low_x - place[0], place[0] - high_x, low_y - place[1], place[1] - high_y)
            assert beyond > 5.0 * DPI / 72.0  # points: most of half a mark
    return len(at)


@pytest.mark.parametrize("name", JOBS)
def test_numbers_keep_off_captions_scale_and_key(name: str) -> None:
    assert sum(marks_clear_of_words(figure) for figure in figures_of(name))


@needs_corpus
def test_marks_of_many_parts_stand_on_their_parts_and_off_words() -> None:
    """A pair of hands is found on both: each picture shows the places on its own part only."""
    answer = check(CORPUS / "crkbd__top-bottom.dxf", Job("mild-steel", 3.0, 4.0))
    figure = answer_figures(answer)[0]
    assert marks_clear_of_words(figure) > 10
    scene = scene_of(shown_gas(answer).parts)
    for mark in marks_in(scene):
        boxes = np.array([one.box for one in scene.parts])
        size = (boxes[:, 2:] - boxes[:, :2]).max(axis=1)[:, None]
        low, high = boxes[:, :2] - 0.06 * size, boxes[:, 2:] + 0.06 * size
        for place in mark.places:
            assert ((low <= place) & (place <= high)).all(axis=1).any()


@pytest.mark.parametrize("name", JOBS)
def test_numbers_of_the_order_do_not_lie_on_one_another(name: str) -> None:
    """By the letters as drawn; every part's first and last are there, and their signs told."""
    gas, seen = shown_gas(answer_of(name)), 0
    for figure in figures_of(name):
        told = [text.get_text() for text in figure.texts]
        for axes in figure.axes:
            if axes.get_gid() != "Cutting order, moves":
                continue
            assert any(words.startswith(ENDS) for words in told)
            turns = [t for t in axes.texts if (t.get_gid() or "").startswith("turn-")]
            boxes = [text.get_window_extent().extents for text in turns]
            low, high = np.array(boxes)[:, None, :2], np.array(boxes)[:, None, 2:]
            on = ((low < high.transpose(1, 0, 2)) & (low.transpose(1, 0, 2) < high)).all(axis=2)
            assert not np.triu(on, 1).any()
            lasts = [str(len(part.pierces)) for part in gas.parts]
            written = [text.get_text() for text in turns]
            assert "1" in written
            assert set(written) & set(lasts)
            seen += 1
    assert seen


def test_numbers_of_neighbours_do_not_lie_on_one_another(tmp_path: Path) -> None:
    """Three plates side by side, holes close to their upright edges: letters as drawn."""
    document = ezdxf.new(units=4)
    for k in range(3):
        x, wide, tall = 120.0 * k, 60.0 + k, 60.0 + 10.0 * k
        corners = [(x, 0), (x + wide, 0), (x + wide, tall), (x, tall)]
        document.modelspace().add_lwpolyline(corners, close=True)
        for row in range(30):
            at = (x + (3.0, wide - 3.0)[row % 2], 3.0 + (tall - 6.0) * row / 29.0)
            document.modelspace().add_circle(at, 0.6)
    document.saveas(tmp_path / "plates.dxf")
    answer = check(tmp_path / "plates.dxf", Job("mild-steel", 1.0, 6.0))
    figure = answer_figures(answer)[0]
    figure.canvas.draw()
    axes = next(axes for axes in figure.axes if axes.get_gid() == "Cutting order, moves")
    turns = [t for t in axes.texts if (t.get_gid() or "").startswith("turn-")]
    found = np.array([text.get_window_extent().extents for text in turns])
    assert [text.get_text() for text in turns].count("1") == 3
    low, high = found[:, None, :2], found[:, None, 2:]
    on = ((low < high.transpose(1, 0, 2)) & (low.transpose(1, 0, 2) < high)).all(axis=2)
    assert not np.triu(on, 1).any()


def test_heat_is_shown_where_it_is_followed_and_matters() -> None:
    (figure,) = figures_of("splice_plate.dxf")
    titles = {axes.get_gid() for axes in figure.axes}
    assert "Heat at pierces, oxygen" in titles
    assert not any("Heat" in (axes.get_gid() or "") for axes in figures_of("gusset.dxf")[0].axes)


def test_title_verdict_and_list_are_on_the_page() -> None:
    words = " ".join(text.get_text() for text in figures_of("gusset.dxf")[0].texts)
    assert "gusset.dxf" in words
    assert answer_of("gusset.dxf").advice.gas.upper() in words  # type: ignore[union-attr]
    assert "LOSS" in words
    assert "2 holes 3.5" in words


def test_mark_lines_are_drawn_dotted() -> None:
    axes = main_axes(figures_of("name_plate.dxf")[0])
    assert "marks" in {c.get_gid() for c in axes.collections}


def test_several_parts_have_a_page_each_and_do_not_overlap() -> None:
    answer = answer_of("bracing_plate.dxf")
    assert len(figures_of("bracing_plate.dxf")) == 3
    scene = scene_of(shown_gas(answer).parts)
    one, other = (shown.box for shown in scene.parts)
    assert (one[2:] <= other[:2]).any() or (other[2:] <= one[:2]).any()
    assert scene.parts[0].factor == scene.parts[1].factor == 1.0


def test_same_answer_same_bytes_whatever_the_user_has_set() -> None:
    answer = answer_of("rough_plate.dxf")
    for form in FORMS:
        first = answer_picture(answer, form)
        with mpl.rc_context({"font.size": 30, "axes.facecolor": "red", "lines.linewidth": 9}):
            assert answer_picture(answer, form) == first
        assert b"CreationDate" not in first


def test_pdf_is_a4_lying_with_a_page_for_each_part() -> None:
    data = answer_picture(answer_of("bracing_plate.dxf"), "pdf")
    assert data.startswith(b"%PDF-")
    assert data.count(b"/Type /Page ") == 3
    assert b"/MediaBox [ 0 0 841.68 595.44 ]" in data  # 297 x 210 mm to the hundredth of an inch


def test_other_forms_are_refused() -> None:
    with pytest.raises(InputError, match="png or pdf"):
        answer_picture(answer_of("gusset.dxf"), "gif")  # type: ignore[arg-type]


def drawn(folder: Path, name: str, circles: int, size: float, **outline: float) -> Answer:
    document = ezdxf.new(units=4)
    space = document.modelspace()
    wide, tall = outline["wide"], outline["tall"]
    space.add_lwpolyline([(0, 0), (wide, 0), (wide, tall), (0, tall)], close=True)
    across = max(int((circles * wide / tall) ** 0.5), 1)
    pitch = wide / (across + 1)
    for k in range(circles):
        space.add_circle((pitch * (1 + k % across), pitch * (1 + k // across)), size)
    file = folder / name
    document.saveas(file)
    return check(file, Job("mild-steel", 4.0, 6.0, gases=("nitrogen",)))


@pytest.mark.parametrize(
    ("wide", "tall"), [(8.0, 6.0), (6000.0, 3000.0), (3000.0, 12.0), (12.0, 3000.0)]
)
def test_tiny_huge_long_and_narrow_parts_fill_the_picture(
    wide: float, tall: float, tmp_path: Path
) -> None:
    answer = drawn(tmp_path, "plate.dxf", 0, 1.0, wide=wide, tall=tall)
    axes = main_axes(answer_figures(answer)[0])
    x, y = axes.get_xlim(), axes.get_ylim()
    assert max(wide / (x[1] - x[0]), tall / (y[1] - y[0])) > 0.7
    assert x[0] < 0.0 < wide < x[1]
    assert y[0] < 0.0 < tall < y[1]


def test_names_with_formulas_and_foreign_letters_are_only_words(tmp_path: Path) -> None:
    answer = drawn(tmp_path, "a$b_{x$^\u6f22\u202e.dxf", 1, 3.0, wide=50.0, tall=40.0)
    assert pixels_of(answer_picture(answer)).min() == 0


def test_a_drawing_without_parts_has_a_picture_that_says_so(tmp_path: Path) -> None:
    document = ezdxf.new(units=4)
    document.modelspace().add_text("nothing to cut")
    document.saveas(tmp_path / "empty.dxf")
    answer = check(tmp_path / "empty.dxf", Job("mild-steel", 4.0, 6.0))
    (figure,) = answer_figures(answer)
    assert any("No gas advised" in text.get_text() for text in figure.texts)
    assert len(answer_picture(answer, "pdf")) > 1000


def test_many_holes_are_painted_where_they_are(tmp_path: Path) -> None:
    answer = drawn(tmp_path, "many.dxf", 2025, 2.0, wide=600.0, tall=600.0)
    (figure,) = answer_figures(answer)
    picture = pixels_of(answer_picture(answer))
    axes = main_axes(figure)
    holes = answer.analysis.parts.parts[0].holes[::100]
    edge = np.array([(hole.x + hole.diameter / 2.0, hole.y) for hole in holes])
    at = np.round(axes.transData.transform(edge)).astype(int)
    dark = [picture[A4[1] - y - 2 : A4[1] - y + 2, x - 2 : x + 2].sum(axis=2).min() for x, y in at]
    assert np.mean(np.array(dark) < 450) > 0.9
    speed = next(a for a in figure.axes if a.get_gid() == "Local speed")
    (image,) = speed.images
    assert (~np.ma.getmaskarray(image.get_array())).sum() > 3000


@needs_corpus
@pytest.mark.parametrize(
    "name",
    [
        "bb3__EEZ_BB3_chassis_rear_panel.dxf",
        pytest.param("m17rru__chassis.dxf", marks=pytest.mark.slow),
        pytest.param("trimesh__125_aluminum_srcMH.dxf", marks=pytest.mark.slow),
    ],
)
def test_real_drawings_of_many_parts(name: str) -> None:
    answer = check(CORPUS / name, Job("mild-steel", 4.0, 6.0))
    gas = shown_gas(answer)
    scene = scene_of(gas.parts, gas.on_drawing)
    boxes = np.array([one.box for one in scene.parts if not one.is_loose])
    low = np.maximum(boxes[:, None, :2], boxes[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], boxes[None, :, 2:])
    over = (high - low > 1e-6).all(axis=2)
    assert not over[np.triu_indices(len(boxes), 1)].any()
    numbers = numbers_at(main_axes(answer_figures(answer)[0]))
    assert 0 < sum(map(len, numbers.values())) <= FEWER_NUMBERED
    assert len(answer_picture(answer)) > 50_000
