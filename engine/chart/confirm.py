"""Where doing a test once more before a remedy pays, when readings may be mistaken.

A confirm step belongs to one line of the chart, from an ask to a verdict. It does one of the tests
of the path again. Told the same, the remedy follows; told otherwise, the test is done a third time
and what came twice counts: back to the verdict, or to the ask of that test and on by its other
branch. Which lines and which tests: for each line, the test whose repetition lowers the expected
cost under misreads most; it is kept if it saves at least `WORTH_MINUTES`. Lines do not touch each
other's saving (one confirm step in a job), so the choice is exact and the savings add up.

After a short was told nothing may lead back to mains or high-voltage DC, not even a repetition that
tells otherwise: a test is done again only where no way on from it comes to a live test.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from engine.chart.outlook import Follower, Job, Outlook, Stop, tellings
from engine.model import makesafe
from engine.model.plan import Ask, Plan, State
from engine.model.records import Model
from engine.model.setup import minutes, reach
from engine.model.shorts import is_live
from engine.readings.confusion import Readings

WORTH_MINUTES = 0.01
"""Expected minutes over all jobs below which a further step is clutter on a chart."""
_ROUNDING = 1e-9
"""Minutes by which a bound may be off; of the algorithm."""


@dataclass(frozen=True, slots=True)
class Confirm:
    """Before the verdict that `outcome` of the ask `ask` leads to, do `test` once more.

    `first` is the outcome told before, which agrees with the verdict; `back` is the ask of that
    test, to go on from where what came twice is another outcome.
    `minutes` are those of the repetition with its set-up, `saves` the expected minutes it is worth
    over all jobs.
    """

    ask: str
    outcome: str
    verdict: str
    test: str
    first: str
    back: str
    minutes: float
    saves: float


@dataclass(frozen=True, slots=True)
class Confirmation:
    """Confirm steps of a plan with the expected cost under misreads, without them and with them."""

    confirms: tuple[Confirm, ...]
    expected_cost_with_misreads: float
    expected_cost_with_confirm: float


def confirms(model: Model, plan: Plan) -> Confirmation:
    """The confirm steps that pay for a plan under the model's misreads and priors.

    Time: lines to verdicts x tests of a path x paths of the plan, times faults.
    """
    readings = Readings.of(model)
    follower = Follower.of(readings, plan)
    follower.follow()
    lines: dict[tuple[str, int], list[Stop]] = {}
    for stop in follower.stops:
        lines.setdefault((stop.ask, stop.outcome), []).append(stop)
    best = (_best(follower, stops) for stops in lines.values())
    worthwhile = tuple(confirm for confirm in best if confirm)
    without = float(readings.prior @ follower.sheet["cost"])
    return Confirmation(worthwhile, without, without - sum(confirm.saves for confirm in worthwhile))


def confirmed_outlook(model: Model, plan: Plan, steps: Sequence[Confirm]) -> Outlook:
    """The outlook of a plan with these confirm steps: exact, as `outlook` is without them."""
    readings = Readings.of(model)
    plain = Follower.of(readings, plan)
    plain.follow()
    without, again = plain.afresh(), plain.afresh()
    lines = {(step.ask, step.outcome): step for step in steps}
    for stop in plain.stops:
        outcomes = readings.outcomes[plain.ask(stop.ask).test]
        step = lines.get((stop.ask, outcomes[stop.outcome]))
        if step is not None:
            without.end(stop.verdict, stop.job.odds)
            _repeat(again, stop, step.test, step.back)
    sheet = {
        name: plain.sheet[name] - without.sheet[name] + again.sheet[name] for name in plain.sheet
    }
    return Outlook(readings.faults, **sheet)


def _best(follower: Follower, stops: Sequence[Stop]) -> Confirm | None:
    """The repetition that saves most on one line, whichever way one came to it; None where none
    saves enough.

    The first by name of equals. Those that may save most are followed first, and none that can't
    save more than another does.
    """
    readings, plain, line = follower.readings, follower.afresh(), stops[0]
    for stop in stops:
        plain.end(stop.verdict, stop.job.odds)
    now = float(readings.prior @ plain.sheet["cost"])
    candidates = [
        (now - _least_cost(plain, stops, test), place, test, back, outcome)
        for place, (test, back, outcome) in enumerate(_repeatable(plain, stops))
    ]
    most, choice, choice_place = WORTH_MINUTES, None, len(candidates)
    for ceiling, place, test, back, outcome in sorted(candidates, key=lambda c: (-c[0], c[1])):
        if ceiling < most - _ROUNDING:
            break
        again = plain.afresh()
        for stop in stops:
            _repeat(again, stop, test, back)
        saves = now - float(readings.prior @ again.sheet["cost"])
        if saves > most or (saves == most and place < choice_place):
            says = readings.outcomes[again.ask(line.ask).test][line.outcome]
            agreement = readings.outcomes[test][outcome]
            took = _minutes(readings.model, line, test)
            choice = Confirm(line.ask, says, line.verdict, test, agreement, back, took, saves)
            most, choice_place = saves, place
    return choice


def _repeatable(plain: Follower, stops: Sequence[Stop]) -> Iterator[tuple[str, str, int]]:
    """The tests that can be done again before a verdict, by name: test, where it was asked, what
    was told last."""
    readings, model = plain.readings, plain.readings.model
    after_short = any(_shows_short(readings, stop) for stop in stops)
    states = {stop.job.state for stop in stops}  # many ways, few states
    for test, back, outcome in sorted(set.intersection(*map(_tests_before, stops))):
        possible = all(
            plain.possible(test, state) and not _charges_anew(model, state, test)
            for state in states
        )
        if not (possible and readings.mistakable(test)):
            continue
        if not (after_short and _comes_to_life(model, plain.plan, back)):
            yield test, back, outcome


def _least_cost(follower: Follower, stops: Sequence[Stop], test: str) -> float:
    """A lower bound of what a line costs with `test` done again on it.

    What follows once another outcome came twice is taken for the remedy of least cost under each
    fault, at once; all before that is reckoned as `_repeat` does. Time: outcomes, squared.
    """
    readings = follower.readings
    wrong, least = readings.model.wrong_verdict_minutes, readings.least_burden()
    cost = np.zeros(len(readings.faults))
    for stop in stops:
        outcomes, odds = stop.job.outcomes[test], stop.job.odds
        first, burden = outcomes[-1], readings.burden(follower.verdict(stop.verdict).remedy)
        cost += odds * follower.ways.to(test, stop.job.state, frozenset())[1]
        for second, twice, is_rare in tellings(odds, readings.again(test, outcomes)):
            if second == first:
                cost += twice * burden
            elif is_rare:
                cost += twice * wrong
            else:
                cost += twice * readings.model.test(test).minutes
                table = readings.again(test, (*outcomes, second))
                for third, thrice, is_rarer in tellings(twice, table):
                    if third == first:
                        cost += thrice * burden
                    else:
                        cost += thrice * (wrong if third != second or is_rarer else least)
    return float(readings.prior @ cost)


def _charges_anew(model: Model, state: State, test: str) -> bool:
    """Whether doing the test again would leave stores charged that the verdict takes for low."""
    supply = model.test(test).supply
    stores = makesafe.exposed_stores(model, state.opened)
    charges_now = makesafe.charges(model, supply) and not makesafe.charges(model, state.supply)
    return bool(stores) and charges_now


def _tests_before(stop: Stop) -> set[tuple[str, str, int]]:
    """The tests done on the way: test, where asked, outcome told last."""
    return {(test, back, stop.job.outcomes[test][-1]) for test, back in stop.job.asks.items()}


def _shows_short(readings: Readings, stop: Stop) -> bool:
    """Whether a short was told on the way."""
    answers = (
        (test, readings.outcomes[test][outcome])
        for test, outcomes in stop.job.outcomes.items()
        for outcome in outcomes
    )
    return any(readings.model.test(test).outcome(outcome).short for test, outcome in answers)


def _comes_to_life(model: Model, plan: Plan, name: str) -> bool:
    """Whether a live test is done at this node or on some way on from it."""
    visits: set[str] = set()
    ahead = [name]
    while ahead:
        node = plan.nodes[here := ahead.pop()]
        if here in visits or not isinstance(node, Ask):
            continue
        visits.add(here)
        if is_live(model, model.test(node.test)):
            return True
        ahead.extend(node.branches.values())
    return False


def _minutes(model: Model, stop: Stop, test: str) -> float:
    record = model.test(test)
    return record.minutes + minutes(model, stop.job.state, reach(model, stop.job.state, record))


def _repeat(follower: Follower, stop: Stop, test: str, back: str) -> None:
    """Do `test` again before the verdict of `stop`, and go on by what came twice."""
    readings, job = follower.readings, stop.job
    first = job.outcomes[test][-1]
    state = follower.do(test, job)
    for outcome, odds, is_rare in tellings(job.odds, readings.again(test, job.outcomes[test])):
        if outcome == first:
            follower.end(stop.verdict, odds)
        elif is_rare:
            follower.give_up(odds)
        else:
            answers = {**job.outcomes, test: (*job.outcomes[test], outcome)}
            _third(follower, stop, back, Job(odds, state, answers, job.asks))


def _third(follower: Follower, stop: Stop, back: str, job: Job) -> None:
    """Two readings of a test disagree: do it a third time, on the bench as it stands."""
    readings, test = follower.readings, follower.ask(back).test
    follower.spend(job.odds, readings.model.test(test).minutes)
    *_, first, second = job.outcomes[test]
    for outcome, odds, is_rare in tellings(job.odds, readings.again(test, job.outcomes[test])):
        if outcome == first:
            follower.end(stop.verdict, odds)
        elif outcome != second or is_rare:
            follower.give_up(odds)
        else:
            answers = {**job.outcomes, test: (*job.outcomes[test], outcome)}
            follower.branch(back, outcome, Job(odds, job.state, answers, job.asks))
