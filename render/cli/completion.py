"""Names for shell completion; nothing is offered where the knowledge can't be read.

What belongs to a topology goes by the one that stands on the line so far.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from typing import Any

import typer


def _topology(ctx: Any) -> str:
    """The topology on the line: where an option waits for its value the line is not read as one
    yet, and stands only where the shell put it."""
    from kb.language.loader import as_shipped

    words = (os.environ.get("COMP_WORDS") or os.environ.get("_TYPER_COMPLETE_ARGS") or "").split()
    topologies = as_shipped().topologies
    return next((word for word in (ctx.params.get("topology"), *words) if word in topologies), "")


def _choices(names: Callable[[], Iterable[str]], incomplete: str) -> list[str]:
    from kb.trouble import TroubleError

    try:
        return sorted(name for name in names() if name.startswith(incomplete))
    except (TroubleError, OSError):
        return []


def topologies(incomplete: str) -> list[str]:
    """Kinds of unit, those that nobody has opened yet among them."""
    from engine import library

    def names() -> Iterable[str]:
        return [note.id for note in (*library.topologies(()), *library.unopened(()))]

    return _choices(names, incomplete)


def complaints(incomplete: str) -> list[str]:
    """Complaints; after a plus another one."""
    from kb.language.loader import as_shipped

    before, plus, last = incomplete.rpartition("+")
    return [before + plus + name for name in _choices(lambda: as_shipped().complaints, last)]


def tests(ctx: typer.Context, incomplete: str) -> list[str]:
    """Tests and test points of the topology that was named."""
    return _choices(lambda: _of_unit(ctx, with_remedies=False), incomplete)


def things(incomplete: str) -> list[str]:
    """What a bench may have or lack."""
    from engine import library

    return _choices(lambda: library.everything(None), incomplete)


def things_and_tests(ctx: typer.Context, incomplete: str) -> list[str]:
    """What a bench may lack, and what is not done: tests and remedies of the topology."""
    return things(incomplete) + _choices(lambda: _of_unit(ctx, with_remedies=True), incomplete)


def stages(ctx: typer.Context, incomplete: str) -> list[str]:
    """Stages of the topology that was named."""
    from kb.language.loader import as_shipped

    def names() -> Iterable[str]:
        topology = as_shipped().topologies.get(_topology(ctx))
        return list(topology.stages) if topology else []

    return _choices(names, incomplete)


def sums(incomplete: str) -> list[str]:
    """Sums of the bench."""
    from engine import calc

    return _choices(lambda: [one.name for one in calc.calculations()], incomplete)


def _of_unit(ctx: Any, with_remedies: bool) -> list[str]:
    from engine import library
    from engine.model.records import Mains

    topology = _topology(ctx)
    if not topology:
        return []
    model = library.model(topology, mains=Mains(230.0, 50.0))
    others = model.remedies if with_remedies else model.points
    return [one.id for one in (*model.tests, *others)]
