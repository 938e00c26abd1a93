"""Where the head is slowest, and why."""

import numpy as np
import pytest
from motion.outlines import part_of, plate_with_holes, rounded, setting

from analyzer.effects.speeds import slowest_place
from analyzer.motion.alone import plan_alone
from analyzer.process.machine import Machine


def test_a_sharp_corner() -> None:
    """Rounded within 0.05 mm: r = 0.05 / (sqrt(2) - 1), v = sqrt(a r), a 8 m/s^2."""
    part = plate_with_holes(200, 100, [])
    place = slowest_place(plan_alone(part, setting(300.0), Machine(), 5.0), setting(300.0))
    assert place is not None
    radius = 0.05 / (np.sqrt(2.0) - 1.0)
    assert place.speed == pytest.approx(np.sqrt(8000.0 * radius), rel=1e-6)
    assert place.radius == pytest.approx(radius, rel=1e-6)
    assert "corner that turns by 90 degrees" in place.because


def test_a_fillet_is_left_a_little_slower_than_its_curve_allows() -> None:
    """The dip inside a short fillet: below sqrt(a r), held by the ramps on both sides."""
    part = part_of(rounded(200.0, 100.0, 3.0))
    fast = setting(400.0, kerf=0.1)
    place = slowest_place(plan_alone(part, fast, Machine(), 3.0), fast)
    assert place is not None
    assert 0.6 * np.sqrt(8000.0 * 3.05) < place.speed < np.sqrt(8000.0 * 3.05)
    assert "ramps" in place.because


def test_a_slow_cut_is_held_by_nothing_else() -> None:
    part = part_of(rounded(200.0, 100.0, 10.0))
    slow = setting(20.0)
    place = slowest_place(plan_alone(part, slow, Machine(), 20.0), slow)
    assert place is not None
    assert place.speed == pytest.approx(20.0)
    assert place.because.startswith("nothing but")


def test_nothing_is_nowhere() -> None:
    assert slowest_place(plan_alone(part_of(None), setting(), Machine(), 5.0), setting()) is None
