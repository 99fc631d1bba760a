"""Is what the rest of a walk takes what its plan says, and is the sum of its worth the sum?"""

from __future__ import annotations

import dataclasses
import math

import pytest

from engine.model.records import FaultyPart, Model, Proof
from engine.planner import plan
from engine.walk import job, prospects
from engine.walk.events import Answered
from engine.walk.job import Outset, Question, Setting, Walk
from engine.walk.prospects import Prices
from render.wording import worthwords
from tests.models import stage_chain


def test_minutes_to_a_verdict_are_those_of_the_planner() -> None:
    """Its kernel reckons them in C, from arrays; here the tree is followed anew."""
    for seed in range(6):
        walk = job.begin(Outset(stage_chain(seed, 8, 10)), plan)
        prospect = prospects.of_walk(walk)
        assert math.isclose(prospect.to_part, walk.plan.proof.expected_minutes, abs_tol=1e-6)
        assert prospect.to_stage <= prospect.to_part + 1e-9


def test_each_answer_takes_its_own_minutes_off() -> None:
    """What was expected is what one step takes and the mean of what its answers leave."""
    walk = job.begin(Outset(stage_chain(3, 8, 10)), plan)
    while isinstance(ahead := job.pending(walk), Setting):
        walk = job.take(walk, ahead.arrival({}))
    assert isinstance(ahead, Question)
    test = walk.model.test(ahead.test)
    mean = 0.0
    for outcome in test.outcomes:
        odds = sum(p * walk.model.row(test.id, f).get(outcome.id, 0.0)
                   for f, p in walk.belief.items())  # fmt: skip
        if odds:
            after = job.take(walk, Answered(test.id, outcome.id))
            mean += odds * prospects.of_walk(after).to_part
    before = prospects.of_walk(walk).to_part
    assert before == pytest.approx(test.minutes + mean, abs=1e-6)


@pytest.fixture
def at_verdict(sure: Model) -> Walk:
    """A walk with nothing left to find."""
    return job.begin(Outset(sure), plan)


@pytest.fixture
def sure() -> Model:
    """A model of one fault, of two parts, mended in 10 minutes and proven in 5."""
    model = stage_chain(1, 4, 5)
    fault = dataclasses.replace(
        model.faults[0], prior=1.0, parts=(FaultyPart("R1", "open"), FaultyPart("U1", "short"))
    )
    proof = Proof("soak", "Let it run", "socket", "steady", "common practice", minutes=5.0)
    remedy = dataclasses.replace(
        next(r for r in model.remedies if fault.id in r.cures),
        kind="repair", minutes=10.0, cures=(fault.id,), proofs=("soak",),
    )  # fmt: skip
    rows = {test: {fault.id: row[fault.id]} for test, row in model.likelihood.items()}
    return dataclasses.replace(
        model, faults=(fault,), remedies=(remedy,), proofs=(proof,), likelihood=rows
    )


def test_the_sum_is_that_of_the_hand(at_verdict: Walk) -> None:
    """12.00 less 2.50 and 1.00 of parts, less 15 minutes at 0.30: 4.00 are left; finding it might
    have taken 4.00 / 0.30 = 13.3 minutes."""
    prices = worthwords.read("unit=12 minute=0,3 parts=1 u1=2.50", Prices(currency="EUR"))
    assert prices is not None
    prospect = prospects.of_walk(at_verdict, prices)
    assert (prospect.to_part, prospect.mending, prospect.proving) == (0.0, 10.0, 5.0)
    assert prospect.parts == pytest.approx(3.5)
    gain, most = prospect.gain(prices), prospect.most_minutes(prices)
    assert gain == pytest.approx(12 - 3.5 - 15 * 0.3)
    assert most == pytest.approx(4.0 / 0.3)
    told = dict(worthwords.lines(prospect, prices))
    assert told["worth it?"].startswith("go on: 100 % of 12.00 EUR, less 3.50 EUR of parts")
    assert told["worth it?"].endswith("leaves 4.00 EUR")
    assert "13 min" in told["when to stop"]


def test_a_unit_worth_less_than_its_repair_is_stopped_at(at_verdict: Walk) -> None:
    prices = Prices(unit=3.0, minute=0.3)
    told = dict(worthwords.lines(prospects.of_walk(at_verdict, prices), prices))
    assert told["worth it?"].startswith("stop")
    assert told["worth it?"].endswith("leaves −1.50")


def test_where_nobody_says_what_it_is_worth_nothing_is_advised(at_verdict: Walk) -> None:
    """Whatever minutes and parts cost."""
    prices = Prices(minute=0.3, any_part=2.0)
    prospect = prospects.of_walk(at_verdict, prices)
    assert prospect.gain(prices) is None
    told = dict(worthwords.lines(prospect, prices))
    assert told["worth it?"] == worthwords.UNTOLD
    assert "when to stop" not in told


@pytest.mark.parametrize("text", ["12", "unit=", "=4", "unit=x", "unit=1e9", "unit=-3", "U1=nan"])
def test_what_is_no_price_is_not_taken(text: str) -> None:
    assert worthwords.read(text, Prices()) is None


def test_what_was_told_before_stays() -> None:
    first = worthwords.read("unit=12", Prices())
    assert first is not None
    second = worthwords.read("C1=0.4", first)
    assert second == Prices(unit=12.0, parts={"C1": 0.4})
