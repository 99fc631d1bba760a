"""How things are done at the bench, and what must lie ready: of all methods that the knowledge
tells, those that a model's tests and proofs come to, with the ids that they belong to.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from engine.deduce import offers
from engine.deduce.deduction import Deduction
from engine.model.notes import Method
from engine.model.records import Model
from kb.language.schema import MethodEntry


def furnish(model: Model, deduction: Deduction) -> Model:
    """The model with the methods of what its tests and proofs use, and the kit for them."""
    uses = _uses(model, deduction)
    methods: list[Method] = []
    kit: dict[str, None] = {}
    for entry in deduction.knowledge.methods.values():
        of = _of(entry, uses)
        if not of or (entry.charged and not model.stores):
            continue
        methods.append(Method(entry.method, entry.says, entry.steps, entry.source, of))
        kit.update(dict.fromkeys(entry.kit))
    return replace(model, methods=tuple(methods), kit=tuple(kit))


def _of(entry: MethodEntry, uses: dict[tuple[str, str], tuple[str, ...]]) -> tuple[str, ...]:
    keys = (
        *(("arrangement", name) for name in entry.arrangements),
        *(("rig", does) for does in entry.rigs),
        *(("proof", name) for name in entry.proofs),
        *(("action", name) for name in entry.actions),
    )
    return tuple(dict.fromkeys(name for use in keys for name in uses.get(use, ())))


def _uses(model: Model, deduction: Deduction) -> dict[tuple[str, str], tuple[str, ...]]:
    """What the unit's tests and proofs come to: the ids in the model, by kind of use and word."""
    does = {rig.name: rig.does for rig in deduction.all(offers.Rig)}
    action = {test.name: test.action for test in deduction.all(offers.Test)}
    supplies = (
        model.start.supply,
        *(test.supply for test in model.tests),
        *(proof.supply for proof in model.proofs),
    )
    ids: defaultdict[tuple[str, str], tuple[str, ...]] = defaultdict(tuple)
    for name in dict.fromkeys(supplies):
        ids["arrangement", name] = (name,)
    for rig in model.rigs:
        if rig.id in does:
            ids["rig", does[rig.id]] += (rig.id,)
    for proof in model.proofs:
        ids["proof", proof.id] = (proof.id,)
    for test in model.tests:
        ids["action", action[test.id]] += (test.id,)
    return dict(ids)
