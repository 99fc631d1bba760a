"""Is the help quick, grouped, and true?"""

from __future__ import annotations

import itertools
import re
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


def test_every_sheet_of_help_is_whole_and_plain(desk: Desk) -> None:
    """No frame, no name of a type, no line that breaks off in a sentence's middle."""
    desk.monkeypatch.setenv("COLUMNS", "100")
    for command in (*COMMANDS, "cases", "export", "serve", "bench", "note"):
        out = desk.run(command, "--help").out
        assert not re.search(r"[│╭╮╰╯]|<bool>|<str>|\[\[|<list", out), command
        for line, following in itertools.pairwise(out.splitlines()):
            if line and following and not line.startswith(("──", "Usage", "-", "Example")):
                words = following.split()[0] if following.startswith("   ") else ""
                assert not words or len(line) + len(words) >= 90, (command, line)


def test_help_names_no_option_that_a_command_lacks(desk: Desk) -> None:
    for command in COMMANDS:
        out = desk.run(command, "--help").out
        there = set(re.findall(r"^(?:-\w )?(--[a-z-]+)", out, re.MULTILINE))
        said = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", re.sub("Example:.*", "", out)))
        assert said - there <= {"--help", "--no-photographs"}, command


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("walk", "--modle", "x"), "--modle CL001 nextprobe walk has no such option. Did you mean"),
        (("wlk",), "wlk CL001 there is no such command. Did you mean walk?"),
        (("chart", "--mains", "3"), "--mains CL001 3 is not one of 230/50, 120/60."),
        (("trial", "--runs", "x"), "--runs CL001 it has to be a whole number."),
        (("trial", "--runs", "5"), "--runs CL001 it has to be 10 or more."),
        (("priors",), "TOPOLOGY CL001 nextprobe priors wants it."),
        (("list", "x", "y"), "x y CL001 nextprobe list has no use for it."),
        (("walk", "--mains"), "--mains CL001 it wants a value after it."),
        (("walk", "buck-lamp", "--value", "ZZ=3"), "EV101 This unit has no part ZZ"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)
def test_what_can_t_be_read_is_said_like_every_other_trouble(
    desk: Desk, words: tuple[str, ...], said: str
) -> None:
    """One style, one exit code, no words of a library, nothing asked first."""
    ran = desk.run_bare(*words)
    assert ran.code == 2
    assert said in ran.err
    assert ran.err.startswith("nextprobe: ")
    assert ran.err.count("\n") == 1
    assert "Value error" not in ran.err
    assert "before anything is opened" not in ran.out


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (("walk", "buck-lamp", "--complaint", "dim+never"), "dim+never-lights"),
        (("walk", "buck-lamp", "--without", "ohms-C"), "ohms-C1"),
        (("walk", "--with", "esr"), "esr-meter"),
        (("reading", "buck-lamp", "volts-TP"), "volts-TP1"),
        (("calc", "disch"), "discharge"),
        (("chart", "buck-lamp", "--traced", "rect"), "rectifier"),
        (("bench", "--has", "insul"), "insulation-tester"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_completion_offers_names(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], offered: str
) -> None:
    """Of complaints, tests, things, sums, stages."""
    monkeypatch.setenv("COMP_WORDS", " ".join(("nextprobe", *words)))
    monkeypatch.setenv("COMP_CWORD", str(len(words)))
    monkeypatch.setenv("_NEXTPROBE_COMPLETE", "complete_bash")
    assert offered in desk.run_bare().out.split()
