"""Do charts keep the law of stored charge and of cautions on every path?

Every shipped topology at both mains and depths, with and without each complaint, and units made by
hand that hold charge in awkward ways; read by the witness, which knows neither planner nor chart.
"""

from __future__ import annotations

import pytest

from tests.safety.drawn_charts import by_chance, confirmed, drawn
from tests.safety.fuzz_walk import MAINS, Key, Unit, handmade, shipped, shipped_keys
from tests.safety.witness_chart import breaches
from tests.safety.witness_law import Document

KEYS = shipped_keys()
UNITS = sorted({key[:3] for key in KEYS})
COMPLAINTS = sorted({key[3] for key in KEYS if key[3] is not None})
ROUND = [(*UNITS[5 * i % len(UNITS)], complaint) for i, complaint in enumerate(COMPLAINTS)]
"""Each complaint with another unit, mains and depth."""


def keeps_the_law(unit: Unit, chart: Document) -> None:
    """Fails with the breaches of a chart in words."""
    found = [
        f"{unit.name}: {b.kind} at {b.place}: {b.says}" for b in breaches(unit.document, chart)
    ]
    if found:
        pytest.fail("\n".join(found), pytrace=False)


@pytest.mark.parametrize(
    ("topology", "mains", "depth"), UNITS, ids=[f"{t}-{MAINS[m].volts:g}-{d}" for t, m, d in UNITS]
)
def test_shipped_chart_keeps_the_law(topology: str, mains: int, depth: str) -> None:
    unit = shipped(topology, mains, depth, None)
    drawing = confirmed if depth == "stage" else drawn
    keeps_the_law(unit, drawing(unit.model, 0.5))


@pytest.mark.parametrize(
    "key", ROUND, ids=[f"{t}-{MAINS[m].volts:g}-{d}-{c}" for t, m, d, c in ROUND]
)
def test_chart_after_a_complaint_keeps_the_law(key: Key) -> None:
    """Each complaint once; `python -m tests.bench.safety_charts` goes through them all."""
    unit = shipped(*key)
    keeps_the_law(unit, drawn(unit.model, 5e7))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("topology", "mains", "depth"), UNITS, ids=[f"{t}-{MAINS[m].volts:g}-{d}" for t, m, d in UNITS]
)
def test_any_plan_of_a_shipped_unit_keeps_the_law(
    topology: str, mains: int, depth: str, seed: int
) -> None:
    """Best plans are tame; the chart must make any plan safe."""
    unit = shipped(topology, mains, depth, None)
    keeps_the_law(unit, by_chance(unit.model, seed))


@pytest.mark.parametrize("seed", range(60))
def test_chart_of_a_unit_made_by_hand_keeps_the_law(seed: int) -> None:
    unit = handmade(seed)
    keeps_the_law(unit, by_chance(unit.model, seed))
    if seed % 3 == 0:
        keeps_the_law(unit, confirmed(unit.model, 1e8))
