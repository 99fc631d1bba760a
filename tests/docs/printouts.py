"""Printouts of the program as the documentation shows them: run, never typed by hand.

A walk is answered by a stand-in for the repairer, who reads what is asked off the screen and looks
the answer up in a sample's answer file; what the file lacks can't be done.
"""

from __future__ import annotations

import contextlib
import functools
import io
import json
import os
import re
import shlex
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from unittest import mock

from engine import library
from engine.model.plan import Plan
from engine.model.records import Mains, Model
from engine.planner import plan
from kb.language.answersfile import read_answers
from render.cli import foresight
from render.cli.commands import main

ROOT = Path(__file__).parents[2]
PORCH = ("light-controlled-lamp", "never-on-in-dark", "samples/porch-lamp.yaml")
READING = ("buck-lamp", "flicker", "samples/reading-lamp.yaml")
_STORE_VOLTS = "1.2 V"
_HEADING = re.compile(r"^── ", re.MULTILINE)


def said(command: str, answers: _StandIn | None = None) -> str:
    """What a command line prints, run from the repository root with folders of its own."""
    return ran(command, answers)[1]


def ran(
    command: str, answers: _StandIn | None = None, folder: Path = ROOT, columns: int = 80
) -> tuple[object, str]:
    """A command line's exit code, and what it prints; run from a folder, in this process.

    One process reads each file of knowledge once, and the user's cache keeps what was deduced.
    """
    out = io.StringIO()
    code: object = 0
    typed = answers or io.StringIO()
    if answers is not None:
        answers.screen = out
    with (
        tempfile.TemporaryDirectory() as own,
        mock.patch.object(sys, "argv", shlex.split(command)),
        mock.patch.object(sys, "stdin", typed),
        mock.patch.dict(os.environ, _plain(own, columns)),
        mock.patch.object(foresight, "plan", _first_plan),
        contextlib.chdir(folder),
        contextlib.redirect_stdout(out),
    ):
        try:
            main()
        except SystemExit as ended:
            code = ended.code or 0
    return code, out.getvalue().strip("\n")


def _first_plan(model: Model, *, seconds: float, **state: Any) -> Plan:
    """A plan of so much effort, whatever the clock says: what is printed here must be the same on
    every machine. Walks elsewhere search for their second."""
    return plan(model, seconds=0.0, effort=4e8, **state)


def _plain(own: str, columns: int) -> Mapping[str, str]:
    return {
        "XDG_DATA_HOME": own, "XDG_STATE_HOME": own, "COLUMNS": str(columns), "TERM": "dumb",
        "NEXTPROBE_MAINS": "230/50",
    }  # fmt: skip


class _StandIn(io.StringIO):
    """Stands in for the person at the keyboard; `screen` is what was printed so far."""

    def __init__(self, model: Model, answers: Mapping[str, str]) -> None:
        super().__init__()
        self.screen = io.StringIO()
        self._answers = answers
        self._entry = [question.id for question in model.entry]
        self._tests = {_one_line(test.says): test.id for test in model.tests}
        self._asked_how = False

    def isatty(self) -> bool:
        return False

    def readline(self, size: int = -1, /) -> str:
        return self._line() + "\n"

    def _line(self) -> str:
        section = _HEADING.split(self.screen.getvalue())[-1]
        prompt = section.rpartition("\n")[2]
        if prompt.startswith("volts at"):
            return _STORE_VOLTS
        if prompt.startswith("done"):
            return "done"
        if prompt.startswith("answer"):
            number = int(re.search(r"(\d+) of \d+", section)[1])  # type: ignore[index]
            return self._answers[self._entry[number - 1]]
        if prompt.startswith("what can't"):
            return "a"
        if prompt.startswith("Enter"):
            how, self._asked_how = not self._asked_how, True
            return "how" if how else ""
        shown = _one_line(section)
        test = next(name for says, name in self._tests.items() if f" {says} " in shown)
        return self._answers.get(test, "can't")


def _one_line(text: str) -> str:
    return " ".join(text.split())


