"""Head path, speed ceiling and jerk-limited profile of 100,000 segments in 5,000 contours.

    python tests/benchmarks/motion_of_big_sheet.py [CONTOURS] [ROUNDS]

Every contour has 20 segments: outlines with fillets, gears, chords of curves and combs in
turn.  Prints CPU and wall seconds (median) with and without jerk.
"""

import statistics
import sys
import time

import numpy as np

from analyzer.geometry.contours import Contours
from analyzer.geometry.offset import offset_contours
from analyzer.motion.ceiling import drive_limits, path_ceilings
from analyzer.motion.profile import speed_profile
from analyzer.process.machine import Machine


def contours(count: int) -> Contours:
    """Return closed contours of 20 segments each, of four kinds and many sizes."""
    rng = np.random.default_rng(1)
    turn = np.arange(20) / 20.0 * 2.0 * np.pi
    shapes = []
    for k in range(count):
        size, kind = rng.uniform(5.0, 60.0), k % 4
        reach = np.full(20, size)
        bulges = np.zeros(20)
        if kind == 0:  # long sides and fillets in turn
            angle = np.repeat(turn[::2], 2) + np.tile([0.0, 0.08], 10)
            bulges[::2] = 0.25
        else:
            angle = turn
        if kind == 1:
            reach = size * np.where(np.arange(20) % 2, 0.85, 1.0)
        points = np.column_stack((reach * np.cos(angle), reach * np.sin(angle)))
        if kind == 3:
            step = np.arange(19)
            comb = size / 6.0 * np.column_stack(((step + 1) // 2, (step // 2) % 2 + 4.0))
            points = np.vstack((comb[::-1], [[0.0, 0.0]]))
        shapes.append(Contours.from_points(points, bulges, smooth=np.full(20, kind == 2)))
    return Contours.join(shapes)


def run(drawn: Contours, with_jerk: bool) -> float:
    """Return the seconds the head takes."""
    machine = Machine()
    path = offset_contours(drawn, 0.15).path
    drives = drive_limits(path, machine)
    inside, joints = path_ceilings(path, np.full(len(path), 400.0), drives.across, 0.05)
    jerk = drives.jerk if with_jerk else None
    profile = speed_profile(path.lengths, inside, joints, path.offsets, drives.along, jerk)
    return float(profile.times.sum())


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 5_000
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    drawn = contours(count)
    for with_jerk in (False, True):
        cpu, wall, head = [], [], 0.0
        for _ in range(rounds):
            started = time.process_time(), time.perf_counter()
            head = run(drawn, with_jerk)
            cpu.append(time.process_time() - started[0])
            wall.append(time.perf_counter() - started[1])
        print(
            f"{len(drawn.bulges)} segments, {'with' if with_jerk else 'without'} jerk: "
            f"{statistics.median(cpu):.2f} s CPU, {statistics.median(wall):.2f} s, "
            f"the head takes {head:.0f} s"
        )


if __name__ == "__main__":
    main()
