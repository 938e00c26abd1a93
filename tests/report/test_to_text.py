"""The page: verdict first, honest, narrow, and safe whatever the drawing is called."""

import re
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from hand_made import JOB, NO_SHOP, Case, analysis, loss, part_set, plate

from analyzer.comparison import Answer, advise, check
from analyzer.drawing.drawing import Fact, Ignored
from analyzer.drawing.roles import Role, layer_fact
from analyzer.report.to_text import WIDTH, check_page, compare_page
from analyzer.report.view import view_of
from analyzer.report.wording import with_band
from analyzer.rules.rule import Finding
from analyzer.spread import Band

BURRED = (0.0, 0.0, 0.3577, 0.0)
EVIL = "x\x1b[2J\u202e\r\nNothing to change.\udc80"


def answer(cases: dict[str, Case], **more: object) -> Answer:
    found = analysis(cases, **more)  # type: ignore[arg-type]
    return Answer(found, advise(found))


def note(rule: str, mark: int, level: str = "note", part: str | None = "P1") -> Finding:
    return Finding(mark, rule, level, part, 1, ((1.0, 2.0),), 1, 2, "mm", f"{rule} seen.", "Look.")


def test_reading_order() -> None:
    """Verdict, minutes, what to change, the gases, not checked, assumptions (practice.md 3)."""
    page = check_page(answer({"nitrogen": Case(60.0, losses=[("hole-too-small", (1.0, 1.0))])}))
    order = ["plate.dxf", "Cut with NITROGEN", "60 s (46-78)", "Why:", "Change before cutting",
             "LOSS", "Gases", "The drawing", "Not checked", "Assumptions", "Take care"]  # fmt: skip
    found = [page.index(words) for words in order]
    assert found == sorted(found)


def test_a_good_part_gets_one_line() -> None:
    page = check_page(answer({"nitrogen": Case(15.0)}))
    assert "\nNothing to change.\n" in page
    assert "LOSS" not in page
    assert "Change before cutting" not in page


def test_a_note_alone_changes_nothing() -> None:
    view = view_of(answer({"nitrogen": Case(15.0, findings=[note("note-disagrees", 1)])}))
    assert view.nothing_to_change
    assert [line.level for line in view.change] == ["note"]


def test_at_most_one_line_a_kind_worst_first() -> None:
    findings = [
        note("hole-too-small", 3, "rework"), loss("hole-too-small", (9.0, 9.0), 4),
        note("note-disagrees", 1, part=None), note("edge-burrs", 2, "rework"),
        loss("web-too-thin", (5.0, 5.0), 5),
    ]  # fmt: skip
    view = view_of(answer({"nitrogen": Case(15.0, findings=findings)}))
    assert [(line.level, line.marks) for line in view.change] == [
        ("loss", (4, 3)), ("loss", (5,)), ("note", (1,)),
    ]  # fmt: skip
    assert view.change[0].what.endswith("And 1 more of rework.")
    assert [line.marks for line in view.expect] == [(2,)]


def test_losses_say_in_which_gas_not() -> None:
    hole = [("hole-too-small", (1.0, 1.0))]
    page = check_page(answer({"oxygen": Case(10.0, losses=hole), "air": Case(20.0, losses=hole)}))
    assert "The same in every gas." in page
    page = check_page(answer({"air": Case(5.0, losses=hole)}))
    assert "in every gas" not in page.partition("Change before")[2]


def test_findings_name_the_part_where_there_are_several() -> None:
    cases = {"nitrogen": Case(15.0, findings=[loss("web-too-thin")])}
    several = check_page(answer(cases, parts=part_set(plate("P1", 3), plate("P2"))))
    assert "P1 (each of 3): web-too-thin" in several
    assert "\nParts\n" in several
    assert "P1" not in check_page(answer(cases))


@pytest.mark.parametrize("page", [check_page, compare_page])
def test_narrow_ascii_and_safe(page: object) -> None:
    """Names from the drawing cannot break a line, turn it round or reach the terminal."""
    found = part_set(
        plate(), file=EVIL + ".dxf", ignored=[Ignored("TEXT", EVIL, EVIL, 3)],
        facts=[Fact("speck", EVIL), Fact("speck", EVIL * 40)],
    )  # fmt: skip
    findings = [replace(loss("hole-too-small"), message=EVIL * 9, remedy=EVIL)]
    cases = {"nitrogen": Case(60.0, 1.0, BURRED, findings=findings), "mixed": Case(50.0)}
    text = page(answer(cases, parts=found), why=True)  # type: ignore[operator]
    assert text.isascii()
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f]", text)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert "\nNothing to change." not in text.replace("\n\nNothing to change.\n", "")


def test_every_ignored_group_stands_with_its_reason() -> None:
    rows = [Ignored("TEXT", "NOTES", "text is not cut", 3), Ignored("HATCH", "0", "no outline", 2)]
    page = check_page(answer({"nitrogen": Case(1.0)}, parts=part_set(plate(), ignored=rows)))
    assert "7 entities: 2 used, 5 ignored" in page
    assert "3 TEXT on NOTES: text is not cut" in page
    assert "2 HATCH on 0: no outline" in page


def test_mixer_is_an_if_without_a_shop_file() -> None:
    """practice.md 1, point 4: "mixed gas if your laser has a mixer, otherwise nitrogen"."""
    page = check_page(answer({"nitrogen": Case(60.0, 2.0, BURRED), "mixed": Case(55.0)}))
    assert "MIXED GAS (nitrogen with 2 % oxygen) if your laser has a mixer" in page
    assert "otherwise with NITROGEN" in page
    assert "licensed gas installer" in " ".join(page.split())


