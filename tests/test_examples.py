"""The examples in the docstrings run."""

import doctest
import importlib
import pkgutil

import pytest

import analyzer

MODULES = sorted(
    module.name
    for module in pkgutil.walk_packages(analyzer.__path__, "analyzer.")
    if not module.name.endswith("__main__")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_docstrings(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name), raise_on_error=False)
    assert result.failed == 0


def test_there_are_examples() -> None:
    """Counted only; they run above."""
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = [test for name in MODULES for test in finder.find(importlib.import_module(name))]
    assert sum(len(test.examples) for test in found) > 10
