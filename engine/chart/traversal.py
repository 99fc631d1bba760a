"""All the ways to each node of a plan: which bench they leave behind, and with what odds.

A plan shares equal sub-plans, so that a node may be come to from several benches. Odds are those
of true readings, as in the plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from engine.model.plan import Ask, Plan, State, Verdict
from engine.model.records import Model


@dataclass(frozen=True, slots=True)
class Arrival:
    """One way to a node of the plan: the bench it leaves behind, and the joint odds of each fault
    and of taking it."""

    state: State
    weights: Mapping[str, float]


def arrivals(model: Model, plan: Plan, begin: State) -> dict[str, list[Arrival]]:
    """The ways to each node of the plan. O(nodes x outcomes x faults)."""
    whole: dict[str, float] = {}
    for node in plan.nodes.values():
        if isinstance(node, Verdict):
            for fault, weight in node.weights:
                whole[fault] = whole.get(fault, 0.0) + weight
    ways = {plan.root: [Arrival(begin, whole)]}
    for name in in_order(plan, plan.root):
        node = plan.nodes[name]
        if not isinstance(node, Ask):
            continue
        here: dict[str, float] = {}
        for arrival in ways[name]:
            for fault, weight in arrival.weights.items():
                here[fault] = here.get(fault, 0.0) + weight
        for outcome, child in node.branches.items():
            share = {f: w * model.row(node.test, f).get(outcome, 0.0) for f, w in here.items()}
            ways.setdefault(child, []).append(Arrival(node.state, share))
    return ways


def in_order(plan: Plan, root: str) -> tuple[str, ...]:
    """The plan's nodes from a root, each after all that lead to it."""
    return topological(root, lambda name: _below(plan, name))


def topological(root: str, below: Callable[[str], tuple[str, ...]]) -> tuple[str, ...]:
    """The nodes of a tree with shared branches from its root, each after all that lead to it;
    `below` gives those that a node leads to. Linear in them."""
    order: list[str] = []
    visits = {root}
    stack = [(root, iter(below(root)))]
    while stack:
        name, ahead = stack[-1]
        for child in ahead:
            if child not in visits:
                visits.add(child)
                stack.append((child, iter(below(child))))
                break
        else:
            order.append(name)
            stack.pop()
    return tuple(reversed(order))


def in_reading_order(root: str, ahead: Callable[[str], Iterable[str]]) -> tuple[str, ...]:
    """The nodes of a tree with shared branches as one reads it from its root: one branch of a node
    and all of it before the next. `ahead` gives those that a node leads to; the last of them is
    read first. Linear in them."""
    order: dict[str, None] = {}
    stack = [root]
    while stack:
        name = stack.pop()
        if name not in order:
            order[name] = None
            stack.extend(ahead(name))
    return tuple(order)


def _below(plan: Plan, name: str) -> tuple[str, ...]:
    node = plan.nodes[name]
    return tuple(node.branches.values()) if isinstance(node, Ask) else ()
