"""The collector in a process of our own: libraries are passed over, garbage is still found."""

import subprocess
import sys

BEGIN = "import gc, weakref; from analyzer.garbage import look_seldom, pass_over_libraries;"
RING = "class R: pass\nr = R(); r.me = r; w = weakref.ref(r); del r; gc.collect();"


def told(code: str) -> str:
    """What a fresh Python prints."""
    run = [sys.executable, "-c", BEGIN + code]
    return subprocess.run(run, capture_output=True, text=True, check=True).stdout.strip()


def test_a_process_that_is_not_ours_is_left_alone() -> None:
    assert told("pass_over_libraries(); print(gc.get_freeze_count())") == "0"


def test_libraries_are_passed_over_once() -> None:
    code = "look_seldom(); pass_over_libraries(); one = gc.get_freeze_count();"
    code += "more = [[] for _ in range(1000)]; pass_over_libraries();"
    assert told(code + "print(one > 100, gc.get_freeze_count() <= one)") == "True True"


def test_garbage_made_afterwards_is_found() -> None:
    assert told(f"look_seldom(); pass_over_libraries()\n{RING} print(w())") == "None"