def test_what_was_not_told_is_said() -> None:
    page = check_page(answer({"nitrogen": Case(60.0)}))
    assert "plate surface not told, taken as clean" in page
    assert "next step not told" in page
    told = check_page(
        answer({"nitrogen": Case(60.0)}, job=replace(JOB, next_step="none", plate_told=True))
    )
    assert "not told" not in told


@pytest.mark.parametrize(
    ("material", "plate_is", "words"),
    [
        ("aluminium", "clean", "Aluminium dust can explode"),
        ("stainless", "clean", "hexavalent chromium"),
        ("mild-steel", "galvanised", "Zinc fume"),
        ("stainless", "film", "Film smokes"),
    ],
)
def test_cautions_where_they_apply(material: str, plate_is: str, words: str) -> None:
    """practice.md 4; 29 CFR 1910.1026 (chromium), NFPA 660 (dust)."""
    job = replace(JOB, material=material, plate=plate_is)
    page = check_page(answer({"nitrogen": Case(60.0)}, job=job))
    assert words in page
    assert "ventilation" in page
    assert words not in check_page(answer({"nitrogen": Case(60.0)}))


def test_no_gas_says_why() -> None:
    page = check_page(answer({"nitrogen": Case(1.0)}, parts=part_set()))
    assert "No gas advised: the drawing has no closed contour" in page


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(1518.0, "25 min (19-32)"), (65.0, "65 s (49-81)"), (4.2, "4.2 s (3.2-5.2)"),
     (240.0, "4.0 min (3.0-5.0)"), (0.0, "0.0 s (0.0-0.0)")],
)  # fmt: skip
def test_times_as_spoken(seconds: float, words: str) -> None:
    """practice.md 3: "25 min (19-32)"; seconds below two minutes."""
    assert with_band(Band(seconds, 0.75 * seconds, 1.25 * seconds)) == words


def test_air_is_an_if_without_a_shop_file() -> None:
    cases = {"nitrogen": Case(60.0), "air": Case(40.0)}
    page = check_page(answer(cases))
    assert "Cut with AIR if you have compressed air for 12 bar at the head, otherwise" in page
    shop = replace(NO_SHOP, gases=("nitrogen", "air"))
    assert "Cut with AIR.\n" in check_page(answer(cases, shop=shop))


def test_an_edge_of_two_parts_says_how_it_is_timed(tmp_path: Path) -> None:
    """Two plates drawn with one side in common: length once, time with each, and that is said."""
    document = ezdxf.new(units=4)
    for x in (0.0, 100.0):
        corners = [(x, 0.0), (x + 100.0, 0.0), (x + 100.0, 200.0), (x, 200.0)]
        document.modelspace().add_lwpolyline(corners, close=True)
    document.saveas(tmp_path / "pair.dxf")
    found = check(tmp_path / "pair.dxf", JOB)
    assert found.analysis.totals.cut_length == pytest.approx(1000.0)
    words = " ".join(check_page(found).split())
    assert "An edge that two parts share is timed with each of them" in words


def test_layers_of_different_roles_are_all_told() -> None:
    """Layers of one role stand in one line; no role hides behind another."""
    facts = tuple(
        layer_fact(layer, Role(role, "by its name"), count)
        for layer, role, count in (
            ("BEND", "bend", 2),
            ("BEND_EXTENT", "bend", 1),
            ("ENGRAVE", "mark", 1),
        )
    )
    made = analysis({"nitrogen": Case(15.0)})
    made = replace(made, parts=replace(made.parts, facts=facts))
    view = view_of(Answer(made, advise(made)))
    told = (
        "layers 'BEND' (2) and 'BEND_EXTENT' (1): taken as bend lines (by its name)",
        "layer 'ENGRAVE': 1 entity taken as mark lines (by its name)",
    )
    assert view.facts == view.other_facts == told


def test_more_of_a_kind_is_told_by_level_and_adds_up_to_the_table() -> None:
    rule = "hole-too-small"
    findings = [
        loss(rule, (9.0, 9.0), 1), loss(rule, (5.0, 5.0), 2), note(rule, 3, "rework"),
        note(rule, 4, "rework", "P2"),
    ]  # fmt: skip
    parts = part_set(plate("P1", 3), plate("P2"))
    made = answer({"nitrogen": Case(15.0, findings=findings)}, parts=parts)
    view = view_of(made)
    assert "P1 (each of 3): " in view.change[0].what
    assert view.change[0].what.endswith(
        "And 7 more on P1 and P2, all copies: 3 of loss, 4 of rework."
    )
    places = {row.label: row.cells for row in view.gas_rows}
    assert places["places of loss"] == (str(3 * 1 + 3),)
    assert places["places of rework"] == ("4",)
    same = view_of(answer({"nitrogen": Case(15.0, findings=findings[:2])}))
    assert same.change[0].what.endswith("And 1 more like it, none worse.")


def test_an_amount_of_one_copy_says_so() -> None:
    found = {"nitrogen": Case(15.0, findings=[note("edge-burrs", 1, "rework")])}
    assert "Each of 48 parts: edge-burrs" in check_page(
        answer(found, parts=part_set(plate("P1", 48)))
    )
    assert "Each of" not in check_page(answer(found))
