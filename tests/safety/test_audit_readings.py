"""Does the audit come to the factors of a walk's readings by itself, from the file alone?"""

from __future__ import annotations

import copy
import json
import math
import random
from typing import Any

import pytest

from engine import library
from engine.audit import audit_walk, densities
from engine.audit.bench import Bench
from engine.audit.weighing import Weighing
from engine.circuit import dictionary
from engine.evidence import Joint, Witness, witness
from engine.evidence.make import Make, NothingKnown, apply_markings, like
from engine.model.records import Model, Test, document
from engine.planner import plan
from engine.readings import bands
from engine.walk import job, record
from engine.walk.events import Known
from engine.walk.job import Outset
from kb.language import circuit
from kb.quantities import show
from tests.circuit.shipped_units import MAINS
from tests.sampled_rail import rail_model, rail_readings

LAMPS = [(lamp, mains) for lamp in circuit.circuits() for mains in MAINS]


def plain(topology: str, volts: float) -> dict[str, Any]:
    """The committed readings file as it lies there."""
    file = dictionary.FOLDER / f"{topology}-{volts:g}.json"
    read: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return read


def argued(topology: str) -> list[dict[str, str]]:
    """What the circuit's data says it can't speak for."""
    beyond = circuit.circuit(topology).beyond
    return [{"faults": b.faults, "tests": b.tests} for b in beyond if not b.heeded]


def compared(heard: Witness, weighing: Weighing, test: Test, text: str) -> None:
    """Both come to the same factors."""
    answer = bands.read(text, test, heard.model.arrangement(test.supply))
    told = Joint(heard).weigh(answer)
    step = {
        "test": test.id, "answer": answer.outcome, "reading": answer.reading or None,
        "shares": dict(answer.shares),
    }  # fmt: skip
    found = weighing.factors(step)
    assert (told is None) == (found is None), (test.id, text)
    for fault, factor in (told.factors if told else {}).items():
        assert found is not None
        assert math.isclose(found[fault], factor, rel_tol=1e-6, abs_tol=1e-9), (test.id, text)


def texts(test: Test, chance: random.Random) -> list[str]:
    """Readings of every kind that a test can have: near its cuts, far off, a range, over range."""
    known = bands.bands(test)
    if not known:
        return [outcome.id for outcome in test.outcomes]
    unit = next(o.unit for o in test.outcomes if o.unit)
    one = next(o.high for o in test.outcomes if o.high)
    found = [show(one * chance.uniform(0.2, 2.5), unit, 4) for _ in range(3)]
    least, most = show(one * 0.8, unit, 4), show(one * 1.3, unit, 4)
    found += [show(one * 1.01, unit, 5), f"{least} to {most}"]
    return found + (["OL"] if unit == "Ω" else [])


@pytest.mark.parametrize(("topology", "mains"), LAMPS)
def test_factors_are_found_again(topology: str, mains: Any) -> None:
    """Numbers, ranges, over range, words: at both mains of both lamps, of tests drawn."""
    model = library.model(topology, mains=mains)
    heard = witness(model, dictionary.read(topology, mains))
    weighing = Weighing(
        Bench.of(document(model)), plain(topology, mains.volts), {}, argued(topology)
    )
    chance = random.Random(topology)
    measured = [test for test in model.tests if bands.bands(test)]
    watched = [test for test in model.tests if not bands.bands(test)]
    for test in (*chance.sample(measured, 10), *chance.sample(watched, 4)):
        for text in texts(test, chance):
            compared(heard, weighing, test, text)


def known_unit(model: Model) -> tuple[Make, dict[str, Any]]:
    """A lamp with a resistor read off it, and a good one of its make: for us and for the audit."""
    made = dictionary.read(model.topology, model.mains)
    make = apply_markings(NothingKnown, made, {"R9": 1.8})
    good = {"volts-TP1": 205.0, "volts-TP5": 83.0}
    return like(make, made, "no-fault", good), {"markings": {"R9": 1.8}, "good": good}


def test_what_is_known_of_the_unit_is_weighed_in() -> None:
    """Markings leave designs out, a good unit's readings move what is due."""
    model = library.model("light-controlled-lamp", mains=MAINS[0])
    make, known = known_unit(model)
    heard = witness(model, dictionary.read(model.topology, model.mains), make)
    weighing = Weighing(
        Bench.of(document(model)), plain(model.topology, 230.0), known, argued(model.topology)
    )
    for name in ("volts-TP1", "volts-TP2", "volts-TP5", "ohms-R9", "known-good-socket"):
        for text in texts(model.test(name), random.Random(name)):
            compared(heard, weighing, model.test(name), text)


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], dict[str, Any]]:
    """A walk on the invented rail, and the readings document it was weighed by."""
    folder, model = tmp_path_factory.mktemp("readings"), rail_model()
    file = dictionary.write(rail_readings(), folder)
    made = dictionary.read(model.topology, model.mains, folder)
    begun = job.begin(Outset(model, witness=witness(model, made)), plan)
    ended = job.take(
        job.take(begun, Known("rail", "low", "3.7 V")), Known("feed", "above", "1.2 MΩ")
    )
    walk = json.loads(json.dumps(record.document(ended)))
    return walk, json.loads(file.read_text(encoding="utf-8"))


def codes(walk: dict[str, Any], listed: dict[str, Any]) -> set[str]:
    """Breaches of a walk on the rail, its readings at hand."""
    return {breach.code for breach in audit_walk(document(rail_model()), walk, listed)}


def test_a_walk_weighed_by_its_readings_is_clean(told: Any) -> None:
    """Nothing differs."""
    assert codes(*told) == set()


def test_factors_that_the_readings_do_not_give_are_seen(told: Any) -> None:
    """Even where beliefs were made to follow from them."""
    walk, listed = copy.deepcopy(told)
    walk["steps"][0]["factors"]["load-heavy"] *= 1.01
    assert "AU407" in codes(walk, listed)


def test_a_number_that_was_changed_is_seen(told: Any) -> None:
    """Another reading has other factors."""
    walk, listed = copy.deepcopy(told)
    walk["steps"][0]["reading"] = "3.6 V"
    assert codes(walk, listed) == {"AU407"}


def test_factors_that_were_left_out_are_seen(told: Any) -> None:
    """The readings speak of this answer."""
    walk, listed = copy.deepcopy(told)
    del walk["steps"][0]["factors"]
    assert "AU407" in codes(walk, listed)


def test_other_readings_are_not_taken_for_these(told: Any) -> None:
    """The walk tells the key of those it was weighed by."""
    walk, listed = copy.deepcopy(told)
    listed["key"] = {"circuit": "another"}
    assert codes(walk, listed) == {"AU407"}


def test_both_makers_agree_on_the_most_that_a_meter_can_show() -> None:
    most = {unit: high for unit, (_, high) in bands._POSSIBLE.items()}
    assert {unit: most[unit] for unit in densities._MOST} == densities._MOST
