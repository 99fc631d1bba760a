"""From the kernel's answer to a plan: names for numbers, equal sub-plans shared, minutes summed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.model.plan import Ask, Node, Plan, Proof, Recheck, State, Verdict
from engine.model.records import Model, Outcome
from engine.model.setup import minutes
from engine.planner.reduction import Reduction

if TYPE_CHECKING:
    from engine.planner._kernel import Cutoffs, PlanNode, SearchResult

RECHECK = "recheck"
RECHECK_SHORT = "recheck-short"
RECHECKS = {
    RECHECK: "No fault in question shows this. Repeat the test; if it stays so, start again.",
    RECHECK_SHORT: "No fault in question shows this, yet it reads like a short. Repeat the test; "
    "if it stays so, energise nothing: look for the short with cold checks first.",
}
NO_TEST = -1
"""The kernel's number where no test follows."""
Weights = dict[str, float]


def grow(model: Model, reduction: Reduction, solution: SearchResult) -> Plan:
    """The plan that the kernel found, with its proof."""
    records, root, lower, optimal, expansions, _memo, cuts = solution
    names = _share(reduction, records)
    nodes = _named_nodes(model, reduction, records, names)
    arrivals = _arrivals(model, reduction, nodes, names[root])
    nodes = {name: _with_weights(node, arrivals.get(name, {})) for name, node in nodes.items()}
    bench_minutes = expected_minutes(model, nodes, names[root], arrivals, reduction.state)
    total = bench_minutes + leaf_minutes(model, nodes)
    lower_bound = total if optimal else min(total, lower + reduction.certain_cost)
    proof = Proof(
        expected_minutes=bench_minutes,
        expected_cost=total,
        lower_bound=lower_bound,
        proved_optimal=bool(optimal),
        nodes_expanded=expansions,
        fault_classes=reduction.problem.classes,
        tests_left=reduction.problem.tests,
        closed_by=_closed_by(cuts),
    )
    return Plan(names[root], nodes, proof)


CUTS = (
    "the bits still to be told",
    "every two faults needing a test that parts them",
    "openings that can't be done without",
    "the quickest test, which all would pay",
    "an answer for nothing, worth no more than it saves",
    "what the next sub-plans are known to cost",
    "bits priced within each group of faults",
)
"""What each bound rests on, in the order in which the kernel counts them."""


def _closed_by(cuts: Cutoffs) -> str:
    """Which bounds told, the commonest first, with their shares; those under one per cent left out.

    A bound tells where it is the sharpest one of a sub-problem, or rules a test out.
    """
    total = sum(cuts)
    if not total:
        return "Stopping at once is best."
    ranking = sorted(zip(cuts, CUTS, strict=True), reverse=True)
    shares = [f"{what} ({count / total:.0%})" for count, what in ranking if count >= total / 100]
    text = "; ".join(shares)
    return f"{text[:1].upper()}{text[1:]}."


def _share(reduction: Reduction, records: list[PlanNode]) -> list[str]:
    """A name for each written node; nodes that mean the same get the same name.

    Children are written before their parents, so a node's sub-plans have names already.
    """
    name_of: dict[tuple[object, ...], str] = {}
    names: list[str] = []
    for test, remedy, openings, place, members, code, children in records:
        here: tuple[object, ...]
        if test == NO_TEST:
            here = (remedy, members, code)
        else:
            below = tuple(names[child] if child >= 0 else RECHECK for child in children)
            here = (test, openings, place, members, code, below)
        names.append(name_of.setdefault(here, f"p{len(name_of) + 1}"))
    return names


def _named_nodes(
    model: Model, reduction: Reduction, records: list[PlanNode], names: list[str]
) -> dict[str, Node]:
    nodes: dict[str, Node] = {}
    missing: set[str] = set()
    for name, record in zip(names, records, strict=True):
        test_index, remedy, openings, place, _members, _code, children = record
        if test_index == NO_TEST:
            nodes[name] = Verdict(reduction.remedies[remedy].id, ())
            continue
        test = reduction.tests[test_index]
        child_of = dict(zip(reduction.outcomes[test_index], children, strict=True))
        branches = {
            outcome.id: names[child_of[o]] if child_of.get(o, -1) >= 0 else _recheck(outcome)
            for o, outcome in enumerate(test.outcomes)
        }
        missing |= RECHECKS.keys() & branches.values()
        names_open = frozenset(n for i, n in enumerate(reduction.openings) if openings >> i & 1)
        supply, rig = reduction.places[place]
        nodes[name] = Ask(test.id, State(names_open, supply, rig), branches)
    return nodes | {name: Recheck(RECHECKS[name]) for name in sorted(missing)}


def _recheck(outcome: Outcome) -> str:
    return RECHECK_SHORT if outcome.short else RECHECK


def _arrivals(
    model: Model, reduction: Reduction, nodes: dict[str, Node], root: str
) -> dict[str, Weights]:
    """The joint odds of each fault and of arriving at each node, over all ways there."""
    start: Weights = {}
    for group, masses in zip(reduction.fault_ids, reduction.masses, strict=True):
        start.update(zip(group, masses, strict=True))
    arrivals: dict[str, Weights] = {root: start}
    for name in in_order(nodes, root):
        node = nodes[name]
        if not isinstance(node, Ask):
            continue
        likelihood = model.likelihood[node.test]
        for outcome, child in node.branches.items():
            below = arrivals.setdefault(child, {})
            for fault, weight in arrivals[name].items():
                odds = likelihood[fault].get(outcome, 0.0)
                if odds > 0:
                    below[fault] = below.get(fault, 0.0) + weight * odds
    return arrivals


def in_order(nodes: dict[str, Node], root: str) -> list[str]:
    """Node names reachable from the root, each after all nodes that lead to it."""
    order: dict[str, None] = {}
    stack: list[tuple[str, bool]] = [(root, False)]
    while stack:
        name, left = stack.pop()
        if left:
            order.setdefault(name)
        elif name not in order:
            stack.append((name, True))
            node = nodes[name]
            if isinstance(node, Ask):
                stack.extend((child, False) for child in node.branches.values())
    return list(reversed(order))


def _with_weights(node: Node, weights: Weights) -> Node:
    return Verdict(node.remedy, tuple(weights.items())) if isinstance(node, Verdict) else node


def expected_minutes(
    model: Model, nodes: dict[str, Node], root: str, arrivals: dict[str, Weights], state: State
) -> float:
    """Tests and set-ups, weighted by the odds of coming that way."""
    first = nodes[root]
    total = minutes(model, state, first.state) if isinstance(first, Ask) else 0.0
    for name, node in nodes.items():
        if not isinstance(node, Ask):
            continue
        likelihood = model.likelihood[node.test]
        total += model.test(node.test).minutes * sum(arrivals[name].values())
        for outcome, child in node.branches.items():
            below = nodes[child]
            if isinstance(below, Ask):
                mass = sum(w * likelihood[f].get(outcome, 0.0) for f, w in arrivals[name].items())
                total += mass * minutes(model, node.state, below.state)
    return total


def leaf_minutes(model: Model, nodes: dict[str, Node]) -> float:
    """The remedies' minutes and the minutes lost where they don't cure, by odds."""
    total = 0.0
    for node in nodes.values():
        if not isinstance(node, Verdict):
            continue
        remedy = model.remedy(node.remedy)
        cures = set(remedy.cures)
        for fault, weight in node.weights:
            miss = 0.0 if fault in cures else model.wrong_verdict_minutes
            total += weight * (remedy.minutes + miss)
    return total
