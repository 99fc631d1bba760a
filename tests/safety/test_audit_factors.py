"""Does the audit follow a walk in which readings were weighed by the circuit?"""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from engine.audit import audit_walk
from engine.evidence import witness
from engine.model.records import document
from engine.planner import plan
from engine.walk import job, record
from engine.walk.events import Known
from engine.walk.job import Outset
from tests.sampled_rail import rail_model, rail_readings


@pytest.fixture(scope="module")
def walk() -> dict[str, Any]:
    """The rail read at 3.7 V and its feed at 1.2 MΩ, to the verdict."""
    model = rail_model()
    begun = job.begin(Outset(model, witness=witness(model, rail_readings())), plan)
    told = job.take(begun, Known("rail", "low", "3.7 V"))
    ended = job.take(told, Known("feed", "above", "1.2 MΩ"))
    assert ended.is_ended
    plain: dict[str, Any] = json.loads(json.dumps(record.document(ended)))
    return plain


def codes(walk: dict[str, Any]) -> set[str]:
    """The codes of the breaches of a walk on the rail."""
    return {breach.code for breach in audit_walk(document(rail_model()), walk)}


def test_a_walk_with_readings_is_clean(walk: dict[str, Any]) -> None:
    """Beliefs follow from prior and factors; the number told the weak feed from the loads."""
    assert codes(walk) == set()
    assert walk["steps"][0]["factors"]["feed-weak"] > walk["steps"][0]["factors"]["load-heavy"]
    assert walk["verdict"]["remedy"] == "mend-feed-weak"


def test_a_changed_factor_is_seen_in_the_belief(walk: dict[str, Any]) -> None:
    """The audit multiplies, too."""
    changed = copy.deepcopy(walk)
    changed["steps"][0]["factors"]["load-heavy"] *= 0.1
    assert codes(changed) == {"AU405"}


@pytest.mark.parametrize("factor", [-0.1, 0.0])
def test_a_factor_that_rules_a_fault_out_is_a_breach(walk: dict[str, Any], factor: float) -> None:
    """A number on a meter never does."""
    changed = copy.deepcopy(walk)
    changed["steps"][0]["factors"]["load-short"] = factor
    assert "AU406" in codes(changed)


def test_factors_speak_of_every_fault(walk: dict[str, Any]) -> None:
    """None may be left out."""
    changed = copy.deepcopy(walk)
    del changed["steps"][0]["factors"]["feed-open"]
    assert "AU406" in codes(changed)


def test_a_saved_walk_goes_on_with_the_same_belief(walk: dict[str, Any]) -> None:
    """Readings are kept as typed and weighed again."""
    model = rail_model()
    saved = record.reopen(walk, "walk.json")
    outset = Outset(model, witness=witness(model, rail_readings()))
    again = record.document(job.replay(outset, saved.events, plan))
    assert json.loads(json.dumps(again))["steps"] == walk["steps"]
