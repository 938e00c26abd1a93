"""Speed profile of 100,000 segments, times included, against toppra at the same nodes.

    python tests/benchmarks/profile_vs_toppra.py [SEGMENTS] [ROUNDS]

Prints CPU seconds of both (median of interleaved rounds), the ratio and how far the total
times lie apart.  toppra solves the same problem: one coordinate, a speed limit that changes
along it, one acceleration limit.
"""

import statistics
import sys
import time

import numpy as np
import toppra

from analyzer.motion.profile import speed_profile

ACCELERATION = 8000.0  # mm/s^2


def limits(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lengths [mm], ceilings and joint limits [mm/s] such as a drawing of short segments has."""
    rng = np.random.default_rng(7)
    lengths = rng.uniform(0.2, 5.0, count)
    ceilings = rng.uniform(50.0, 400.0, count)
    joints = np.where(rng.random(count) < 0.3, rng.uniform(10.0, 200.0, count), np.inf)
    return lengths, ceilings, joints


def with_toppra(lengths: np.ndarray, ceilings: np.ndarray, joints: np.ndarray) -> float:
    """Time by toppra with the nodes as grid. [s]"""
    grid = np.concatenate(([0.0], np.cumsum(lengths)))
    total = float(grid[-1])
    node = np.minimum.reduce([ceilings[:-1], ceilings[1:], joints[1:]])
    node = np.concatenate((ceilings[:1], node, ceilings[-1:]))
    where = {float(s): v for s, v in zip(grid, node, strict=True)}

    def speeds(s: float) -> np.ndarray:
        v = where[float(s)]
        return np.array([[-v, v]])

    way = np.array([0.0, total / 2.0, total])
    path = toppra.SplineInterpolator(way, way[:, None])
    velocity = toppra.constraint.JointVelocityConstraintVarying(speeds)
    bound = np.array([[-ACCELERATION, ACCELERATION]])
    acceleration = toppra.constraint.JointAccelerationConstraint(bound)
    solver = toppra.algorithm.TOPPRA([velocity, acceleration], path, gridpoints=grid)
    _, speed, _ = solver.compute_parameterization(0.0, 0.0)
    return float(np.sum(2.0 * lengths / (speed[1:] + speed[:-1])))


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    toppra.setup_logging("ERROR")
    lengths, ceilings, joints = limits(count)
    ours, theirs = [], []
    for _ in range(rounds):
        start = time.process_time()
        profile = speed_profile(lengths, ceilings, joints, [0, count], ACCELERATION)
        ours.append(time.process_time() - start)
        start = time.process_time()
        toppra_seconds = with_toppra(lengths, ceilings, joints)
        theirs.append(time.process_time() - start)
    # between its nodes toppra knows no peak: compare node speeds by the same trapezoid sum
    steps = 2.0 * lengths / (profile.entry + profile.exit)
    apart = abs(float(steps.sum()) / toppra_seconds - 1.0)
    mine, other = statistics.median(ours), statistics.median(theirs)
    print(f"{count} segments: {mine:.4f} s, toppra {other:.3f} s, {other / mine:.0f} times faster")
    print(f"total time at the same nodes differs by {100 * apart:.2e} %")


if __name__ == "__main__":
    main()
