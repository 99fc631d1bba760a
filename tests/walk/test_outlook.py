"""What tests are expected to show once designs are known: plans go by it where it matters."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine import safetygate
from engine.audit.bench import Bench
from engine.chart.traversal import in_order
from engine.circuit.dictionary import Sibling
from engine.evidence import witness
from engine.model.plan import Ask, Plan, Verdict
from engine.model.records import document
from engine.planner import plan
from engine.planner.likelihoods import answer_odds
from engine.walk import job
from engine.walk.events import Answered, Fitted, Known, NotFitted
from engine.walk.job import Outset, Walk
from engine.walk.outlook import OTHERWISE, expected_model
from tests.sampled_rail import FEED, RAIL, rail_model, rail_readings

LOW_MAKE = {"no-fault": 3.1, "feed-weak": 3.0, "load-heavy": 2.2, "load-short": 0.1,
            "feed-open": 0.0}  # fmt: skip
"""A make whose sound rail stands at what is low elsewhere; it has no R2."""


@pytest.fixture(scope="module")
def begun() -> Walk:
    """Eight units as the rules have it, eight of the low make."""
    model, made = rail_model(), rail_readings()
    units = (
        *(Sibling({"R2": 470e3}, weight=1 / 16) for _ in range(8)),
        *(Sibling({}, absent=frozenset({"R2"}), weight=1 / 16) for _ in range(8)),
    )
    cells = {
        test: {
            fault: replace(
                cell,
                samples=(
                    *((None, cell.value) for _ in range(8)),
                    *((None, LOW_MAKE[fault] if test == "rail" else cell.value) for _ in range(8)),
                ),
            )
            for fault, cell in row.items()
        }
        for test, row in made.cells.items()
    }
    heard = witness(model, replace(made, units=units, cells=cells))
    return job.begin(Outset(model, witness=heard), plan)


def test_before_anything_is_known_plans_go_by_the_rules(begun: Walk) -> None:
    assert expected_model(begun) is begun.model
    assert begun.outlook is begun.model


def test_a_cell_that_the_designs_left_stand_against_is_planned_by_them(begun: Walk) -> None:
    """Of the low make a sound rail reads low; all other cells stay the rules' very rows."""
    low = job.take(begun, NotFitted("R2")).outlook
    assert low.row("rail", "no-fault") == {"low": 1.0}
    assert begun.model.row("rail", "no-fault") == {"as-due": 1.0}
    assert low.likelihood["feed"] is begun.model.likelihood["feed"]
    for fault in ("feed-weak", "load-short", "feed-open"):
        assert low.row("rail", fault) is begun.model.row("rail", fault)
    usual = job.take(begun, Fitted("R2"))
    assert usual.outlook is begun.model


def test_what_stands_against_a_row_is_half_of_all_designs_odds(begun: Walk) -> None:
    """By the joint table itself: fault and designs enumerated."""
    walk = job.take(begun, NotFitted("R2"))
    odds = walk.joint.table(RAIL).odds
    designs = walk.joint.designs({})
    names = [outcome.id for outcome in RAIL.outcomes]
    for at, fault in enumerate(walk.model.faults):
        shown = sum(designs[at, n] * odds[at, n] for n in range(odds.shape[1]))
        rules = np.array([walk.model.row("rail", fault.id).get(name, 0.0) for name in names])
        apart = np.abs(shown - rules).sum() / 2
        is_same = walk.outlook.row("rail", fault.id) is walk.model.row("rail", fault.id)
        assert is_same == (apart <= OTHERWISE)


def test_a_plan_has_a_branch_for_what_these_designs_alone_show(begun: Walk) -> None:
    """After the feed was read right, a low rail leaves a sound unit in question, as planned."""
    low = job.take(job.take(begun, NotFitted("R2")), Known("feed", "at-or-below", "465 kΩ"))
    while isinstance(step := job.pending(low), job.Setting):
        low = job.take(low, step.event)
    assert isinstance(step, job.Question)
    assert step.test == "rail"
    ask = low.plan.nodes[low.node]
    assert isinstance(ask, Ask)
    came = stops(low.plan, ask.branches["low"])
    assert "no-fault" in {fault for stop in came for fault, _ in stop.weights}
    after = job.take(low, Answered("rail", "low", "3.1 V"))
    assert after.belief["no-fault"] > 0.3
    assert begun.model.row("rail", "no-fault").get("low", 0.0) == 0.0


def stops(made: Plan, node: str) -> list[Verdict]:
    """The verdicts that a node leads to."""
    found = [made.nodes[name] for name in in_order(made, node)]
    return [one for one in found if isinstance(one, Verdict)]


def test_tables_of_rows_that_stayed_are_not_made_anew(begun: Walk) -> None:
    """And those that changed are."""
    faults = [fault.id for fault in begun.model.faults]
    low = job.take(begun, NotFitted("R2")).outlook
    assert (answer_odds(low, FEED, faults) == answer_odds(begun.model, FEED, faults)).all()
    assert (answer_odds(low, RAIL, faults) != answer_odds(begun.model, RAIL, faults)).any()


def test_the_gate_knows_models_that_differ_in_rows_alone(begun: Walk) -> None:
    """They share bench and standing; anything else is another model."""
    low, model = job.take(begun, NotFitted("R2")).outlook, begun.model
    assert safetygate._same_but_rows(model, low)
    assert not safetygate._same_but_rows(model, replace(low, tests=low.tests[:1]))
    bench = Bench.of(document(model)).with_rows({"rail": low.likelihood["rail"]})
    anew = Bench.of(document(low))
    for test, odds in anew.odds.items():
        for outcome, row in odds.items():
            assert (bench.odds[test][outcome] == row).all()
