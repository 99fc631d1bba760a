"""Do charts keep the law of stored charge and of cautions on every path?

Every shipped topology at both mains and depths, with and without each complaint, and units made by
hand that hold charge in awkward ways; read by the witness, which knows neither planner nor chart.
"""

from __future__ import annotations

import json

import pytest

from engine.chart import document as chart_document
from engine.chart import draw_up
from engine.model import Model
from engine.planner import plan
from engine.trials import confirm_keys, confirms
from tests.safety.fuzz_walk import MAINS, Unit, handmade, shipped, shipped_keys
from tests.safety.random_planner import RandomPlanner
from tests.safety.witness_chart import breaches

KEYS = shipped_keys()
UNITS = sorted({key[:3] for key in KEYS})
COMPLAINTS = sorted({key[3] for key in KEYS if key[3] is not None})


def drawn(model: Model, seconds: float) -> dict[str, object]:
    """The chart document of the best plan found in that time, with its confirm steps."""
    made = plan(model, seconds=seconds)
    chart = chart_document(draw_up(model, made))
    chart |= confirm_keys(model, made, confirms(model, made), chart)
    read: dict[str, object] = json.loads(json.dumps(chart))
    return read


def by_chance(unit: Unit, seed: int) -> dict[str, object]:
    """The chart document of a plan made by chance."""
    planner = RandomPlanner(seed, 6)
    nothing: frozenset[str] = frozenset()
    made = planner(unit.model, belief=None, state=None, withdrawn=nothing, tests_done=nothing)
    read: dict[str, object] = json.loads(json.dumps(chart_document(draw_up(unit.model, made))))
    return read


def seen(unit: Unit, chart: dict[str, object]) -> str:
    """The breaches of a chart, in words; empty where there are none."""
    return "\n".join(
        f"{unit.name}: {b.kind} at {b.place}: {b.says}" for b in breaches(unit.document, chart)
    )


@pytest.mark.parametrize(
    ("topology", "mains", "depth"), UNITS, ids=[f"{t}-{MAINS[m].volts:g}-{d}" for t, m, d in UNITS]
)
def test_shipped_chart_keeps_the_law(topology: str, mains: int, depth: str) -> None:
    unit = shipped(topology, mains, depth, None)
    assert seen(unit, drawn(unit.model, 0.5)) == ""


@pytest.mark.parametrize("complaint", COMPLAINTS)
@pytest.mark.parametrize(
    ("topology", "mains", "depth"), UNITS, ids=[f"{t}-{MAINS[m].volts:g}-{d}" for t, m, d in UNITS]
)
def test_chart_after_a_complaint_keeps_the_law(
    topology: str, mains: int, depth: str, complaint: str
) -> None:
    unit = shipped(topology, mains, depth, complaint)
    chart = chart_document(draw_up(unit.model, plan(unit.model, seconds=0.2)))
    assert seen(unit, json.loads(json.dumps(chart))) == ""


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("topology", "mains", "depth"), UNITS, ids=[f"{t}-{MAINS[m].volts:g}-{d}" for t, m, d in UNITS]
)
def test_any_plan_of_a_shipped_unit_keeps_the_law(
    topology: str, mains: int, depth: str, seed: int
) -> None:
    """Best plans are tame; the chart must make any plan safe."""
    unit = shipped(topology, mains, depth, None)
    assert seen(unit, by_chance(unit, seed)) == ""


@pytest.mark.parametrize("seed", range(60))
def test_chart_of_a_unit_made_by_hand_keeps_the_law(seed: int) -> None:
    unit = handmade(seed)
    assert seen(unit, by_chance(unit, seed)) == ""
    if seed % 3 == 0:
        assert seen(unit, drawn(unit.model, 0.3)) == ""
