"""Settings of all tests."""

import os
from collections.abc import Generator

import outside
import pytest
from hypothesis import settings

# The same examples in every run, so that a red test is red for everyone; HYPOTHESIS_FRESH=1
# looks for new ones.
settings.register_profile("same", derandomize=not os.environ.get("HYPOTHESIS_FRESH"))
settings.load_profile("same")

FEW_FILES = 3


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """Use all cores for the whole suite only.

    Slow tests measure time and memory, which neighbours would spoil; for a file or two the
    workers take longer to start than the tests to run.
    """
    asked = config.args
    few = asked != config.getini("testpaths") and len(asked) <= FEW_FILES
    slow = "not slow" not in config.option.markexpr
    return 0 if slow or (few and all(".py" in name for name in asked)) else None


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, None, None]:
    """Keep what a check against the outside compares, where somebody asks (tests/outside.py)."""
    marker = item.get_closest_marker("outside")
    if marker is None or not outside.FOLDER:
        return (yield)
    with outside.recording() as rows:
        result = yield
    outside.write(item.nodeid.partition("[")[0], *marker.args, rows)
    return result
