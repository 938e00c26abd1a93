"""Marks, order and grouping of findings."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rules.build import evidence_of, findings_by_gas, findings_of, job_of, part_set_of

from analyzer.errors import InputError
from analyzer.geometry.contours import Contours
from analyzer.parts.part import PartSet
from analyzer.process.choose import settings_for
from analyzer.rules.judge import drawing_findings, facts_of, judge
from analyzer.rules.limits import load_limits
from analyzer.rules.registry import RANK, RULES, rule_named
from analyzer.rules.rule import LEVELS
from analyzer.rules.scene import LOSS, REWORK, features, groups, levels_of
from analyzer.rules.wording import edge_length

ALL = ("oxygen", "nitrogen", "mixed", "air")
PLATE: dict[str, Any] = {
    "job": {"material": "mild-steel", "thickness": 10, "power": 10, "next": "powder"},
    "texts": [{"text": "t=8", "at": [0, -20]}],
    "parts": [
        {
            "plate": [200, 100],
            "holes": [[20, 20, 3.5], [60, 20, 3.52], [100, 20, 9], [140, 20, 6], [170, 20, 12]],
            "slots": [[60, 70, 4, 30]],
            "windows": [[120, 50, 40, 30]],
            "webs": [[10, 10, 3]],
        },
        {"outline": [[300, 0], [400, 0], [300, 50]], "count": 3},
    ],
}


def test_the_same_places_have_the_same_mark_under_every_gas() -> None:
    marks: dict[object, int] = {}
    owner: dict[int, object] = {}
    for findings in findings_by_gas(PLATE, ALL):
        for f in findings:
            key = (f.rule, f.part, f.places)
            assert marks.setdefault(key, f.mark) == f.mark
            assert owner.setdefault(f.mark, key) == key
    assert sorted(owner) == list(range(1, len(owner) + 1))


def test_marks_run_from_the_worst_level_down_and_then_by_rule() -> None:
    worst: dict[int, tuple[int, int]] = {}
    for findings in findings_by_gas(PLATE, ALL):
        for f in findings:
            level = max(LEVELS.index(f.level), -worst.get(f.mark, (0, 0))[0])
            worst[f.mark] = (-level, RANK[f.rule])
    in_order = [worst[mark] for mark in sorted(worst)]
    assert in_order == sorted(in_order)


def test_findings_of_a_gas_come_worst_first() -> None:
    for findings in findings_by_gas(PLATE, ALL):
        keys = [(-LEVELS.index(f.level), f.mark) for f in findings]
        assert keys == sorted(keys)


def test_same_input_same_findings() -> None:
    assert findings_by_gas(PLATE, ALL) == findings_by_gas(PLATE, ALL)


def test_features_within_one_percent_are_one_finding_with_all_places() -> None:
    holes = [f for f in findings_of({**PLATE, "gas": "nitrogen"}) if f.rule == "hole-too-small"]
    (lost,) = [f for f in holes if f.level == "loss"]
    assert lost.count == 2
    assert lost.places == ((20.0, 20.0), (60.0, 20.0))
    assert (lost.x, lost.y) == (20.0, 20.0)


def test_one_forecast_of_edges_and_corners_per_part_and_gas() -> None:
    for findings in findings_by_gas({**PLATE, "corner_fraction": 0.05}, ALL):
        for rule in ("corner-slows", "edge-burrs", "small-contour-burrs"):
            parts = [f.part for f in findings if f.rule == rule]
            assert len(parts) == len(set(parts))


def test_drawing_rules_are_the_same_under_every_gas_and_alone() -> None:
    on_drawing = {rule.name for rule in RULES if rule.kind == "drawing"}
    case = {**PLATE, "gas": "nitrogen"}
    alone = {
        (f.rule, f.level, f.message)
        for f in drawing_findings(part_set_of(case), job_of(case), load_limits())
    }
    assert {"note-disagrees"} <= {rule for rule, _, _ in alone}
    for findings in findings_by_gas(PLATE, ALL):
        assert {(f.rule, f.level, f.message) for f in findings if f.rule in on_drawing} == alone


def test_drawing_findings_without_a_fact_become_facts() -> None:
    case = {**PLATE, "gas": "nitrogen", "facts": [
        {"kind": "gap-closed", "message": "a gap of 0.05 mm closed", "x": 1.0, "y": 2.0},
    ]}  # fmt: skip
    facts = facts_of(part_set_of(case), findings_of(case))
    assert [fact.kind for fact in facts] == ["gap-closed", "note-disagrees"]
    assert facts[1].message == "Text says t=8, you said 10 mm thick."


def test_no_gas_no_findings() -> None:
    case = {**PLATE, "gas": "nitrogen"}
    assert judge(part_set_of(case), job_of(case), [], [], [], load_limits()) == ()


def test_unknown_tolerance_is_refused() -> None:
    case = {**PLATE, "gas": "nitrogen", "job": {**PLATE["job"], "tolerance": "7168"}}
    with pytest.raises(InputError, match="general tolerance '7168' is not known") as error:
        findings_of(case)
    assert "2768-m" in str(error.value)


def test_unknown_rule_names_the_nearest() -> None:
    with pytest.raises(InputError, match="did you mean hole-too-small"):
        rule_named("holes-too-small")


def test_every_rule_speaks() -> None:
    for rule in RULES:
        assert rule.question.endswith("?")
        given = (rule.on_drawing is not None) + (rule.on_gas is not None)
        assert given == (0 if rule.kind == "sheet" else 1)
        assert (rule.kind == "drawing") == (rule.on_drawing is not None)
        assert all((rule.why, rule.remedy, rule.example))


def test_page_keeps_quiet_about_what_is_no_use_to_the_reader() -> None:
    """Words of the model stay under "why" (common practice, no source)."""
    banned = ("absorbed", "Peclet", "line energy", "covariance", "probability", "P =")
    for findings in findings_by_gas({**PLATE, "corner_fraction": 0.05}, ALL):
        for f in findings:
            assert not any(word in f.message + f.remedy for word in banned)


@given(
    st.lists(st.floats(0.1, 50.0), min_size=1, max_size=40),
    st.floats(0.5, 40.0), st.floats(0.1, 1.0),
)  # fmt: skip
def test_groups_hold_every_feature_once_and_stay_within_one_percent(
    sizes: list[float], ok: float, share: float
) -> None:
    table = features([(i % 2, i, float(i), 0.0, s, 0.0) for i, s in enumerate(sizes)])
    levels = levels_of(table.size, ok, share * ok)
    found = list(groups(table, levels))
    chosen = np.concatenate([g.index for g in found]) if found else np.zeros(0, int)
    assert sorted(chosen.tolist()) == np.flatnonzero(levels).tolist()
    for g in found:
        assert set(table.part[g.index].tolist()) == {g.part}
        assert {LEVELS[level - 1] for level in levels[g.index].tolist()} == {g.level}
        assert g.most <= g.least * 1.01 + 1e-12


@given(st.floats(0.0, 3.0), st.floats(0.1, 2.0), st.floats(0.1, 1.0))
def test_less_than_ten_percent_beyond_the_last_limit_is_never_loss(
    value: float, ok: float, share: float
) -> None:
    last = share * ok
    (level,) = levels_of(np.array([value]), ok, last).tolist()
    if value > 0.9001 * last:
        assert level != LOSS
    if value < 0.8999 * last:
        assert level == LOSS
    if 0.91 * last < value < 0.999 * ok:
        assert level == REWORK
    if value >= ok:
        assert level == 0


@pytest.mark.slow
def test_many_holes_are_judged_at_once() -> None:
    """No step per hole in Python worth the name: 80,000 holes well under two seconds."""
    from time import process_time

    case: dict[str, Any] = {**PLATE, "gas": "nitrogen", "parts": [{"plate": [3000, 1500]}]}
    parts, job = part_set_of(case), job_of(case)
    setting = settings_for(job)[0][0]
    plate = evidence_of(parts.parts[0], setting, job)
    hole = replace(
        part_set_of({**case, "parts": [{"plate": [9, 9], "holes": [[4, 4, 3.5]]}]})
        .parts[0]
        .holes[0]
    )
    many = tuple(replace(hole, x=float(i), row=0) for i in range(80_000))
    part = replace(parts.parts[0], holes=many)
    scene = PartSet(parts.drawing, (part,), Contours.empty())
    begin = process_time()
    (findings,) = judge(scene, job, [[replace(plate, part=part)]], [None], [setting], load_limits())
    assert process_time() - begin < 2.0
    assert [f.count for f in findings if f.rule == "hole-too-small"] == [80_000]


def test_a_short_edge_is_told_in_millimetres_and_never_as_nothing() -> None:
    assert [edge_length(m) for m in (2.5, 0.1, 0.0374)] == ["2.5 m", "0.1 m", "37 mm"]
    least = load_limits().constant("edge-burrs", "least_mm")
    assert not edge_length(least / 1000.0).startswith("0 ")
