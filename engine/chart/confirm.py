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

from collections.abc import Sequence
from dataclasses import dataclass, replace

from engine.chart.outlook import RARE, Follower, Job, Outlook, Stop
from engine.model import makesafe
from engine.model.plan import Ask, Plan, State
from engine.model.records import Model
from engine.model.setup import minutes, reach
from engine.model.shorts import is_live
from engine.readings.confusion import Readings

WORTH_MINUTES = 0.01
"""Expected minutes over all jobs below which a further step is clutter on a chart."""


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
    best = (_best(readings, plan, stops) for stops in lines.values())
    worthwhile = tuple(confirm for confirm in best if confirm and confirm.saves >= WORTH_MINUTES)
    without = float(readings.prior @ follower.sheet["cost"])
    return Confirmation(worthwhile, without, without - sum(confirm.saves for confirm in worthwhile))


def confirmed_outlook(model: Model, plan: Plan, steps: Sequence[Confirm]) -> Outlook:
    """The outlook of a plan with these confirm steps: exact, as `outlook` is without them."""
    readings = Readings.of(model)
    plain = Follower.of(readings, plan)
    plain.follow()
    without, again = Follower.of(readings, plan), Follower.of(readings, plan)
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


def _best(readings: Readings, plan: Plan, stops: Sequence[Stop]) -> Confirm | None:
    """The repetition that saves most on one line, whichever way one came to it."""
    plain = Follower.of(readings, plan)
    for stop in stops:
        plain.end(stop.verdict, stop.job.odds)
    now = float(readings.prior @ plain.sheet["cost"])
    choice: Confirm | None = None
    after_short = any(_shows_short(readings, stop) for stop in stops)
    for test, back, outcome_index in sorted(set.intersection(*map(_tests_before, stops))):
        possible = all(
            plain.possible(test, stop.job.state)
            and not _charges_anew(readings.model, stop.job.state, test)
            for stop in stops
        )
        if not (possible and readings.mistakable(test)):
            continue
        if after_short and _comes_to_life(readings.model, plan, back):
            continue
        again = Follower.of(readings, plan)
        for stop in stops:
            _repeat(again, stop, test, back)
        saves = now - float(readings.prior @ again.sheet["cost"])
        if choice is None or saves > choice.saves:
            line = stops[0]
            outcome = readings.outcomes[again.ask(line.ask).test][line.outcome]
            agreement = readings.outcomes[test][outcome_index]
            took = _minutes(readings.model, line, test)
            choice = Confirm(line.ask, outcome, line.verdict, test, agreement, back, took, saves)
    return choice


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
    job = replace(job, state=follower.do(test, job))
    second = readings.again(test, job.outcomes[test])
    for outcome in range(second.shape[1]):
        odds = job.odds * second[:, outcome]
        if outcome == first:
            follower.end(stop.verdict, odds)
        elif odds.max() <= RARE:
            follower.give_up(odds)
        else:
            answers = {**job.outcomes, test: (*job.outcomes[test], outcome)}
            _third(follower, stop, back, replace(job, odds=odds, outcomes=answers))


def _third(follower: Follower, stop: Stop, back: str, job: Job) -> None:
    """Two readings of a test disagree: do it a third time, on the bench as it stands."""
    readings, test = follower.readings, follower.ask(back).test
    follower.spend(job.odds, readings.model.test(test).minutes)
    *_, first, second = job.outcomes[test]
    table = readings.again(test, job.outcomes[test])
    for outcome in range(table.shape[1]):
        odds = job.odds * table[:, outcome]
        if outcome == first:
            follower.end(stop.verdict, odds)
        elif outcome != second or odds.max() <= RARE:
            follower.give_up(odds)
        else:
            answers = {**job.outcomes, test: (*job.outcomes[test], outcome)}
            follower.branch(back, outcome, replace(job, odds=odds, outcomes=answers))
