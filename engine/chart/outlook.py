"""A plan followed through every reading that may be told, mistaken or not.

Method: walk the plan from the root with the odds, for each fault, of all that was told so far.
Given the fault, tests are independent, so each branch multiplies those odds by one column
(`Readings.again` for a test read before). What happens at the ends is added up for each fault.
Exact but for paths rarer than `RARE` under every fault, which count as undecided. Time: paths of
the plan x faults.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from engine.model import setup
from engine.model.plan import Ask, Plan, State, Verdict
from engine.model.records import Model
from engine.readings.confusion import Floats, Outcomes, Readings

RARE = 1e-6
"""Odds under each fault up to which a chain of readings is not followed, but billed as given up:
four or five misreads in one job. On the plain lamp that moves the expected minutes, 58.70 with
misreads, by 0.002 and takes a fifth of the time. Our choice."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """What awaits each fault: arrays over `faults` of expected bench minutes (tests and set-ups),
    cost (with remedy and wrong-verdict minutes), odds of a remedy that cures, odds of no verdict.
    """

    faults: tuple[str, ...]
    minutes: Floats
    cost: Floats
    right: Floats
    undecided: Floats

    def expected_cost(self, prior: Floats) -> float:
        """Expected cost in a world with these priors."""
        return float(prior @ self.cost)

    def expected_minutes(self, prior: Floats) -> float:
        """Expected bench minutes in a world with these priors."""
        return float(prior @ self.minutes)

    def accuracy(self, prior: Floats) -> float:
        """Odds of a remedy that cures in a world with these priors."""
        return float(prior @ self.right)


def outlook(model: Model, plan: Plan) -> Outlook:
    """The outlook of a plan under the model's misreads, as printed: without confirm steps."""
    follower = Follower.of(Readings.of(model), plan)
    follower.follow()
    return follower.outlook()


@dataclass(frozen=True, slots=True)
class Job:
    """A job under way: odds (over faults) of all that was told, the tests asked and where."""

    odds: Floats
    state: State
    outcomes: Mapping[str, Outcomes] = field(default_factory=dict)
    asks: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Stop:
    """An arrival at a verdict by the line `outcome` of the ask `ask`."""

    ask: str
    outcome: int
    verdict: str
    job: Job


def tellings(odds: Floats, table: Floats) -> Iterator[tuple[int, Floats, bool]]:
    """Each outcome that may be told by a `table` of faults x outcomes, with the odds of all that
    was told then, and whether that is rare under every fault."""
    joint = odds * table.T
    rarities = joint.max(axis=1) <= RARE
    for outcome in range(len(joint)):
        yield outcome, joint[outcome], bool(rarities[outcome])


class Ways:
    """Set-ups of one model from state to state, each worked out once: paths share them."""

    def __init__(self, model: Model) -> None:
        self._model = model
        self._to: dict[tuple[str, State, frozenset[str]], tuple[State, float]] = {}
        self._allow: dict[tuple[str, State], bool] = {}

    def to(self, test: str, before: State, more: frozenset[str]) -> tuple[State, float]:
        """The state a test is done in, `more` opened with it; minutes of its set-up and its own."""
        key = (test, before, more)
        way = self._to.get(key)
        if way is None:
            record = self._model.test(test)
            after = setup.reach(self._model, before, record, more)
            way = after, setup.minutes(self._model, before, after) + record.minutes
            self._to[key] = way
        return way

    def allow(self, test: str, before: State) -> bool:
        """Whether a test can still be done."""
        key = (test, before)
        may = self._allow.get(key)
        if may is None:
            may = setup.allows(self._model, before, self._model.test(test))
            self._allow[key] = may
        return may


def _sheet(readings: Readings) -> dict[str, Floats]:
    names = ("minutes", "cost", "right", "undecided")
    return {name: np.zeros(len(readings.faults)) for name in names}


