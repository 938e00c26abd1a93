"""Marks, edge runs, speeds and moves: what is drawn is what the findings and numbers say."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from shared import SAMPLES

from analyzer.comparison import Answer, check
from analyzer.effects.speeds import programmed_speeds
from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.job import Job
from analyzer.process.burr import burr_terms
from analyzer.report.along import SLOW_SHARES, Runs, pieces_of, speeds_along, way_of_rows
from analyzer.report.marks import GasPicture, PartPicture, pictures_of
from analyzer.report.to_json import check_object

JOBS = {
    "gusset.dxf": Job("mild-steel", 10.0, 10.0, next_step="powder"),
    "rough_plate.dxf": Job("mild-steel", 5.0, 6.0),
    "bracing_plate.dxf": Job("mild-steel", 4.0, 6.0),
    "splice_plate.dxf": Job("mild-steel", 15.0, 15.0),
    "deck_plate.dxf": Job("mild-steel", 3.0, 6.0),
    "name_plate.dxf": Job("stainless", 6.0, 6.0),
    "railing_bracket.dxf": Job("mild-steel", 12.0, 24.0),
}


@cache
def answer_of(name: str) -> Answer:
    return check(Path(SAMPLES / name), JOBS[name])


@cache
def pictures(name: str) -> tuple[GasPicture, ...]:
    return pictures_of(answer_of(name))


def parts_of(name: str) -> list[PartPicture]:
    return [part for gas in pictures(name) for part in gas.parts]


@pytest.mark.parametrize("name", JOBS)
def test_marks_are_the_findings_of_the_json(name: str) -> None:
    gases = check_object(answer_of(name))["gases"]
    assert [gas.gas for gas in pictures(name)] == [gas["gas"] for gas in gases]
    for gas, told in zip(pictures(name), gases, strict=True):
        assert len(gas.marks) == len(told["findings"])
        for mark, finding in zip(gas.marks, told["findings"], strict=True):
            for key, value in (
                ("mark", mark.number), ("level", mark.level), ("rule", mark.rule),
                ("part", mark.part), ("count", mark.count), ("message", mark.words),
                ("remedy", mark.remedy),
            ):  # fmt: skip
                assert finding[key] == value
            places = [[place["x"], place["y"]] for place in finding["places"]]
            assert mark.places.shape == (len(places), 2)
            assert np.abs(mark.places - np.reshape(places, (-1, 2))).max(initial=0.0) < 1e-6


@pytest.mark.parametrize("name", JOBS)
def test_every_mark_with_a_place_stands_on_one_picture(name: str) -> None:
    for gas in pictures(name):
        drawn = [mark for part in gas.parts for mark in part.marks] + list(gas.on_drawing)
        placed = [mark for mark in gas.marks if len(mark.places)]
        assert sorted(m.number for m in drawn) == sorted(m.number for m in placed)


@pytest.mark.parametrize("name", JOBS)
def test_bars_add_up_to_the_time_of_the_json(name: str) -> None:
    for gas, told in zip(pictures(name), check_object(answer_of(name))["gases"], strict=True):
        assert {bar.term: bar.seconds for bar in gas.bars} == pytest.approx(
            {key: value for key, value in told["time_s"].items() if key != "total"}, abs=1e-4
        )
        assert gas.total == pytest.approx(told["time_s"]["total"], abs=2e-3)


@pytest.mark.parametrize("name", JOBS)
def test_runs_cover_every_edge_once_and_add_up_to_the_forecast(name: str) -> None:
    for part in parts_of(name):
        runs, contours = part.runs, part.contours
        length = np.bincount(runs.row, runs.stop - runs.start, len(contours))
        assert length == pytest.approx(contours.length)
        same = runs.row[1:] == runs.row[:-1]
        assert runs.start[1:][same].tolist() == runs.stop[:-1][same].tolist()
        assert (runs.burr_class[1:] != runs.burr_class[:-1])[same].all()
        table = np.zeros((len(contours), 4))
        np.add.at(table, (runs.row, runs.burr_class), (runs.stop - runs.start) / 1000.0)
        heat = part.evidence.heat
        if heat is None or heat.field is None:
            assert table == pytest.approx(part.evidence.edges.metres, abs=1e-7)


@pytest.mark.parametrize("name", JOBS)
def test_lines_of_runs_lie_on_the_edge_and_are_as_long(name: str) -> None:
    for part in parts_of(name):
        lines = part.runs.lines
        assert lines.length == pytest.approx(part.runs.stop - part.runs.start, abs=1e-6)
        first = lines.starts[lines.offsets[:-1]]
        own = part.contours.starts[part.contours.offsets[:-1]][part.runs.row]
        begins = part.runs.start == 0.0
        assert first[begins] == pytest.approx(own[begins])


def test_pieces_of_a_circle_are_arcs_of_that_circle() -> None:
    circle = Contours.circle(3.0, 4.0, 10.0)
    length = 20.0 * np.pi
    cuts = pieces_of(circle, np.array([0.1, 0.3]) * length, np.array([0.3, 0.9]) * length)
    assert cuts.length == pytest.approx(np.array([0.2, 0.6]) * length)
    assert cuts.radii == pytest.approx(np.full(len(cuts.radii), 10.0))
    assert np.hypot(*(cuts.starts - (3.0, 4.0)).T) == pytest.approx(np.full(len(cuts.starts), 10))
    assert not cuts.closed.any()


@pytest.mark.parametrize("name", JOBS)
def test_speeds_stay_below_the_table_and_lie_on_the_edges(name: str) -> None:
    for part in parts_of(name):
        speeds, contours = part.speeds, part.contours
        assert (speeds.speed <= speeds.table * (1.0 + 1e-9)).all()
        assert (speeds.speed >= 0.0).all()
        assert (speeds.way <= contours.length[speeds.row] + 1e-6).all()
        assert (speeds.way >= -1e-9).all()
        box = contours.box[speeds.row]
        assert (speeds.xy >= box[:, :2] - 1e-6).all()
        assert (speeds.xy <= box[:, 2:] + 1e-6).all()
        base = way_of_rows(contours)
        ends = np.cumsum(contours.lengths)
        at = base[speeds.row] + speeds.way
        segment = np.maximum(np.searchsorted(ends, at - 1e-9), contours.offsets[speeds.row])
        low = ends[segment] - contours.lengths[segment]
        share = (at - low) / np.maximum(contours.lengths[segment], 1e-12)
        there = contours.points_at(segment, np.clip(share, 0.0, 1.0))
        assert np.abs(there - speeds.xy).max() < 1e-3


@pytest.mark.parametrize("name", JOBS)
def test_moves_join_the_pierces_in_the_order_of_cutting(name: str) -> None:
    for part in parts_of(name):
        assert sorted(part.order.tolist()) == list(range(len(part.contours)))
        assert part.moves[:, 1].tolist() == part.pierces[part.order[1:]].tolist()
        assert len(part.moves) == len(part.contours) - 1
        assert part.leads[:, 0].tolist() == part.pierces.tolist()
        path = part.evidence.plan.path
        assert part.leads[:, 1].tolist() == path.starts[path.offsets[:-1]].tolist()


def slow_and_fast_samples(part: PartPicture) -> tuple[np.ndarray, np.ndarray] | None:
    """Whether the head is slow at the samples of contours that are not small; class drawn there.

    A contour that is slow only within a millimetre of where it starts and ends counts as fast.
    None where the speed decides nothing in this gas, or heat decides as well.
    """
    one, job = part.evidence, part.job
    terms = burr_terms(one.setting.gas, job.material, job.thickness_mm, job.power_kw, job.plate)
    if not terms.slow_fraction or terms.heat_add or terms.classes[0] == terms.classes[1]:
        return None
    speeds, runs = speeds_along(one, 0.02), part.runs
    base = way_of_rows(part.contours)
    at = base[speeds.row] + speeds.way
    ends = base[runs.row] + runs.stop
    run = np.minimum(np.searchsorted(ends, at), len(ends) - 1)
    inside = (at > base[runs.row][run] + runs.start[run] + 1e-6) & (at < ends[run] - 1e-6)
    inside &= one.plan.ratios[speeds.row] >= terms.small_contour_ratio
    limit = terms.slow_fraction * programmed_speeds(one.plan, one.setting)[speeds.row]
    slow = speeds.speed < limit
    path = one.plan.path
    away = np.hypot(*(speeds.xy - path.starts[path.offsets[:-1]][speeds.row]).T)
    under_way = slow & (away > 1.0)
    slow &= np.isin(speeds.row, speeds.row[under_way])
    return slow[inside], (runs.burr_class[run] == terms.classes[1])[inside]


def test_edge_is_drawn_worse_just_where_the_head_is_slow() -> None:
    slow_places = 0
    for name in JOBS:
        for part in parts_of(name):
            found = slow_and_fast_samples(part)
            if found is not None:
                slow, worse = found
                assert (slow == worse).all()
                slow_places += int(slow.sum())
    assert slow_places > 10


def test_classes_of_speed_cover_every_contour_and_are_those_of_the_profile() -> None:
    """Every edge once; in the middle of a stretch the head is as fast as its class says."""
    for part in parts_of("gusset.dxf"):
        runs = part.speed_runs
        assert runs.metres.sum() == pytest.approx(part.contours.lengths.sum() / 1000.0, rel=1e-6)
        assert len(set(runs.burr_class.tolist())) > 1
        speeds = part.speeds
        middle = part.contours.points_at(*place_of(part.contours, runs))
        nearest = np.hypot(*(speeds.xy[None] - middle[:, None]).transpose(2, 0, 1)).argmin(axis=1)
        share = speeds.speed[nearest] / speeds.table
        edges = np.array((np.inf, *SLOW_SHARES, 0.0))
        long = runs.stop - runs.start > 6.0  # shorter ones may change within a sample
        assert (share <= edges[runs.burr_class] + 1e-9)[long].all()
        assert (share >= edges[runs.burr_class + 1] - 1e-9)[long].all()


def place_of(contours: Contours, runs: Runs) -> tuple[Ints, Floats]:
    """Return the segment and the share of it where every stretch has its middle."""
    way = way_of_rows(contours)[runs.row] + (runs.start + runs.stop) / 2.0
    ends = np.cumsum(contours.lengths)
    segment = np.minimum(np.searchsorted(ends, way), len(ends) - 1)
    share = 1.0 - (ends[segment] - way) / contours.lengths[segment]
    return segment, np.clip(share, 0.0, 1.0)
