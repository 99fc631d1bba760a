"""Does a verdict that is no end by itself say what going on takes, and whether that pays?

Reckoned by hand beside each; the part model has two parts in one stage.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from engine import library
from engine.audit import audit
from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.model.plan import State
from engine.model.records import FaultyPart, Mains, Model, Remedy, document
from engine.planner import plan
from engine.walk import goingon, job
from engine.walk.goingon import GO_ON, STOP, GoingOn, Stage
from engine.walk.job import Outset
from kb.language import benchfile
from render.wording import onward
from tests.models import simple_test, tiny_model

HERE = State(frozenset(), "dead", "none")
ODDS = {"C1-short": 0.75, "R2-open": 0.25}


def part_model(minutes: float = 4.0) -> Model:
    """Two parts that one test tells apart; each takes ten minutes to renew, the unit is worth
    50."""
    made = tiny_model(
        ODDS,
        [simple_test("ohms-C1", minutes, ("short", "sound"))],
        {"ohms-C1": {"C1-short": "short", "R2-open": "sound"}},
        remedies=[
            Remedy("renew-C1", "Renew C1", "repair", 10.0, ("C1-short",)),
            Remedy("renew-R2", "Renew R2", "repair", 10.0, ("R2-open",)),
            Remedy("scrap", "Scrap the unit", "scrap", 50.0, tuple(ODDS)),
        ],
        wrong_verdict_minutes=75.0,
    )
    parts = {"C1-short": FaultyPart("C1", "short"), "R2-open": FaultyPart("R2", "open")}
    return replace(
        made, depth="part", faults=tuple(replace(f, parts=(parts[f.id],)) for f in made.faults)
    )


def stage_model() -> Model:
    """The same unit, to the stage: one remedy for both."""
    rework = Remedy("rework-driver", "The fault lies in the driver", "repair", 30.0, tuple(ODDS))
    scrap = part_model().remedy("scrap")
    return replace(part_model(), depth="stage", tests=(), likelihood={}, remedies=(rework, scrap))


def onwards(minutes: float = 4.0, worth: float = 50.0) -> GoingOn:
    """Going on from a verdict with those odds, its test taking those minutes."""
    found = Stage(part_model(minutes), plan, worth).going_on(ODDS, HERE)
    assert found is not None
    return found


def test_going_on_is_the_plan_to_the_part() -> None:
    """Four minutes to tell them apart, ten to renew either, always mended: 14 of 50."""
    found = onwards()
    assert (found.minutes, found.repair_minutes, found.saved) == pytest.approx((4.0, 10.0, 1.0))
    assert found.advice == GO_ON
    assert found.parts == (("C1", 0.75), ("R2", 0.25))


def test_stopping_is_told_with_what_going_on_would_take() -> None:
    """A unit worth 12 is not worth 14: the plan would scrap it, the sum says why."""
    found = onwards(worth=12.0)
    assert (found.minutes, found.repair_minutes) == pytest.approx((4.0, 10.0))
    assert found.advice == STOP


def test_what_nobody_listed_is_not_gone_on_from() -> None:
    unlisted = replace(part_model(), faults=tuple(
        replace(fault, parts=()) for fault in part_model().faults
    ))  # fmt: skip
    assert Stage(unlisted, plan, 50.0).going_on(ODDS, HERE) is None


def test_a_test_done_before_is_not_done_again_for_it() -> None:
    """Without it the likelier part is renewed at once, right three times of four."""
    found = Stage(part_model(), plan, 200.0).going_on(ODDS, HERE, frozenset({"ohms-C1"}))
    assert found is not None
    assert (found.minutes, found.saved) == pytest.approx((0.0, 0.75))


def test_a_units_worth_is_the_shops_where_it_says_so() -> None:
    """12 at 0.3 a minute are 40 minutes; without a minute's worth the topology's 50 stand."""
    told = {"worth": {"minute": 0.3, "units": {"invented": 12}, "currency": "EUR"}}
    file = benchfile.load_plain(told, Path("bench.yaml"))
    assert goingon.worth(part_model(), file) == pytest.approx(40.0)
    bare = benchfile.load_plain({"worth": {"units": {"invented": 12}}}, Path("bench.yaml"))
    assert goingon.worth(part_model(), bare) == 50.0
    assert goingon.worth(part_model(), None) == 50.0


def test_a_stage_chart_tells_it_at_its_verdict_and_the_audit_agrees() -> None:
    model = stage_model()
    drawn = chart_document(draw_up(model, plan(model)))
    told = goingon.with_going_on(model, drawn, Stage(part_model(), plan, 50.0))
    (verdict,) = (node for node in told["nodes"].values() if node["kind"] == "verdict")
    assert verdict["going_on"]["advice"] == GO_ON
    assert verdict["going_on"]["minutes"] == pytest.approx(4.0)
    assert "AU212" not in {breach.code for breach in audit(document(model), told)}


def test_a_plan_to_the_part_says_nothing_where_it_mends() -> None:
    model = part_model()
    drawn = chart_document(draw_up(model, plan(model)))
    told = goingon.with_going_on(model, drawn, Stage(model, plan, 50.0))
    assert not any("going_on" in node for node in told["nodes"].values())


def test_a_plan_to_the_part_says_why_it_gives_up() -> None:
    """Thirty minutes to tell them apart and ten to renew are more than a unit worth 12."""
    model = part_model(30.0)
    scrap = replace(model.remedy("scrap"), minutes=9.0)
    model = replace(model, remedies=(*model.remedies[:2], scrap))
    drawn = chart_document(draw_up(model, plan(model)))
    told = goingon.with_going_on(model, drawn, Stage(model, plan, 9.0))
    (verdict,) = (node for node in told["nodes"].values() if node["kind"] == "verdict")
    assert verdict["going_on"]["advice"] == STOP
    assert "AU212" not in {breach.code for breach in audit(document(model), told)}


def test_a_walk_tells_it_at_its_verdict() -> None:
    walk = job.begin(Outset(stage_model()), plan)
    found = goingon.of_walk(Stage(part_model(), plan, 50.0), walk)
    assert found is not None
    assert found.advice == GO_ON


def test_going_on_is_told_with_both_sides_of_the_sum() -> None:
    plain = onwards().plain
    assert onward.advice(plain) == (
        "go on: 4 min to find it, 10 min to mend it; the unit is worth 50"
    )
    assert onward.likeliest(plain) == "C1 75 %, R2 25 %"


def test_what_mends_only_some_says_how_many() -> None:
    told = {**onwards().plain, "minutes": 0.2, "saved": 0.72}
    assert onward.advice(told) == (
        "go on: nothing more to find, 10 min to mend it (mended in 72 of 100); the unit is worth 50"
    )


def test_where_nobody_told_a_worth_nothing_is_advised() -> None:
    """The topology's own figure says when a plan gives up, and is no price of anybody's unit."""
    model = stage_model()
    drawn = chart_document(draw_up(model, plan(model)))
    bare = Stage(part_model(), plan, 50.0, advises=False)
    told = goingon.with_going_on(model, drawn, bare)
    (verdict,) = (node for node in told["nodes"].values() if node["kind"] == "verdict")
    assert not {"advice", "worth"} & verdict["going_on"].keys()
    assert onward.advice(verdict["going_on"]) == "4 min to find it, 10 min to mend it"
    assert "AU212" not in {breach.code for breach in audit(document(model), told)}


def test_advice_without_a_worth_is_rejected() -> None:
    model = stage_model()
    drawn = chart_document(draw_up(model, plan(model)))
    told = goingon.with_going_on(model, drawn, Stage(part_model(), plan, 50.0))
    (verdict,) = (node for node in told["nodes"].values() if node["kind"] == "verdict")
    del verdict["going_on"]["worth"]
    assert "AU212" in {breach.code for breach in audit(document(model), told)}


@pytest.mark.parametrize("topology", ["buck-lamp", "light-controlled-lamp", "enabled-lamp"])
def test_every_shipped_stage_verdict_says_where_the_fault_lies(topology: str) -> None:
    """Each repair of a stage names it, and says what going on takes."""
    mains = Mains(230.0, 50.0)
    model = library.model(topology, mains=mains, depth="stage")
    part = library.model(topology, mains=mains, depth="part")
    worth = goingon.worth(part, None)
    assert worth is not None
    drawn = chart_document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))
    planner = partial(plan, seconds=0.0, effort=4e8)
    told = goingon.with_going_on(model, drawn, Stage(part, planner, worth))
    for node in told["nodes"].values():
        if node["kind"] == "verdict" and node["remedy"].startswith("rework-"):
            assert model.remedy(node["remedy"]).says.startswith("The fault lies in the ")
            assert {"minutes", "advice", "parts"} <= node["going_on"].keys()
    assert audit(document(model), told) == ()
