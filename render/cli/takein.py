"""What a walk is to be of, asked at the terminal where the command line does not say."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from render.cli.briefing import Brief
from render.cli.options import Mains
from render.terminal.leaving import BackAtIntakeError

if TYPE_CHECKING:
    from render.terminal.takein import Arrival


def ask(brief: Brief, before: Arrival | None = None) -> tuple[Brief, Arrival] | None:
    """The brief with unit, complaint, mains and lacks as told, and those; None where the person
    left. What was told `before` is asked again from its end."""
    from engine import library
    from engine.intake.suggestion import listener
    from kb.language import loader
    from render.cli.attendance import lines_from
    from render.terminal import takein
    from render.terminal.screen import Screen

    folders = (brief.kb,) if brief.kb is not None else ()
    unopened = library.unopened(folders)
    complaints = loader.read(folders).complaints
    usual = (brief.mains, *(one for one in Mains if one is not brief.mains))
    desk = takein.Desk(
        Screen(sys.stdout), lines_from(sys.stdout),
        units={note.id: note.says for note in (*library.topologies(folders), *unopened)},
        complaints={name: entry.says for name, entry in complaints.items()},
        mains=tuple(one.value for one in usual), listener=listener(),
        unknown=next((note.id for note in unopened), ""),
    )  # fmt: skip
    try:
        arrival = desk.take_in(before)
    except (takein.Abandonment, EOFError, KeyboardInterrupt):
        print("\nNothing was begun, nothing is saved.")
        return None
    told = replace(
        brief, topology=arrival.topology, complaint=arrival.complaint, words=arrival.words,
        mains=Mains(arrival.mains), without=(*brief.without, *arrival.without),
    )  # fmt: skip
    return told, arrival


def meet(brief: Brief, run: Callable[[Brief, Callable[[], None]], None]) -> None:
    """Take a unit in and `run` its walk; where the walk calls what it is given, undone at its first
    question, the taking in goes on at its end."""
    taken = ask(brief)
    while taken is not None:
        told, arrival = taken
        try:
            run(told, _back)
            return
        except BackAtIntakeError:
            taken = ask(brief, arrival)


def _back() -> None:
    raise BackAtIntakeError
