"""A plan put on another bench: the same checks, with the remedies that are best there.

A plan that was made for other minutes and shares keeps its checks. At each line that ends it, the
remedy of least expected cost for what arrives on this bench is named; sub-plans that have become
the same are shared, and odds and costs are worked out anew.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np

from engine.model import setup
from engine.model.plan import Ask, Node, Plan, Proof, Recheck, State, Verdict
from engine.model.records import Model
from engine.model.shorts import bars
from engine.planner import plan
from engine.planner.tree import (
    RECHECK,
    RECHECK_SHORT,
    RECHECKS,
    expected_minutes,
    in_order,
    leaf_minutes,
)
from engine.readings.belief import posterior, prepare
from engine.readings.confusion import Floats, Readings
from engine.studies.trial.ledger import comings

_WORTH = 1e-9
"""Minutes by which another remedy must be better: below that the one that stands is kept."""


def regrown(model: Model, plan: Plan, proof: Proof) -> Plan:
    """The plan on this bench; `proof` is what is known of the best plan for it.

    The lower bound is that proof's, so the gap to it is the gap to the optimum. Linear in nodes.
    """
    with_ends = _with_best_ends(model, plan)
    root, nodes = _share(model, with_ends)
    weights = _weights(model, Plan(root, nodes, proof))
    with_weights = {
        name: Verdict(node.remedy, tuple(weights[name].items()))
        if isinstance(node, Verdict)
        else node
        for name, node in nodes.items()
    }
    bench_minutes = expected_minutes(model, with_weights, root, weights, setup.start(model))
    total = bench_minutes + leaf_minutes(model, with_weights)
    lower_bound = min(proof.lower_bound, total)
    optimal = proof.proved_optimal and total <= lower_bound + _WORTH * max(1.0, total)
    return Plan(
        root,
        with_weights,
        replace(
            proof,
            expected_minutes=bench_minutes,
            expected_cost=total,
            lower_bound=total if optimal else lower_bound,
            proved_optimal=optimal,
        ),
    )


def beginning_with(model: Model, test: str, proof: Proof, seconds: float) -> Plan:
    """The plan that does `test` first and goes on by the best plan for each answer.

    `seconds` is for each answer. Raises TroubleError as the planner.
    """
    record = model.test(test)
    state = setup.reach(model, setup.start(model), record)
    tables = prepare(replace(model, tests=tuple(replace(t, misread={}) for t in model.tests)))
    nodes: dict[str, Node] = {}
    branches: dict[str, str] = {}
    for number, outcome in enumerate(record.outcomes):
        if float(tables.prior @ tables.likelihoods[test][outcome.id]) <= 0.0:
            branches[outcome.id] = f"recheck-{number}"
            nodes[f"recheck-{number}"] = Recheck(_says(outcome.short))
            continue
        odds = posterior(tables, [(test, outcome.id)])
        below = plan(
            model,
            belief=dict(zip(tables.faults, odds.tolist(), strict=True)),
            state=state,
            tests_done=frozenset({test}),
            withdrawn=bars(model, test, outcome.id),
            answers=((test, outcome.id),),
            seconds=seconds,
        )
        branches[outcome.id] = f"{number}-{below.root}"
        nodes |= {f"{number}-{name}": _under(node, number) for name, node in below.nodes.items()}
    return regrown(model, Plan("first", {"first": Ask(test, state, branches), **nodes}, proof),
                   proof)  # fmt: skip


def _says(short: bool) -> str:
    return RECHECKS[RECHECK_SHORT if short else RECHECK]


def _under(node: Node, number: int) -> Node:
    if not isinstance(node, Ask):
        return node
    return replace(node, branches={o: f"{number}-{to}" for o, to in node.branches.items()})


def _weights(model: Model, plan: Plan) -> dict[str, dict[str, float]]:
    """Joint odds of fault and coming to each node, those that can be."""
    prior = Readings.of(model).prior
    return {
        name: {
            fault.id: float(w)
            for fault, w in zip(model.faults, weights * prior, strict=True)
            if w > 0.0
        }
        for name, weights in comings(model, plan).items()
    }


def _with_best_ends(model: Model, plan: Plan) -> Plan:
    """Each line to a verdict has one of its own, with the best remedy for what comes over it."""
    readings = Readings.of(model)
    nodes: dict[str, Node] = {}
    for name, weights in comings(model, plan).items():
        node = plan.nodes[name]
        if not isinstance(node, Ask):
            nodes.setdefault(name, node)
            continue
        outcomes = readings.outcomes[node.test]
        branches: dict[str, str] = {}
        for outcome, child in node.branches.items():
            below = plan.nodes[child]
            branches[outcome] = child
            if isinstance(below, Verdict):
                share = weights * readings.prior
                share = share * readings.true[node.test][:, outcomes.index(outcome)]
                branches[outcome] = f"{child}-{name}-{outcome}"
                end = _end(model, readings, below.remedy, share)
                nodes[branches[outcome]] = Verdict(end, ())
        nodes[name] = replace(node, branches=branches)
    return Plan(plan.root, nodes, plan.proof)


def _end(model: Model, readings: Readings, remedy: str, share: Floats) -> str:
    """The remedy of least cost for what arrives. One that asks for answers of its own
    (`requires`) is not put in: whether they were given is the planner's to know."""
    best, least = remedy, _cost(model, readings, remedy, share)
    for other in model.remedies:
        cost = _cost(model, readings, other.id, share)
        if cost < least - _WORTH and not other.requires:
            best, least = other.id, cost
    return best


def _cost(model: Model, readings: Readings, remedy: str, share: Floats) -> float:
    whole = float(share.sum())
    cure = float(share @ readings.cures(remedy))
    return model.remedy(remedy).minutes * whole + model.wrong_verdict_minutes * (whole - cure)


def _share(model: Model, plan: Plan) -> tuple[str, dict[str, Node]]:
    """Nodes that mean the same made one, children before parents, under short names."""
    came = comings(model, plan)
    prior = Readings.of(model).prior
    names: dict[str, str] = {}
    name_of: dict[tuple[object, ...], str] = {}
    nodes: dict[str, Node] = {}
    for name in reversed(in_order(dict(plan.nodes), plan.root)):
        node = plan.nodes[name]
        members = tuple(np.flatnonzero(came[name] * prior > 0.0).tolist())
        key: tuple[object, ...]
        if isinstance(node, Ask):
            below = {outcome: names[to] for outcome, to in node.branches.items()}
            key = (node.test, _state(node.state), tuple(below.items()), members)
            node = replace(node, branches=below)
        elif isinstance(node, Verdict):
            key = (node.remedy, members)
        else:
            key = (node.says,)
        names[name] = name_of.setdefault(key, f"p{len(name_of) + 1}")
        nodes.setdefault(names[name], node)
    return names[plan.root], nodes


def _state(state: State) -> tuple[tuple[str, ...], str, str]:
    return tuple(sorted(state.opened)), state.supply, state.rig


def content(plan: Plan) -> str:
    """A digest of a plan's checks and ends: two plans that say the same have the same."""
    digests: dict[str, str] = {}
    for name in reversed(in_order(dict(plan.nodes), plan.root)):
        node = plan.nodes[name]
        text = node.remedy if isinstance(node, Verdict) else "recheck"
        if isinstance(node, Ask):
            below = [f"{outcome}:{digests[to]}" for outcome, to in sorted(node.branches.items())]
            text = f"{node.test} {_state(node.state)} {below}"
        digests[name] = hashlib.sha256(text.encode()).hexdigest()
    return digests[plan.root]
