"""Do the charts of planned models pass the checker that knows nothing of the planner?

Over random models with set-ups, split outcomes, stores and cautions: costs recomputed from the two
documents to 1e-6, every fault in a verdict that lists it, the safety invariants on every path.
"""

from __future__ import annotations

import json
import random
from dataclasses import replace
from pathlib import Path

import pytest
from models import dense_random, stage_chain

from engine.audit import audit
from engine.chart import document as chart_document
from engine.chart import draw_up
from engine.model import Caution, Model, Opening, Proof, Rig, Store
from engine.model import document as model_document
from engine.modelfile import read_model
from engine.planner import plan

LANTERN = Path(__file__).parent / "gate-lantern.model.json"


def furnished(model: Model, rng: random.Random) -> Model:
    """A random model with proofs, stores, hazards and cautions, as a shop's model has them."""
    shock = Caution("shock", "mains-shock", "WARNING", "One hand, insulated probes")
    sharp = Caution("sharp", "sharp-edge", "CAUTION", "Mind the edge")
    soak = Proof("soak", "Closed up at full power", "socket", "steady", "common practice")
    return replace(
        model,
        cautions=(shock, sharp),
        proofs=(soak,),
        stores=(Store("C1", 325.0, "C1 leads", 30.0), Store("C2", 10.0, "C2 leads", 30.0)),
        remedies=tuple(replace(remedy, proofs=("soak",)) for remedy in model.remedies),
        tests=tuple(
            replace(test, hazards=("mains-shock",), cautions=("shock",))
            if test.supply in ("limited", "socket")
            else test
            for test in model.tests
        ),
        openings=tuple(_warned_opening(opening, rng) for opening in model.openings),
        rigs=tuple(_warned_rig(rig, rng) for rig in model.rigs),
    )


def _warned_opening(opening: Opening, rng: random.Random) -> Opening:
    return replace(opening, cautions=("sharp",)) if rng.random() < 0.5 else opening


def _warned_rig(rig: Rig, rng: random.Random) -> Rig:
    return replace(rig, cautions=("sharp",)) if rng.random() < 0.5 else rig


def random_model(seed: int) -> Model:
    rng = random.Random(seed)
    family = stage_chain if seed % 2 else dense_random
    model = family(
        seed,
        faults=rng.randint(2, 20),
        tests=rng.randint(1, 24),
        set_ups=rng.choice([0.0, 0.7, 1.0]),
        splits=rng.choice([0.0, 0.1, 0.4]),
        wrong_verdict_minutes=rng.choice([5.0, 60.0, 400.0]),
    )
    return furnished(model, rng)


@pytest.mark.parametrize("seed", range(40))
def test_chart_of_a_random_model_has_no_breach(seed: int) -> None:
    model = random_model(seed)
    chart = chart_document(draw_up(model, plan(model, seconds=5)))
    assert audit(model_document(model), json.loads(json.dumps(chart))) == ()


def test_chart_of_the_lantern_is_the_one_written_by_hand() -> None:
    """The planner comes to the cost of the hand-written chart of `test_audit_chart.py`."""
    model = read_model(LANTERN.read_text(), "lantern")
    chart = chart_document(draw_up(model, plan(model)))
    assert audit(json.loads(LANTERN.read_text()), chart) == ()
    assert chart["expected_cost"] == pytest.approx(30.775, abs=1e-9)
