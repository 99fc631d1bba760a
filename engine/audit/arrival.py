"""What arrives at each node of a chart: odds of each fault, stands of the bench, tests done."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from engine.audit.bench import Bench, Document, Floats, Stand
from engine.audit.shape import in_order


@dataclass(frozen=True, slots=True)
class Standing:
    """The stand on arrival, the stand the last test (or the start) left, minutes since then."""

    now: Stand
    since: Stand
    minutes: float


@dataclass(slots=True)
class Arrival:
    """All arrivals at one node. `weights` are joint odds of each fault and arriving here."""

    weights: Floats
    shares: list[Floats] = field(default_factory=list)
    standings: set[Standing] = field(default_factory=set)
    done: set[str] = field(default_factory=set)


def arrivals(
    bench: Bench, chart: Document, start: frozenset[Stand] = frozenset()
) -> Mapping[str, Arrival]:
    """The arrivals at each reachable node of a chart without circles, in order from the root.

    `start` are the stands one may begin in, by default the model's start alone.
    """
    order = in_order(chart)
    assert order is not None
    came = {name: Arrival(np.zeros(len(bench.faults))) for name in order}
    begun = {Standing(stand, stand, 0.0) for stand in start or {bench.start}}
    _arrive(came[chart["root"]], bench.prior, begun, set())
    for name in order:
        node, here = chart["nodes"][name], came[name]
        if node["kind"] == "setup":
            moved = {moved_on(bench, node, standing) for standing in here.standings}
            _arrive(came[node["next"]], here.weights, moved, here.done)
        elif node["kind"] == "test":
            stood = {Standing(s.now, s.now, 0.0) for s in here.standings}
            for outcome, follower in node["branches"].items():
                share = here.weights * bench.odds[node["test"]][outcome]
                _arrive(came[follower], share, stood, here.done | {node["test"]})
    return came


def stand_after(node: Document, now: Stand) -> Stand:
    """The stand a set-up node leads to."""
    return Stand(now.opened | frozenset(node["open"]), node["supply"], node["rig"])


def moved_on(bench: Bench, node: Document, standing: Standing) -> Standing:
    """The standing after a set-up node."""
    new = stand_after(node, standing.now)
    minutes = standing.minutes + bench.setup_minutes(standing.now, new)
    return Standing(new, standing.since, minutes)


def nodes_of(
    chart: Document, came: Mapping[str, Arrival], kind: str
) -> Iterator[tuple[str, Document, Arrival]]:
    """The reachable nodes of one kind with their arrivals."""
    for name, here in came.items():
        if chart["nodes"][name]["kind"] == kind:
            yield name, chart["nodes"][name], here


def _arrive(there: Arrival, share: Floats, standings: set[Standing], done: set[str]) -> None:
    there.weights += share
    there.shares.append(share)
    there.standings |= standings
    there.done |= done