@dataclass(frozen=True, slots=True)
class Follower:
    """Someone who follows a plan to the letter, adding up what happens on `sheet` and `stops`."""

    readings: Readings
    plan: Plan
    sheet: Mapping[str, Floats]
    stops: list[Stop]
    ways: Ways

    @classmethod
    def of(cls, readings: Readings, plan: Plan) -> Follower:
        """A follower with an empty sheet."""
        return cls(readings, plan, _sheet(readings), [], Ways(readings.model))

    def afresh(self) -> Follower:
        """Another one with the same plan, who has done nothing yet."""
        return Follower(self.readings, self.plan, _sheet(self.readings), [], self.ways)

    def outlook(self) -> Outlook:
        """What is on the sheet."""
        return Outlook(self.readings.faults, **self.sheet)

    def follow(self) -> None:
        """Follow the plan from the model's start."""
        certain = np.ones(len(self.readings.faults))
        if isinstance(self.plan.nodes[self.plan.root], Verdict):
            self.end(self.plan.root, certain)
        else:
            self.go(self.plan.root, Job(certain, setup.start(self.readings.model)))

    def go(self, name: str, job: Job) -> None:
        """Follow the plan from the ask `name`."""
        test = self.ask(name).test
        if test in job.outcomes:
            self.branch(name, job.outcomes[test][-1], job)
            return
        state = self.do(test, job, self.ask(name).state.opened)
        self._hear(name, Job(job.odds, state, job.outcomes, {**job.asks, test: name}))

    def branch(self, name: str, outcome: int, job: Job) -> None:
        """Take a line from the ask `name`; where it leads to a recheck, read once more."""
        ask = self.ask(name)
        follower = ask.branches[self.readings.outcomes[ask.test][outcome]]
        node = self.plan.nodes[follower]
        if isinstance(node, Ask):
            self.go(follower, job)
        elif isinstance(node, Verdict):
            self.stops.append(Stop(name, outcome, follower, job))
            self.end(follower, job.odds)
        elif len(job.outcomes[ask.test]) > 1 or not self.possible(ask.test, job.state):
            self.give_up(job.odds)
        else:
            self._hear(name, Job(job.odds, self.do(ask.test, job), job.outcomes, job.asks))

    def _hear(self, name: str, job: Job) -> None:
        """Go on by each outcome that may be told."""
        test = self.ask(name).test
        before = job.outcomes.get(test, ())
        for outcome, odds, is_rare in tellings(job.odds, self.readings.again(test, before)):
            if is_rare:
                self.give_up(odds)
            else:
                answers = {**job.outcomes, test: (*before, outcome)}
                self.branch(name, outcome, Job(odds, job.state, answers, job.asks))

    def ask(self, name: str) -> Ask:
        """The ask of that name."""
        node = self.plan.nodes[name]
        assert isinstance(node, Ask)
        return node

    def verdict(self, name: str) -> Verdict:
        """The verdict of that name."""
        node = self.plan.nodes[name]
        assert isinstance(node, Verdict)
        return node

    def possible(self, test: str, state: State) -> bool:
        """Whether a test can still be done."""
        return self.ways.allow(test, state)

    def do(self, test: str, job: Job, more: frozenset[str] = frozenset()) -> State:
        """Do a test: spend its minutes and those of its set-up, `more` opened with it; the state
        after it."""
        after, minutes = self.ways.to(test, job.state, more)
        self.spend(job.odds, minutes)
        return after

    def spend(self, odds: Floats, minutes: float) -> None:
        """Bench minutes, with those odds."""
        bill = odds * minutes
        self.sheet["minutes"][:] += bill
        self.sheet["cost"][:] += bill

    def end(self, verdict: str, odds: Floats) -> None:
        """Apply the remedy of a verdict."""
        node = self.verdict(verdict)
        self.sheet["right"][:] += odds * self.readings.cures(node.remedy)
        self.sheet["cost"][:] += odds * self.readings.burden(node.remedy)

    def give_up(self, odds: Floats) -> None:
        """Stop without a verdict, which costs what a wrong one does."""
        self.sheet["undecided"][:] += odds
        self.sheet["cost"][:] += odds * self.readings.model.wrong_verdict_minutes
