"""Which cautions a chart tells in full at a node, and which stand there from before.

A caution is told where its hazard begins: where the bench state changes (the supply arrangement,
or a closed unit that gets opened) and where something new is fitted, touched or heated. After that
the mark of the bench state stands for it, until the state changes. What every repair warns of is
told once beside the verdicts: a grouped safety message in the sense of ANSI Z535.6, the others
being section and embedded messages (from memory).

Forward flow over a graph without circles (A. V. Aho and others, Compilers, available expressions):
a caution stands at a node where it was told on every path since the state began. Time: edges x
cautions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.model import makesafe
from engine.model.plan import State
from engine.model.records import Model, Remedy

HANDS_KINDS = ("repair", "downgrade", "scrap", "salvage")
"""Kinds of remedy that reach into the unit."""

Region = tuple[str, bool]


@dataclass(frozen=True, slots=True)
class Place:
    """A node as cautions see it: the region before it and the one it leads to, what it demands,
    and the nodes that follow. `entry` is None for an end, come to from anywhere: `left` is then
    the one region in which something may stand there. `ends` are cautions of a rig that comes off
    here, which stand no longer."""

    entry: Region | None
    left: Region
    demands: tuple[str, ...]
    follow: tuple[str, ...]
    ends: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Cautions:
    """Caution ids at one node: told in full, and standing from before."""

    full: tuple[str, ...]
    standing: tuple[str, ...]


def region(model: Model, state: State) -> Region:
    """What a bench state is as far as cautions go: its supply arrangement, and opened or not."""
    return state.supply, makesafe.is_opened(model, state.opened)


def ending(model: Model, before: State, after: State) -> frozenset[str]:
    """The cautions that end with a rig that comes off: its own, but for those of the supply."""
    if before.rig == after.rig:
        return frozenset()
    supply_cautions = model.arrangement(after.supply).cautions
    return frozenset(model.rig(before.rig).cautions) - frozenset(supply_cautions)


def group_cautions(model: Model, remedies: Sequence[str]) -> tuple[str, ...]:
    """The cautions that at least half of the verdicts that reach into the unit share, two or more.

    `remedies` are those of the verdicts, each as often as it stands."""
    reaching = [r for r in map(model.remedy, remedies) if r.kind in HANDS_KINDS]
    order = dict.fromkeys(caution for remedy in reaching for caution in remedy.cautions)
    return tuple(c for c in order if _often(c, reaching))


def _often(caution: str, remedies: Sequence[Remedy]) -> bool:
    having = sum(caution in remedy.cautions for remedy in remedies)
    return having >= 2 and 2 * having >= len(remedies)


def cautions_of(
    places: Mapping[str, Place], root: str, before: frozenset[str] = frozenset()
) -> dict[str, Cautions]:
    """The cautions of each node; `places` in an order in which each comes after all that lead to
    it. `before` are those told before the root in the region it is come to in."""
    incoming: dict[str, frozenset[str]] = {root: before}
    cautions: dict[str, Cautions] = {}
    for name, place in places.items():
        same = place.entry in (None, place.left)
        stands = incoming[name] - place.ends if same else frozenset()
        cautions[name] = Cautions(
            tuple(c for c in place.demands if c not in stands),
            tuple(c for c in place.demands if c in stands),
        )
        after = stands | set(place.demands)
        for following in place.follow:
            other = places[following]
            begins = other.left if other.entry is None else other.entry
            passing = after if begins == place.left else frozenset()
            incoming[following] = incoming.get(following, passing) & passing
    return cautions
