"""Does the walk find every fault of the shipped topologies when it is told the truth?

For each hypothesis, on both mains and a bench that has everything, every test is answered by what
it shows most often under that fault. At most one hypothesis in twenty may end in another remedy
(what is not listed counts once, whatever light it leaves), and then the verdict must name it among
what else it could be.
"""

from __future__ import annotations

import json

import pytest

from engine import library
from engine.audit import audit_walk
from engine.model.records import Mains, Model, document
from engine.readings.bands import Answer
from engine.walk import job, prepared, record
from engine.walk.ending import Ending, conclude
from engine.walk.job import Outset, Walk
from tests.planned import Remembering

MAINS = {"230 V": Mains(230, 50), "120 V": Mains(120, 60)}


@pytest.fixture(params=[(t.id, m) for t in library.topologies() for m in MAINS], ids=" ".join)
def model(request: pytest.FixtureRequest) -> Model:
    """A shipped topology at one mains, to the part."""
    topology, mains = request.param
    return library.model(topology, mains=MAINS[mains], having=library.everything())


def told_the_truth(model: Model) -> dict[str, Walk]:
    """The finished walk of every fault."""
    begun = job.begin(Outset(model), Remembering(0.0, effort=5e7))
    walks = {}
    for fault in model.faults:
        answers = {}
        for test in model.tests:
            row = model.row(test.id, fault.id)
            answers[test.id] = Answer(test.id, ((max(row, key=lambda o: row[o]), 1.0),))
        walks[fault.id] = prepared.work_through(begun, answers)
    return walks


def names(ending: Ending, fault: str) -> bool:
    """Whether the verdict lists the fault."""
    return dict(ending.faults).get(fault, 0.0) > 0


def test_every_fault_ends_in_a_remedy_that_cures_it(model: Model) -> None:
    """Or, for one in twenty at most, in a verdict that names it; every walk audits clean."""
    plain = document(model)
    walks = told_the_truth(model)
    endings = {fault: conclude(walk) for fault, walk in walks.items()}
    missed = [fault for fault, e in endings.items() if fault not in e.remedy.cures]
    unlisted = {fault.id: fault.variant_of or fault.id for fault in model.faults if not fault.parts}
    kinds = {unlisted.get(fault, fault) for fault in missed}
    assert len(kinds) <= len(model.faults) / 20, missed
    assert all(names(endings[fault], fault) for fault in missed)
    for fault, walk in walks.items():
        breaches = audit_walk(plain, json.loads(json.dumps(record.document(walk))))
        assert breaches == (), fault
