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


def turning_out(brief: Brief) -> Callable[[Walk], str | None]:
    """The topology that the unit of a walk turned out to be; None as long as nobody knows, and for
    a unit that was known from the start."""
    settled = _settled(brief.kb).get(brief.topology or "")
    if settled is None:
        return lambda walk: None
    return lambda walk: handover.topology_of(walk, settled)


def settling(brief: Brief) -> Callable[[Walk], bool]:
    """Whether a walk is to be gone on with in the topology that its unit turned out to be."""
    topology_of = turning_out(brief)
    return lambda walk: topology_of(walk) is not None


def is_unopened(brief: Brief) -> bool:
    """Whether the walk is of a unit that nobody has opened yet."""
    return (brief.topology or "") in _settled(brief.kb)


def turned_out(brief: Brief, walk: Walk) -> Brief | None:
    """The brief to go on with in the topology; None where the walk ends as it is."""
    topology = turning_out(brief)(walk)
    if topology is None:
        return None
    minutes = handover.minutes_before(walk)
    return replace(brief, topology=topology, saved=None, origin=walk, minutes_before=minutes)


def tell(screen: Screen, walk: Walk, topology: str, kb: Path | None) -> None:
    """Say what it turned out to be, how sure that is, and that nothing is asked twice."""
    screen.heading("what it is", f"{walk.minutes:.0f} min")
    screen.main(f"{topology}: {description(topology, kb)}")
    screen.line("sure", sure(walk, topology))
    screen.line("from here", FROM_HERE)


def description(topology: str, kb: Path | None) -> str:
    """What a topology is, in its own words."""
    folders = (kb,) if kb is not None else ()
    return " ".join(loader.read(folders).topologies[topology].says.split())


def sure(walk: Walk, topology: str) -> str:
    """How sure it is that the unit is of this topology, and what else it may be."""
    odds = handover.odds_of_topologies(walk)
    others = sorted((n for n in odds if n != topology), key=lambda n: -odds[n])
    besides = [f"{n} {percent(odds[n])}" for n in others if odds[n] >= _WORTH_TELLING]
    return percent(odds[topology]) + (f"; {', '.join(besides)}" if besides else "")


FROM_HERE = "its own checks; what was answered, opened and measured counts on"
_WORTH_TELLING = 0.01


def _settled(kb: Path | None) -> dict[str, float]:
    """From which odds each unopened unit counts as known."""
    knowledge = loader.read((kb,) if kb is not None else ())
    return {name: entry.settled for name, entry in knowledge.unopened.items()}
