"""Is “Noted” said only of what is kept already?

A person who has read it unplugs, and may switch the machine off.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Iterator

from engine.planner import plan
from engine.walk import job
from engine.walk.events import Arrived
from engine.walk.job import Walk
from engine.walk.state import Outset
from render.terminal.leaving import Left
from render.terminal.screen import Screen
from render.terminal.session import Session
from tests.walk.test_walk_ends import lantern


def test_an_answer_is_kept_before_it_is_acknowledged() -> None:
    """As is taking one back; and nothing is written twice."""
    out = io.StringIO()
    lines: Iterator[str] = iter(("done", "dead", "undo", "dead", "stop"))
    kept: list[tuple[int, int]] = []

    def save(walk: Walk) -> None:
        answers = sum(not isinstance(event, Arrived) for event in walk.events)
        said = out.getvalue()
        kept.append((answers, said.count("Noted:") - said.count("Taken back:")))

    session = Session(Screen(out), lambda prompt: next(lines), save)
    with contextlib.suppress(Left):
        session.run(job.begin(Outset(lantern()), plan))
    assert out.getvalue().count("Noted:") == 2
    assert kept == [(0, 0), (0, 0), (1, 0), (0, 1), (1, 0)]