def conversation(sample: tuple[str, str, str]) -> tuple[str, str]:
    """A whole walk with the stand-in: the command, and all that was on the screen."""
    topology, complaint, file = sample
    model = library.model(topology, mains=Mains(230, 50), complaint=complaint)
    person = _StandIn(model, read_answers(ROOT / file))
    command = f"nextprobe walk {topology} --complaint {complaint}"
    return command, said(command, person)


@functools.cache
def _reading_walk() -> tuple[str, tuple[str, ...]]:
    """The reading lamp's walk: the command, and what was printed, by sections."""
    command, shown = conversation(READING)
    return command, tuple(f"── {section.rstrip()}" for section in _HEADING.split(shown)[1:])


def walk_check() -> str:
    """The last reading of the reading lamp's walk that is no check done again, for the front page.
    """
    _, sections = _reading_walk()
    reading = [s for s in sections if ", reading" in s and "once more" not in s][-1]
    return "\n".join(("```text", reading, "```"))


def walk_excerpt() -> str:
    """The reading lamp's walk for the samples' page: its start, and all from its opening on.

    Its plan is proved in a moment: one that is only the best by a deadline would make another
    printout on another machine.
    """
    command, shown = _reading_walk()
    sections = list(shown)
    opening = next(n for n, s in enumerate(sections) if s.startswith(f"── {READING[0]}"))
    verdict = next(n for n, s in enumerate(sections) if s.startswith("── verdict"))
    sections[verdict + 1] = _last_step(sections[verdict + 1])
    opened = next(n for n, section in enumerate(sections) if re.search(r"\n(\d )?open +", section))
    kept = [opening, *range(opened, verdict + 2)]
    return "\n".join(("```text", f"$ {command}", *_joined(sections, kept), "```"))


def _last_step(section: str) -> str:
    """The last reason of the account of how it is known, without the prompt after it."""
    account = section.partition("\nEnter to finish")[0]
    title, *steps = re.split(r"\n(?=step )", account)
    return "\n".join((title, "[...]", steps[-1]))


def _joined(sections: list[str], kept: list[int]) -> Iterator[str]:
    """The kept sections; what is left out between them is marked."""
    last = -1
    for number in kept:
        if number != last + 1:
            yield "[...]"
        yield _without_proofs(sections[number]) + ("" if number == kept[-1] else "\n")
        last = number


def _without_proofs(section: str) -> str:
    before, proof, _ = section.partition("\nproof 1")
    return before + ("\n[proofs after the repair ...]" if proof else "")


@functools.cache
def verdict_of(sample: tuple[str, str, str]) -> dict[str, Any]:
    """The walk document of a sample's answers."""
    topology, complaint, file = sample
    found: dict[str, Any] = json.loads(
        said(f"nextprobe walk {topology} --complaint {complaint} --answers {file} --json")
    )
    return found


def sample_verdicts() -> str:
    """A row for each sample: what was told, and the part that the walk ends at.

    Not the remedy: a part that was mended to try it is left so, and whether it is tried first hangs
    on the plan of a second, which differs from machine to machine.
    """
    rows = ["| answers | topology | complaint | found |", "|---|---|---|---|"]
    for sample in (PORCH, READING):
        topology, complaint, file = sample
        walk = verdict_of(sample)
        likeliest = max(walk["verdict"]["faults"], key=lambda fault: float(fault["p"]))["id"]
        model = library.model(topology, mains=Mains(230, 50), complaint=complaint)
        part = model.fault(likeliest).parts[0].part
        rows.append(f"| `{Path(file).name}` | `{topology}` | `{complaint}` | {part} |")
    return "\n".join(rows)


def documents() -> dict[str, Any]:
    """One of each kind, as the program prints it."""
    asked = "buck-lamp --depth stage"
    return {
        "model": json.loads(said(f"nextprobe model {asked}")),
        "chart": json.loads(said(f"nextprobe chart {asked} --format json")),
        "walk": verdict_of(READING),
    }
