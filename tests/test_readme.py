"""The README's commands are the ones that are run, and the output it shows is what they print."""

import re
import shlex

from click.testing import CliRunner
from shared import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = [body.strip() for body in re.findall(r"^```\w*\n(.*?)^```$", README, flags=re.S | re.M)]


def steps(block: str) -> list[list[str]]:
    """Return the words of every command of a line joined by &&."""
    return [shlex.split(step) for step in block.split("&&")]


def test_the_first_two_blocks_set_themselves_up_with_nothing_but_python() -> None:
    for block in BLOCKS[:2]:
        assert "\n" not in block
        make, install, run = steps(block)
        assert make[:3] == ["python3", "-m", "venv"]
        folder = make[3]
        assert install[:2] == [f"{folder}/bin/pip", "install"]
        assert run[0].startswith(f"{folder}/bin/")


def test_the_first_runs_the_main_job_and_the_second_the_tests() -> None:
    assert steps(BLOCKS[0])[2][:2] == [".venv/bin/burrcast", "check"]
    assert steps(BLOCKS[1])[2] == [".venv-test/bin/python", "-m", "pytest"]


def test_the_output_shown_is_what_the_first_command_prints() -> None:
    from analyzer.cli import burrcast

    words = steps(BLOCKS[0])[2][1:]
    drawing = next(word for word in words if word.endswith(".dxf"))
    words[words.index(drawing)] = str(ROOT / drawing)
    result = CliRunner().invoke(burrcast, words)
    assert result.exit_code == 0, result.output
    shown = [line.rstrip() for line in BLOCKS[2].splitlines()]
    printed = [line.rstrip() for line in result.stdout.strip().splitlines()]
    assert shown == printed


def test_the_check_of_every_change_runs_the_same_test_command() -> None:
    """`.ci/run` holds no test command of its own: it takes the README's second block."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "block == 2" in script
    assert "README.md" in script
    # one more step of its own: pages in a real browser, where one can be had
    assert re.findall(r"pytest.*/(.*)", script) == ["test_html_browser.py"]
    # The same extraction, in awk's words: a fence turns the inside on or off.
    inside, block, lines = False, 0, []
    for line in README.splitlines():
        if line.startswith("```"):
            inside = not inside
            block += inside
        elif inside and block == 2:
            lines.append(line)
    assert "\n".join(lines) == BLOCKS[1]
    folder = steps(BLOCKS[1])[0][3]
    assert f"bin={folder}/bin" in script
    for tool in ("ruff", "mypy"):
        assert f'"$bin/{tool}"' in script
