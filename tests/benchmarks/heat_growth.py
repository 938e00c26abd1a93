"""Heat of large patterns: time against the number of contours, and against the direct sum.

    python tests/benchmarks/heat_growth.py [ROUNDS]

One plate of 12 mm with square grids of holes in oxygen, the gas in which heat is followed.  "wide"
holes lie 15 mm apart, so that no web is followed; "narrow" ones 10 mm, so that all are.  Processor
time of the heat forecast alone, least of the rounds; the exponent is log(time ratio) / log(contour
ratio).  For one size the whole of the effects is told, as a check makes it: edges, drop and heat.
"""

import itertools
import math
import sys
from time import process_time

import numpy as np

from analyzer.effects.drop import forecast_drop, lay_on_slats
from analyzer.effects.edges import forecast_edges
from analyzer.effects.heat import forecast_heat
from analyzer.effects.heat_pattern import crowding
from analyzer.effects.heat_sources import PlateHeat, sources_of
from analyzer.effects.heat_sum import HeatTree, direct_rise
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.motion.alone import plan_alone
from analyzer.motion.plan import Plan
from analyzer.parts.part import Part
from analyzer.parts.webs import find_webs
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine

JOB = Job("mild-steel", 12.0, 12.0, gases=("oxygen",))
SIDES = (32, 55, 71, 100)
WHOLE = 71


def plate(side: int, pitch: float) -> Part:
    """Return a plate with side x side holes of 10 mm."""
    reach = (side - 1) * pitch + 40.0
    outline = Contours.from_points([[-40, -40], [reach, -40], [reach, reach], [-40, reach]])
    holes = [
        Contours.circle(i * pitch, j * pitch, 5.0).reversed()
        for j in range(side)
        for i in range(side)
    ]
    contours = Contours.join([outline, *holes])
    rows, nothing = np.arange(len(contours)), Contours.empty()
    webs = tuple(web for _, web in find_webs(contours, rows, 0 * rows, JOB.thickness_mm))
    return Part(
        "P1", 1, None, contours, nothing, nothing, (), (), (), webs, (tuple(rows.tolist()),)
    )


def whole_effects(part: Part, plan: Plan, rounds: int) -> str:
    """Return the processor time of heat, of edges and of drop, each the least of the rounds."""
    setting = settings_for(JOB)[0][0]
    heat = forecast_heat(part, plan, setting, JOB)
    steps = {
        "heat": lambda: forecast_heat(part, plan, setting, JOB),
        "edges": lambda: forecast_edges(part, plan, setting, JOB, heat),
        "drop": lambda: forecast_drop(lay_on_slats(part, Machine()), setting, JOB),
    }
    least = dict.fromkeys(steps, math.inf)
    for _ in range(rounds):
        for name, step in steps.items():
            begin = process_time()
            step()
            least[name] = min(least[name], process_time() - begin)
    told = ", ".join(f"{name} {seconds:.2f}" for name, seconds in least.items())
    return f"{told}, all {sum(least.values()):.2f} s"


def main(rounds: int) -> None:
    """Print times, exponents, and the distance to the direct sum on 400 holes."""
    setting = settings_for(JOB)[0][0]

    def planned(side: int, pitch: float) -> tuple[Part, Plan]:
        part = plate(side, pitch)
        return part, plan_alone(part, setting, Machine(), JOB.thickness_mm)

    for name, pitch in (("wide", 25.0), ("narrow", 20.0)):
        times = []
        for side in SIDES:
            part, plan = planned(side, pitch)
            best = math.inf
            for _ in range(rounds):
                begin = process_time()
                forecast_heat(part, plan, setting, JOB)
                best = min(best, process_time() - begin)
            times.append((len(part.contours), best))
            print(f"{name:<7} {len(part.contours):6d} contours {best:7.2f} s", flush=True)
        for (n, before), (m, after) in itertools.pairwise(times):
            print(f"  {n} to {m}: exponent {math.log(after / before) / math.log(m / n):.2f}")
    part, plan = planned(WHOLE, 20.0)
    print(f"effects of {len(part.contours)} narrow contours:", whole_effects(part, plan, rounds))
    part, plan = planned(20, 25.0)
    share = crowding(part.contours).share
    sources, warm = sources_of(part.contours, plan, setting, JOB, share), PlateHeat.of(JOB)
    when = plan.begins - 3.0
    merged = HeatTree(sources, warm).rise(plan.pierces, when, np.zeros(len(when)))
    direct = direct_rise(sources, warm, plan.pierces, when)
    off = np.abs(merged - direct) / np.maximum(direct, 1.0)
    print(f"400 holes against the direct sum: median {np.median(off):.2%}, most {off.max():.2%}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
