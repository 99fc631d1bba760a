"""From the walk of a unit that nobody had opened to the walk of what it turned out to be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from engine.walk import handover
from kb.language import loader
from render.wording.odds import percent

if TYPE_CHECKING:
    from engine.walk.job import Walk
    from render.cli.briefing import Brief
    from render.terminal.screen import Screen

ASIDE = (
    "Answer what you see or were told. Where nobody can say, type don't know: that is an answer."
)


def unopened_name(kb: Path | None = None) -> str | None:
    """The unopened unit that a walk without a topology is of; None where there is none."""
    names = _settled(kb)
    return next(iter(names), None)


def settling(brief: Brief) -> Callable[[Walk], bool]:
    """Whether a walk is to be gone on with in the topology that its unit turned out to be."""
    settled = _settled(brief.kb).get(brief.topology or "")
    if settled is None:
        return lambda walk: False
    return lambda walk: handover.topology_of(walk, settled) is not None


def is_unopened(brief: Brief) -> bool:
    """Whether the walk is of a unit that nobody has opened yet."""
    return (brief.topology or "") in _settled(brief.kb)


def turned_out(brief: Brief, walk: Walk) -> Brief | None:
    """The brief to go on with in the topology; None where the walk ends as it is."""
    settled = _settled(brief.kb).get(brief.topology or "")
    topology = None if settled is None else handover.topology_of(walk, settled)
    if topology is None:
        return None
    return replace(brief, topology=topology, saved=None, origin=walk)


def tell(screen: Screen, walk: Walk, topology: str, kb: Path | None) -> None:
    """Say what it turned out to be, how sure that is, and that nothing is asked twice."""
    folders = (kb,) if kb is not None else ()
    says = " ".join(loader.read(folders).topologies[topology].says.split())
    odds = handover.odds_of_topologies(walk)
    screen.heading("what it is", f"{walk.minutes:.0f} min so far")
    screen.main(f"{topology}: {says}")
    others = sorted((n for n in odds if n != topology), key=lambda n: -odds[n])
    besides = [f"{n} {percent(odds[n])}" for n in others if odds[n] >= _WORTH_TELLING]
    screen.line("sure", percent(odds[topology]) + (f"; {', '.join(besides)}" if besides else ""))
    screen.line("from here", "its own checks; what was answered, opened and measured counts on")


_WORTH_TELLING = 0.01


def _settled(kb: Path | None) -> dict[str, float]:
    """From which odds each unopened unit counts as known."""
    knowledge = loader.read((kb,) if kb is not None else ())
    return {name: entry.settled for name, entry in knowledge.unopened.items()}
