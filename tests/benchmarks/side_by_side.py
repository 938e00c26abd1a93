"""Run commands in turns and compare their processor time.

Seconds differ from machine to machine and from minute to minute; the ratio of two commands
run in turns does not.  Processor time (user + system) of the child process is taken, not the
clock, so that neighbours on the machine matter less.
"""

import os
import resource
import statistics
import subprocess
from collections.abc import Mapping, Sequence

# An installed program is compiled once; a shell that forbids the cache would charge every run.
ENVIRONMENT = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}


def cpu_seconds(command: Sequence[str]) -> float:
    """Run a command; return the processor time it and its children took. [s]"""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=ENVIRONMENT)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def medians(commands: Mapping[str, Sequence[str]], rounds: int) -> dict[str, float]:
    """Run every command `rounds` times, in turns; return the median of each. [s]

    One unmeasured round first fills the caches.
    """
    for command in commands.values():
        cpu_seconds(command)
    times: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(rounds):
        for name, command in commands.items():
            times[name].append(cpu_seconds(command))
    return {name: statistics.median(values) for name, values in times.items()}


def report(result: Mapping[str, float], ours: str, theirs: str, goal: float) -> float:
    """Print both medians and their ratio beside the goal; return the ratio."""
    ratio = result[ours] / result[theirs]
    for name in (theirs, ours):
        print(f"{1000 * result[name]:8.0f} ms  {name}")
    print(f"   ratio {ratio:.2f}   goal at most {goal:g}\n")
    return ratio
