"""Are "why this?" and "how do you know?" true, and told whole?"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.model.records import Because, Fault, Model
from engine.planner import plan
from engine.walk import explain, job
from engine.walk.events import Answered, Known
from engine.walk.job import Outset, Question, Setting, Walk, pending
from render.terminal import words
from tests.models import stage_chain
from tests.walk.test_walk_ends import answered, lantern

LIGHTS = Because(
    "bridged-switch-lights",
    ("switch is in series with driver",),
    "Light with the switch element bridged clears driver and LEDs.",
    "common practice",
)
PACKAGES = Because(
    "nine-volts-light-a-package", (), "Nine volts light two dies.", "common practice"
)


def reasoned() -> Model:
    """The lantern with rules behind two of its tests, one of them behind both."""
    reasons = {"bridge-switch": (LIGHTS, PACKAGES), "probe-leds": (PACKAGES,)}
    unit = lantern()
    return replace(unit, tests=tuple(replace(t, because=reasons.get(t.id, ())) for t in unit.tests))


def walked(outcomes: list[str]) -> Walk:
    """A walk of the reasoned lantern answered with these outcomes."""
    walk = job.begin(Outset(reasoned()), plan)
    for outcome in outcomes:
        walk = answered(walk, outcome)
    return walk


def test_how_is_told_whole() -> None:
    """The account of two answers, word for word."""
    walk = walked(["dead", "all-lit"])
    assert list(words.account(walk.model, explain.how(walk))) == [
        ("step 2", "Try another socket: It stays dark"),
        ("cleared", "the socket contact is bent (it can't show this)"),
        ("step 5", "Light each package from nine volts: All light"),
        ("cleared", "all in “leds” (45.6 times less likely)"),
        (
            "because",
            "Nine volts light two dies (common practice) [nine-volts-light-a-package]",
        ),
        (
            "leaves",
            "the switch element never conducts (52 %); the driver does not start (43 %); "
            "something not listed (4 %); a package of the string is open (1 %)",
        ),
    ]


def test_why_is_told_whole() -> None:
    """The purpose of the third question, word for word."""
    walk = walked(["dead", "all-lit"])
    purpose = explain.why(walk, [explain.RunnerUp("rail-volts", 4.2)])
    assert purpose is not None
    assert list(words.purpose(walk.model, purpose)) == [
        ("tells", "It lights: 52 % likely."),
        ("  leaves", "the switch element never conducts (100 %)"),
        (
            "  clears",
            "the driver does not start; something not listed; a package of the string is open",
        ),
        ("tells", "It stays dark: 48 % likely."),
        (
            "  leaves",
            "the driver does not start (89 %); something not listed (9 %); "
            "a package of the string is open (2 %)",
        ),
        ("  clears", "the switch element never conducts"),
        ("takes", "2 min and 5 min of setting up."),
        ("instead", "Volts of the control rail: 4 min more on the whole."),
        (
            "because",
            "Light with the switch element bridged clears driver and LEDs (common practice) "
            "[bridged-switch-lights]",
        ),
        ("because", "Nine volts light two dies (common practice) [nine-volts-light-a-package]"),
    ]


def test_a_rule_used_twice_is_told_once() -> None:
    """The second step names it without telling it again."""
    grounds = explain.how(walked(["dead", "all-lit", "dark"])).grounds
    assert [g.because for g in grounds] == [(), (PACKAGES,), (LIGHTS,)]
    assert [g.told_before for g in grounds] == [(), (), (PACKAGES.rule,)]


def test_the_verdict_has_no_question_to_explain() -> None:
    """Why has no answer there."""
    assert explain.why(walked(["works"])) is None


def test_variants_are_added_up_under_their_fault() -> None:
    """For display; the belief keeps them apart."""
    unit = lantern()
    first = unit.faults[0]
    half = replace(first, prior=first.prior / 2)
    other = Fault("bent-often", first.stage, "Bent, but now and then in touch", first.prior / 2,
                  variant_of=first.id)  # fmt: skip
    unit = replace(unit, faults=(half, *unit.faults[1:], other))
    told = explain.rank_suspects(unit, {f.id: f.prior for f in unit.faults})
    assert {s.fault: s.p for s in told}[first.id] == pytest.approx(first.prior)
    assert other.id not in {s.fault for s in told}


def test_who_is_out_of_the_question_is_no_suspect() -> None:
    unit = lantern()
    first, *rest = unit.faults
    odds = {first.id: 0.0, **{fault.id: 1 / len(rest) for fault in rest}}
    assert first.id not in {suspect.fault for suspect in explain.rank_suspects(unit, odds)}


def test_odds_by_stage_keep_the_models_order_and_sum_to_one() -> None:
    """Stages that no fault names stand at zero."""
    unit = lantern()
    by_stage = explain.by_stage(unit, {f.id: f.prior for f in unit.faults})
    assert list(by_stage)[: len(unit.stages)] == [s.id for s in unit.stages]
    assert sum(by_stage.values()) == pytest.approx(1.0)


@given(st.integers(0, 200), st.data())
@settings(max_examples=25)
def test_ratios_turn_prior_odds_into_posterior_odds(seed: int, draw: st.DataObject) -> None:
    """Bayes' rule in odds form, for every suspect an answer cleared or pointed at."""
    unit = stage_chain(seed, faults=8, tests=8, splits=0.5)
    walk = job.begin(Outset(unit), plan)
    test = draw.draw(st.sampled_from(unit.tests))
    outcome = draw.draw(st.sampled_from(test.outcomes)).id
    if not any(unit.row(test.id, f.id).get(outcome, 0.0) > 0 for f in unit.faults):
        return
    before = walk.belief
    walk = job.take(walk, Known(test.id, outcome))
    ground = explain.how(walk).grounds[0]
    for weight in (*ground.cleared, *ground.pointed):
        members = [
            f.id for f in unit.faults if weight.suspect in ((f.stage,) if weight.stage else (f.id,))
        ]
        prior, after = (sum(b[f] for f in members) for b in (before, walk.belief))
        if math.isinf(weight.ratio):
            assert after == pytest.approx(1.0)
        elif after < 1.0 - 1e-12:
            assert after / (1 - after) == pytest.approx(weight.ratio * prior / (1 - prior))


@given(st.integers(0, 60))
@settings(max_examples=20)
def test_prospects_share_out_what_may_be_told(seed: int) -> None:
    """Odds of the outcomes sum to one; each leaves suspects whose odds do too, with those cleared
    taken off; following an outcome leads to just the belief it promised."""
    unit = stage_chain(seed, faults=8, tests=10, splits=0.3)
    walk = job.begin(Outset(unit), plan)
    while isinstance(step := pending(walk), Setting):
        walk = job.take(walk, step.event)
    if not isinstance(step, Question):
        return
    purpose = explain.why(walk)
    assert purpose is not None
    assert sum(p.odds for p in purpose.prospects) == pytest.approx(1.0)
    for prospect in purpose.prospects:
        if prospect.odds <= 0:
            continue
        after = job.take(walk, Answered(step.test, prospect.outcome)).belief
        for suspect in prospect.left:
            assert suspect.p == pytest.approx(after[suspect.fault])
        for suspect in prospect.drops:
            assert after[suspect.fault] <= suspect.p
