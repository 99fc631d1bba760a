"""What comes to each node of a chart document: the odds of each fault, and how the bench stands.

The one traversal of a chart for whoever shows it. The audit states its own, from the same
documents: the checker stays the checker. Odds are those of true readings, as in the plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.chart.traversal import topological
from engine.model.plan import State

Floats = NDArray[np.float64]
Document = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Odds:
    """A model document's odds as arrays over its faults in order: the priors, and under each fault
    those of each outcome, by test and outcome."""

    prior: Floats
    rows: Mapping[str, Mapping[str, Floats]]

    @classmethod
    def of(cls, model: Document) -> Odds:
        """The odds of a valid model document; KeyError where a key of the format is missing."""
        faults = [fault["id"] for fault in model["faults"]]
        rows = {
            test["id"]: {
                outcome["id"]: np.array(
                    [model["likelihood"][test["id"]][f].get(outcome["id"], 0.0) for f in faults],
                    dtype=np.float64,
                )
                for outcome in test["outcomes"]
            }
            for test in model["tests"]
        }
        prior = np.array([fault["prior"] for fault in model["faults"]], dtype=np.float64)
        return cls(prior, rows)


@dataclass(frozen=True, slots=True)
class Coming:
    """What comes to one node: joint odds of each fault and of coming there, and the benches."""

    weights: Floats
    states: frozenset[State]

    def join(self, other: Coming) -> Coming:
        """This and another way to the same node."""
        return Coming(self.weights + other.weights, self.states | other.states)


def start_state(start: Document) -> State:
    """The bench as a model document's `start` has it."""
    return State(frozenset(start["opened"]), str(start["supply"]), str(start["rig"]))


def coming_in(model: Document, odds: Odds) -> Coming:
    """A unit that came in, on the bench of the model document's start."""
    return Coming(odds.prior, frozenset({start_state(model["start"])}))


def comings(odds: Odds, chart: Document, begin: Coming) -> dict[str, Coming]:
    """What comes to each reachable node of a chart document, in order from its root, where it
    begins with `begin`. O(nodes x outcomes x faults)."""
    nodes = chart["nodes"]
    comings_at = {chart["root"]: begin}
    order = topological(chart["root"], lambda name: below(nodes[name]))
    for name in order:
        for child, came in _onward(odds, nodes[name], comings_at[name]):
            comings_at[child] = comings_at[child].join(came) if child in comings_at else came
    return {name: comings_at[name] for name in order}


def benches(
    nodes: Mapping[str, Document], order: Iterable[str], begin: State
) -> dict[str, frozenset[State]]:
    """How the bench may stand as one comes to each of those nodes; `order` has each after all that
    lead to it, and the root, where it stands as `begin`, first."""
    stands: dict[str, frozenset[State]] = {}
    for name in order:
        here = stands.setdefault(name, frozenset({begin}))
        after = states_after(nodes[name], here)
        for child in below(nodes[name]):
            stands[child] = stands.get(child, frozenset()) | after
    return stands


def states_after(node: Document, here: frozenset[State]) -> frozenset[State]:
    """How the bench stands once a node is done, where one came to it with it standing so."""
    if node["kind"] != "setup":
        return here
    opens = frozenset(node["open"])
    return frozenset(State(s.opened | opens, node["supply"], node["rig"]) for s in here)


def below(node: Document) -> tuple[str, ...]:
    """The nodes that one leads to."""
    if "next" in node:
        return (node["next"],)
    return tuple(node.get("branches", {}).values())


def _onward(odds: Odds, node: Document, here: Coming) -> list[tuple[str, Coming]]:
    if node["kind"] == "setup":
        return [(node["next"], Coming(here.weights, states_after(node, here.states)))]
    return [
        (child, Coming(here.weights * odds.rows[node["test"]][outcome], here.states))
        for outcome, child in node.get("branches", {}).items()
    ]
