"""Is the help quick, grouped, and true?"""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.words.cli import Desk

HEAVY = ("numpy", "weasyprint", "durable", "graphviz", "jinja2", "pydantic", "ruamel", "sqlite3",
         "engine")  # fmt: skip
COMMANDS = (
    "walk", "chart", "calc", "list", "model", "check", "coverage", "trial", "compare",
)  # fmt: skip


def test_help_loads_nothing_heavy() -> None:
    """Neither planner nor printer nor knowledge: that is what makes it immediate."""
    code = (
        "import sys\nfrom render.cli.commands import main\nsys.argv = ['nextprobe', '--help']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print(*sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not set(HEAVY) & set(ran.stderr.split())


def test_help_groups_the_commands_and_begins_with_an_example(desk: Desk) -> None:
    """By what one wants to do."""
    out = desk.run("--help").out
    for words in (
        "At the bench",
        "Look things up",
        "Tend the knowledge",
        "nextprobe walk TOPOLOGY",
    ):
        assert words in out


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself_with_an_example(desk: Desk, command: str) -> None:
    """By --help and by -h."""
    for flag in ("--help", "-h"):
        ran = desk.run(command, flag)
        assert ran.code == 0
        assert f"Example: nextprobe {command}" in " ".join(ran.out.split())


def test_without_a_command_the_help_is_shown(desk: Desk) -> None:
    """Not an error in a box."""
    assert "At the bench" in desk.run().out


def test_the_version_is_told(desk: Desk) -> None:
    """By name and number."""
    assert desk.run("--version").out.startswith("nextprobe 0.")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_is_there_for_the_usual_shells(desk: Desk, shell: str) -> None:
    """As a script that names the command."""
    ran = desk.program(_NEXTPROBE_COMPLETE=f"source_{shell}")
    assert "_NEXTPROBE_COMPLETE" in ran.out
    assert f"complete_{shell}" in ran.out
