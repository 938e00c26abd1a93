"""Fitting to stop-watch times: known parameters come back from times made with them."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import ezdxf
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import t as student_t

from analyzer.analysis import analyse
from analyzer.calibration import Calibrated, Timed, calibrated, fit, undone
from analyzer.drawing.drawing import Drawing
from analyzer.drawing.reading import read_drawing
from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.least_squares import LEAST_BAND, Parameter, fitted_to
from analyzer.process.hand_rates import HandRates
from analyzer.shop import Shop, parse_shop

SHOP = Shop(power_kw=10.0)


@cache
def drawing(name: str, holes: int, width: float, height: float, teeth: int) -> Drawing:
    """Return a plate with rows of small holes and a comb along the top."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    comb = [(width - 10.0 * n - d, height - deep) for n in range(teeth)
            for d, deep in ((0.0, 0.0), (5.0, 0.0), (5.0, 5.0), (10.0, 5.0))]  # fmt: skip
    top = comb or [(width, height)]
    space.add_lwpolyline([(0.0, 0.0), (width, 0.0), *top, (0.0, height)], close=True)
    across = max(1, int(width // 25) - 1)
    for n in range(holes):
        space.add_circle((20.0 + 25.0 * (n % across), 20.0 + 20.0 * (n // across)), 4.0)
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        document.saveas(path)
        return read_drawing(path)


DRAWINGS = (
    ("long.dxf", 2, 1500.0, 900.0, 0), ("holes.dxf", 60, 400.0, 200.0, 0),
    ("mixed.dxf", 12, 700.0, 300.0, 0), ("comb.dxf", 2, 600.0, 80.0, 50),
    ("small.dxf", 4, 120.0, 90.0, 0),
)  # fmt: skip


def timed(number: int, gas: str, shop: Shop, step: str | None = None) -> Timed:
    """Return a drawing looked at in one gas."""
    job = Job("mild-steel", 6.0, 10.0, gases=(gas,), next_step=step)
    return Timed(number, analyse(drawing(*DRAWINGS[number]), job, shop), 1.0)


@cache
def looked_at(number: int, gas: str, step: str | None = None) -> Timed:
    """Return the same with the start values."""
    return timed(number, gas, SHOP, step)


def times(
    overhead: float, acceleration: float, speed: float, *, noise: float = 0.0, seed: int = 1,
    gas: str = "nitrogen", only: int = len(DRAWINGS), repeats: int = 1,
) -> list[Timed]:  # fmt: skip
    """Return times of a machine with these parameters, with noise."""
    machine = replace(SHOP.machine, start_overhead_s=overhead, cut_acceleration=acceleration)
    told = "[calibration]\nsheets = 3\nresidual_percent = 1\n"
    key = "oxygen_speed_factor" if gas == "oxygen" else "speed_factor"
    real = replace(calibration_shop(f"{told}{key} = {speed}\n"), machine=machine, power_kw=10.0)
    minutes = [timed(n, gas, real).result.timing.total / 60.0 for n in range(len(DRAWINGS))]
    spoiled = np.random.default_rng(seed).normal(0.0, noise, size=(repeats, len(DRAWINGS)))
    return [
        replace(
            looked_at(n, gas),
            minutes=minutes[n] * math.exp(spoiled[r, n]),
        )
        for r in range(repeats)
        for n in range(min(only, len(DRAWINGS)))
    ]


def calibration_shop(text: str) -> Shop:
    return parse_shop(text, Path("burrcast.toml"))


def values(found: Calibrated) -> dict[str, float]:
    return {one.parameter.key: one.value for one in found.machine.fitted}


@pytest.mark.parametrize(("overhead", "acceleration", "speed"), [(0.3, 8.0, 1.0),
                         (0.8, 4.0, 1.15), (0.15, 14.0, 0.85)])  # fmt: skip
def test_known_parameters_come_back(overhead: float, acceleration: float, speed: float) -> None:
    found = fit(times(overhead, acceleration, speed, repeats=3), SHOP)
    got = values(found)
    assert got["start_overhead_s"] == pytest.approx(overhead, rel=0.02)
    assert got["speed_factor"] == pytest.approx(speed, rel=0.01)
    assert got["cut_acceleration_m_per_s2"] == pytest.approx(acceleration, rel=0.05)
    assert found.machine.after < 0.003
    assert found.machine.after <= found.machine.before + 1e-9
    assert all(one.told for one in found.machine.fitted)
    assert found.gases == ("nitrogen",)


@settings(max_examples=2, deadline=None, derandomize=True)
@given(st.floats(0.1, 1.2), st.floats(3.0, 16.0), st.floats(0.7, 1.3), st.integers(0, 99))
def test_within_what_is_said_of_them_under_noise(
    overhead: float, acceleration: float, speed: float, seed: int
) -> None:
    """With 2 % noise the truth lies within twice the stated 19-of-20 spread."""
    rows = times(overhead, acceleration, speed, noise=0.02, seed=seed, repeats=2)
    found = fit(rows, SHOP)
    truth = {"start_overhead_s": overhead, "cut_acceleration_m_per_s2": acceleration,
             "speed_factor": speed}  # fmt: skip
    for one in found.machine.fitted:
        off = abs(math.log(one.value / truth[one.parameter.key]))
        assert off <= 2.0 * math.log1p(one.spread)
    assert found.machine.after < 0.04
    assert found.machine.residual >= found.machine.after


def test_long_cuts_alone_tell_nothing_of_the_starts() -> None:
    """Three times of one sheet: speed is told, starts and acceleration are not."""
    rows = [replace(times(0.3, 8.0, 1.2)[0], line=n) for n in range(3)]
    found = fit(rows, SHOP)
    told = {one.parameter.key: one.told for one in found.machine.fitted}
    assert told == {
        "start_overhead_s": False, "cut_acceleration_m_per_s2": False, "speed_factor": True,
    }  # fmt: skip
    assert values(found)["speed_factor"] == pytest.approx(1.2, rel=0.03)


def test_one_kind_of_sheet_cannot_tell_two_parameters_apart() -> None:
    """Starts and moves go together on a sheet of holes alone: a closed form of two columns."""
    parameters = [Parameter("start_overhead_s", "s", 0.3, 0.01, 6.0, 0.8),
                  Parameter("speed_factor", "x", 1.0, 0.2, 5.0, 0.3)]  # fmt: skip
    measured = np.array([10.0, 20.0, 30.0])

    def same(found: np.ndarray) -> np.ndarray:
        return measured * (0.5 * found[0] / 0.3 + 0.5 / found[1])

    rows = [(n, "x.dxf", "nitrogen") for n in range(3)]
    found = fitted_to(rows, parameters, same, measured * 1.1, 0.03)
    assert found.tied == (("start_overhead_s", "speed_factor"),)


def test_leave_one_out_is_that() -> None:
    """The residual of each time predicted without itself, against doing so, on a linear case."""
    rng = np.random.default_rng(3)
    x = rng.uniform(0.5, 2.0, size=(12, 2))
    measured = x @ np.array([1.1, 0.9]) * np.exp(rng.normal(0.0, 0.02, 12))
    parameters = [Parameter(key, "x", 1.0, 0.2, 5.0, 5.0) for key in "ab"]
    rows = [(n, "x", "air") for n in range(12)]
    whole = fitted_to(rows, parameters, lambda v: x @ v, measured, 0.02)
    missed = []
    for n in range(12):
        rest = [m for m in range(12) if m != n]
        part = fitted_to(
            [rows[m] for m in rest], parameters, lambda v, r=rest: x[r] @ v, measured[rest], 0.02
        )
        guess = x[n] @ np.array([one.value for one in part.fitted])
        missed.append(math.log(guess / measured[n]))
    direct = math.expm1(student_t.ppf(0.975, 11) * math.sqrt(np.mean(np.square(missed))))
    assert whole.residual == pytest.approx(direct, rel=0.03)


def test_oxygen_has_a_speed_of_its_own() -> None:
    oxygen = times(0.5, 6.0, 0.8, gas="oxygen")
    got = values(fit([*times(0.5, 6.0, 1.1), *oxygen], SHOP))
    assert got["speed_factor"] == pytest.approx(1.1, rel=0.03)
    assert got["oxygen_speed_factor"] == pytest.approx(0.8, rel=0.03)
    assert set(values(fit(oxygen, SHOP))) == {
        "start_overhead_s", "cut_acceleration_m_per_s2", "oxygen_speed_factor",
    }  # fmt: skip


def test_two_times_are_too_few() -> None:
    with pytest.raises(InputError, match="2 times: too few"):
        fit(times(0.3, 8.0, 1.0)[:2], SHOP)


def test_hand_work_is_fitted_where_three_times_of_it_are_there() -> None:
    made = replace(SHOP, rework=HandRates(burr_factor=1.6, handling_factor=0.7))
    rows = []
    for n in range(5):
        truth = timed(n, "nitrogen", made, "powder").result.rework_min
        row = looked_at(n, "nitrogen", "powder")
        minutes = row.result.timing.total / 60.0
        rows.append(replace(row, deburr_minutes=truth, minutes=minutes))
    found = fit(rows, SHOP)
    assert found.hand is not None
    got = {one.parameter.key: one.value for one in found.hand.fitted}
    assert got["burr_factor"] == pytest.approx(1.6, rel=0.1)
    assert found.hand.after < found.hand.before / 3.0
    few = [replace(row, deburr_minutes=None) if n > 1 else row for n, row in enumerate(rows)]
    assert fit(few, SHOP).hand is None


def test_a_calibrated_shop_times_as_the_stop_watch_did_and_can_be_undone() -> None:
    rows = times(0.8, 4.0, 1.15, repeats=2)
    shop = calibrated(SHOP, fit(rows, SHOP))
    for n, row in enumerate(rows[: len(DRAWINGS)]):
        again = timed(n, "nitrogen", shop).result
        assert again.timing.total / 60.0 == pytest.approx(row.minutes, rel=0.01)
        assert "by your times" in again.setting.speed_source
    assert undone(shop) == SHOP
    assert undone(SHOP) is SHOP


@pytest.mark.parametrize("count", [4, 6, 12])
def test_19_of_20_new_times_lie_within_the_band(count: int) -> None:
    """Times drawn at random from a known law; with 1.96 for Student's t 17 of 20 do at count 4."""
    rng = np.random.default_rng(11)
    parameters = [Parameter(key, "x", 1.0, 0.2, 5.0, 0.5) for key in "ab"]
    rows = [(n, "x", "air") for n in range(count)]
    within, trials = 0, 150
    for _ in range(trials):
        x = rng.uniform(0.5, 2.0, size=(count + 1, 2))
        measured = x @ np.array([1.1, 0.9]) * np.exp(rng.normal(0.0, 0.03, count + 1))
        found = fitted_to(rows, parameters, lambda v, x=x: x[:-1] @ v, measured[:-1], 0.03)
        guess = x[-1] @ np.array([one.value for one in found.fitted])
        within += abs(math.log(guess / measured[-1])) <= math.log1p(found.residual)
    assert 0.91 <= within / trials <= 0.99


def test_times_without_scatter_promise_no_miracle() -> None:
    rows = [(n, "x", "air") for n in range(4)]
    x = np.array([1.0, 2.0, 3.0, 4.0])
    found = fitted_to(rows, [Parameter("a", "x", 1.0, 0.2, 5.0, 0.5)], lambda v: x * v[0], x, 0.03)
    assert found.residual == LEAST_BAND
