"""What arrives at each node of a chart: odds of each fault, stands of the bench, tests done."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from engine.audit.bench import Bench, Document, Floats, Stand
from engine.audit.charge import Hands, is_open, low_after, stores_named
from engine.audit.shape import in_order


@dataclass(frozen=True, slots=True)
class Standing:
    """What one comes with: the stand, the stand the last test (or the start) left and the minutes
    since then, the stores known to be low, the cautions told in full since this bench state began,
    and the short that was found on the way, if any."""

    now: Stand
    since: Stand
    minutes: float
    low: frozenset[str] = frozenset()
    cautions: frozenset[str] = frozenset()
    short: str = ""


@dataclass(slots=True)
class Arrival:
    """All arrivals at one node. `weights` are joint odds of each fault and arriving here."""

    weights: Floats
    shares: list[Floats] = field(default_factory=list)
    standings: set[Standing] = field(default_factory=set)
    done: set[str] = field(default_factory=set)


def arrivals(
    bench: Bench, chart: Document, start: frozenset[Standing] = frozenset()
) -> Mapping[str, Arrival]:
    """The arrivals at each reachable node of a chart without circles, in order from the root.

    `start` is what one may begin with, by default the model's start with nothing known.
    """
    order = in_order(chart)
    assert order is not None
    came = {name: Arrival(np.zeros(len(bench.faults))) for name in order}
    first = set(start or {Standing(bench.start, bench.start, 0.0)})
    _arrive(came[chart["root"]], bench.prior, first, set())
    for name in order:
        node, here = chart["nodes"][name], came[name]
        if node["kind"] == "setup":
            after = {moved_on(bench, node, standing) for standing in here.standings}
            _arrive(came[node["next"]], here.weights, after, here.done)
        elif node["kind"] == "test":
            cautions = frozenset(node["cautions"])
            standings = {
                replace(s, since=s.now, minutes=0.0, cautions=s.cautions | cautions)
                for s in here.standings
            }
            for outcome, follower in node["branches"].items():
                share = here.weights * bench.odds[node["test"]][outcome]
                left = standings
                if bench.shows_short(node["test"], outcome):
                    left = {replace(s, short=s.short or node["test"]) for s in standings}
                _arrive(came[follower], share, left, here.done | {node["test"]})
    return came


def stand_after(node: Document, now: Stand) -> Stand:
    """The stand a set-up node leads to."""
    return Stand(now.opened | frozenset(node["open"]), node["supply"], node["rig"])


def moved_on(bench: Bench, node: Document, standing: Standing) -> Standing:
    """The standing after a set-up node."""
    old, new = standing.now, stand_after(node, standing.now)
    minutes = standing.minutes + bench.setup_minutes(old, new)
    standing_cautions = heard_on(bench, node, standing)
    low = low_after(bench, hands_of(bench, node, standing))
    cautions = frozenset(node["cautions"])
    return Standing(new, standing.since, minutes, low, standing_cautions | cautions, standing.short)


def hands_of(bench: Bench, node: Document, standing: Standing) -> Hands:
    """A set-up node as the law of stored charge sees it."""
    stores, _ = stores_named(bench, node.get("make_safe") or (), "")
    new = stand_after(node, standing.now)
    return Hands(tuple(node["open"]), stores, standing.now, new, standing.low)


def heard_on(bench: Bench, node: Document, standing: Standing) -> frozenset[str]:
    """The cautions told before that still stand in a set-up: none in a new bench state, and no
    longer those of a rig that comes off, but for those of the supply."""
    old, new = standing.now, stand_after(node, standing.now)
    if begins_anew(bench, old, new):
        return frozenset()
    if old.rig == new.rig:
        return standing.cautions
    supply_cautions = bench.arrangements[new.supply].get("cautions", ())
    return standing.cautions - (set(bench.rigs[old.rig].get("cautions", ())) - set(supply_cautions))


def begins_anew(bench: Bench, old: Stand, new: Stand) -> bool:
    """Whether a new bench state begins, in which every hazard is told of anew."""
    return old.supply != new.supply or is_open(bench, old.opened) != is_open(bench, new.opened)


def nodes_of(
    chart: Document, came: Mapping[str, Arrival], kind: str
) -> Iterator[tuple[str, Document, Arrival]]:
    """The reachable nodes of one kind with their arrivals."""
    for name, here in came.items():
        if chart["nodes"][name]["kind"] == kind:
            yield name, chart["nodes"][name], here


def _arrive(there: Arrival, share: Floats, standings: set[Standing], tests: set[str]) -> None:
    there.weights += share
    there.shares.append(share)
    there.standings |= standings
    there.done |= tests
