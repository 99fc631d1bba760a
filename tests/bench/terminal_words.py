"""How much is read and typed from the first set-up to the verdict, in three scripted jobs?

    python -m tests.bench.terminal_words          figures
    python -m tests.bench.terminal_words show     and what the screen showed, 80 columns wide

Somebody answers truly, by letters, for one fault of each shipped topology, and asks for nothing
more. Words are those of the screen, the prompts included; keystrokes are letters and Enter.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from functools import partial

from engine import library
from engine.model.records import Mains, Model
from engine.planner import plan
from engine.walk import job
from engine.walk.job import Outset, Walk
from render.terminal.replies import LETTERS
from render.terminal.screen import Screen
from render.terminal.session import Session

JOBS = (
    ("light-controlled-lamp", "never-on-in-dark", "C1"),
    ("buck-lamp", "flicker", "J2"),
    ("enabled-lamp", "never-lights", "R"),
)


class Person:
    """Types what a job asks for, and counts it."""

    def __init__(self, model: Model, fault: str) -> None:
        self.model, self.fault = model, fault
        self.keys = 0
        self.walk: Walk | None = None
        self.stream = io.StringIO()

    def line(self, prompt: str) -> str:
        """What is typed at a prompt."""
        self.stream.write(prompt)
        text = self._text(prompt)
        self.stream.write(text + "\n")
        self.keys += len(text) + 1
        return text

    def _text(self, prompt: str) -> str:
        assert self.walk is not None
        if prompt.startswith("volts at"):
            return "0"
        if prompt.startswith("done"):
            return "d"
        due = job.due(self.walk)
        if due is None:
            return ""
        test = self.model.test(due.test)
        row = self.model.row(test.id, self.fault)
        odds = [row.get(outcome.id, 0.0) for outcome in test.outcomes]
        return LETTERS[odds.index(max(odds))]

    def keep(self, walk: Walk) -> None:
        """The walk as it stands."""
        self.walk = walk


def run(topology: str, complaint: str, fault: str) -> tuple[int, int, int, str]:
    """Words to the verdict, words of the verdict, keystrokes, and all that was shown."""
    model = library.model(topology, mains=Mains(230, 50), complaint=complaint)
    chosen = next(f.id for f in model.faults if f.id.startswith(fault) and f.prior > 0)
    person = Person(model, chosen)
    planner = partial(plan, seconds=0.0, effort=4e8)
    walk = job.begin(Outset(model), planner)
    person.keep(walk)
    session = Session(Screen(person.stream, width=80), person.line, person.keep)
    session.run(walk)
    shown = person.stream.getvalue()
    before, _, verdict = shown.rpartition("── verdict")
    return len(before.split()), len(verdict.split()), person.keys, shown


def main(told: Callable[[str], object] = print) -> None:
    """Print the figures."""
    for topology, complaint, fault in JOBS:
        words, verdict, keys, shown = run(topology, complaint, fault)
        if "show" in sys.argv[1:]:
            told(shown)
        told(f"{topology:<24} {words:>5} words to the verdict, {verdict:>4} in it, {keys:>4} keys")


if __name__ == "__main__":
    main()
