"""Limits of the law of safety hold just where they stand.

Figures carry their source here as they do in the code.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from engine.audit.bench import Bench
from engine.audit.safety import supply_breaches, touch_breaches
from engine.model import makesafe
from engine.model.plan import State
from engine.model.records import Arrangement, Store, document
from kb.language import loader
from tests.walk.test_walk_ends import lantern

ROOT = Path(__file__).parents[2]
TOUCHABLE_DC = 30.0
"""IEC 60598-1 cl. 8.2.3: bare live parts, the stricter of its two limits; the other is 60 V DC."""


def test_whatever_says_below_which_volts_a_store_is_touched_says_the_standards():
    """30 V DC: in every caution, step, sum and supply of the shipped knowledge."""
    texts = [path.read_text(encoding="utf-8") for path in (ROOT / "kb").rglob("*.yaml")]
    said = re.findall(r"(?:below\s+|limit=)([0-9.]+)\s+V\b", "\n".join(texts))
    assert len(said) >= 12
    assert {float(volts) for volts in said} == {TOUCHABLE_DC}
    assert loader.as_shipped().numbers["touch-volts"].value == TOUCHABLE_DC


def spoilt_bench(**changes):
    """The lantern's bench as the audit has it, its extra-low supply changed."""
    plain = document(lantern())
    plain["stores"] = [{"part": "C1", "point": "C1", "below": 30.0, "max_volts": 358.0}]
    supply = {
        "id": "string", "energy": "elv", "max_volts": 12.0, "hands_on": True, "closed_only": False,
    }  # fmt: skip
    plain["supply"]["arrangements"].append(supply | changes)
    return Bench.of(plain)


@pytest.mark.parametrize(
    ("changes", "breached"),
    [
        ({}, False),
        ({"max_volts": 60.0}, False),
        ({"max_volts": 60.5}, True),
        ({"energy": "hvdc", "max_volts": 200.0}, True),
        ({"energy": "hvdc", "max_volts": 200.0, "hands_on": False}, False),
        ({"energy": "mains", "max_volts": 325.0}, True),
    ],
)
def test_the_audit_lets_hands_touch_what_is_low_alone(changes, breached):
    """To 60 V DC in ordinary conditions (IEC 60598-1 cl. 8.2.3); never mains, never hvdc."""
    codes = [breach.code for breach in supply_breaches(spoilt_bench(**changes))]
    assert codes == (["AU302"] if breached else [])


@pytest.mark.parametrize(
    ("energy", "breached"), [("none", False), ("elv", False), ("hvdc", True), ("mains", True)]
)
def test_the_audit_bars_hands_from_mains_and_hvdc_whatever_the_document_says(energy, breached):
    """A document that calls such a supply touchable is not believed at the step either."""
    bench = spoilt_bench(energy=energy)
    step = {"id": "probe", "hands_on": True}
    assert bool([*touch_breaches(bench, "n1", step, "string")]) == breached
    assert not [*touch_breaches(bench, "n1", step | {"hands_on": False}, "string")]


@pytest.mark.parametrize(("below", "breached"), [(30.0, False), (30.5, True), (0.0, True)])
def test_the_audit_bounds_what_may_be_left_on_a_store(below, breached):
    """30 V DC."""
    bench = spoilt_bench()
    bench.document["stores"][0]["below"] = below
    assert bool([*supply_breaches(bench)]) == breached


@pytest.mark.parametrize(
    ("energy", "low"), [("elv", True), ("hvdc", False), ("mains", False)]
)
def test_a_store_that_was_measured_is_due_again_where_it_may_have_filled(energy, low):
    """After mains and hvdc; on a bench source of extra-low voltage what is known stands."""
    model = lantern()
    string = Arrangement("string", energy, 60.0, hands_on=False, closed_only=False)
    supply = replace(model.supply, arrangements=(*model.supply.arrangements, string))
    model = replace(model, supply=supply, stores=(Store("C1", 358.0, "C1", 30.0, exposed_by=()),))
    before, after = State((), "string", "none"), State((), model.dead_supply, "none")
    due = makesafe.stores_due(model, makesafe.known_at(model, before), after)
    assert [store.part for store in due] == ([] if low else ["C1"])
