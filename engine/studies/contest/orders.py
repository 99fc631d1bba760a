"""Fixed orders that the printed chart is held against, and units that don't allow every test."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from engine.model import setup
from engine.model.absence import NO_REPAIR
from engine.model.plan import Ask, Plan, State, Verdict
from engine.model.records import Model, Test
from engine.model.shorts import barred_tests
from engine.planner import plan
from engine.readings.belief import Surprise, Tables, posterior
from engine.readings.confusion import Floats
from engine.studies.trial.simulation import Unit, kept_odds

ENOUGH = 0.95
"""Odds at which work by a fixed order ends: one error in twenty."""
_SUSPECTED = 0.01
"""Odds over those of the number of faults under which a fault is left aside. Our choice."""
_GIVES_UP = frozenset({"scrap", "salvage", "refuse", "downgrade"})
Answers = list[tuple[str, str]]
Next = Callable[["Order", Answers, Floats, list[str]], str]


@dataclass(slots=True)
class HinderedUnit(Unit):
    """A unit on which some tests turn out not to be possible: each with odds `skips`."""

    skips: float = 0.0
    cannot: dict[str, bool] = field(default_factory=dict)

    def hinders(self, test: str) -> bool:
        """Whether the test can't be done on this unit; drawn once."""
        if self.skips and test not in self.cannot:
            self.cannot[test] = bool(self.chance.random() < self.skips)
        return self.cannot.get(test, False)

    def read(self, test: str, openings: frozenset[str] = frozenset()) -> int:
        """Do and read a test; one that can't be done is taken for what it shows most often."""
        if not self.hinders(test):
            return Unit.read(self, test, openings)
        likely = int(np.argmax(self.readings.prior @ self.readings.true[test]))
        self.answers.setdefault(test, []).append(likely)
        return likely


@dataclass(frozen=True, slots=True)
class Walking:
    """The walk that plans anew at each verdict and for each test that can't be done.

    As `engine.studies.trial.simulation.ReplanningWay`, with tests withdrawn: those that can't be
    done, and those that a short found forbids. Plans are kept.
    """

    model: Model
    tables: Tables
    first: Plan
    seconds: float
    plans: dict[tuple[frozenset[tuple[str, str]], State, frozenset[str]], Plan | None] = field(
        default_factory=dict, repr=False
    )

    def __call__(self, unit: Unit) -> str | None:
        """The remedy the walk ends in for this unit."""
        assert isinstance(unit, HinderedUnit)
        answers: Answers = []
        withdrawn: frozenset[str] = frozenset()
        while (current := self._plan(unit.state, answers, withdrawn)) is not None:
            node = current.nodes[current.root]
            if isinstance(node, Verdict):
                return node.remedy
            while isinstance(node, Ask):
                if unit.hinders(node.test):
                    withdrawn |= {node.test}
                    break
                outcome = unit.readings.outcomes[node.test][unit.read(node.test, node.state.opened)]
                answers.append((node.test, outcome))
                node = current.nodes[node.branches[outcome]]
        return None

    def _plan(self, state: State, answers: Answers, withdrawn: frozenset[str]) -> Plan | None:
        if not answers and not withdrawn:
            return self.first
        key = (frozenset(answers), state, withdrawn)
        if key not in self.plans:
            self.plans[key] = self._make(state, answers, withdrawn)
        return self.plans[key]

    def _make(self, state: State, answers: Answers, withdrawn: frozenset[str]) -> Plan | None:
        try:
            odds = posterior(self.tables, answers)
        except Surprise:
            return None
        main_odds = kept_odds(odds) if answers else odds
        belief = dict(zip(self.tables.faults, main_odds.tolist(), strict=True))
        tests_done = frozenset(test for test, _ in answers)
        return plan(
            self.model, belief=belief, state=state, tests_done=tests_done,
            withdrawn=withdrawn | barred_tests(self.model, answers), answers=tuple(answers),
            seconds=self.seconds,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Order:
    """Works through the tests in one order, weighing the odds, until one remedy is likely enough.

    `ranking` holds the tests by p/c or by reach, `choose` says which comes next of those that can
    still tell something. Choices are kept, as many units tell the same.
    """

    model: Model
    tables: Tables
    remedies: Remedies
    ranking: tuple[str, ...]
    choose: Next
    steps: dict[tuple[tuple[tuple[str, str], ...], frozenset[str]], str] = field(
        default_factory=dict, repr=False
    )

    def __call__(self, unit: Unit) -> str | None:
        """The remedy that the order ends in for this unit."""
        assert isinstance(unit, HinderedUnit)
        answers: Answers = []
        cannot: frozenset[str] = frozenset()
        while True:
            key = (tuple(answers), cannot)
            if key not in self.steps:
                self.steps[key] = self._step(unit.state, answers, cannot)
            kind, _, name = self.steps[key].partition(" ")
            if kind == "end":
                return name or None
            if unit.hinders(name):
                cannot |= {name}
                continue
            answers.append((name, unit.readings.outcomes[name][unit.read(name)]))

    def _step(self, state: State, answers: Answers, cannot: frozenset[str]) -> str:
        """What to do next: `test NAME`, or `end REMEDY`, where no name is no verdict."""
        try:
            odds = posterior(self.tables, answers)
        except Surprise:
            return "end "
        remedy, confidence = self.remedies.best(odds)
        exclusions = {test for test, _ in answers} | cannot | barred_tests(self.model, answers)
        left = [
            name for name in self.ranking
            if name not in exclusions
            and setup.allows(self.model, state, self.model.test(name))
            and tells(self.tables, odds, name)
        ]  # fmt: skip
        if confidence >= ENOUGH or not left:
            return f"end {remedy}"
        return f"test {self.choose(self, answers, odds, left)}"


@dataclass(frozen=True, slots=True)
class Remedies:
    """The remedies of a model as arrays: `cures` is remedies x faults, `mends` leaves out those
    that give the unit up, which cure whatever it has and so say nothing about how much is known.
    """

    names: tuple[str, ...]
    cures: Floats
    minutes: Floats
    mends: Floats
    wrong_verdict_minutes: float

    @classmethod
    def of(cls, model: Model, tables: Tables) -> Remedies:
        """The remedies of a model, over the faults of its tables; what keeps a repair that was
        tried is none of theirs, for they try none."""
        tries = {test.id for test in model.tests if test.mends}
        open_to = [
            r
            for r in model.remedies
            if tries.isdisjoint(requirement.of for requirement in r.requires)
        ]
        return cls(
            tuple(remedy.id for remedy in open_to),
            np.array([[float(f in set(r.cures)) for f in tables.faults] for r in open_to]),
            np.array([remedy.minutes for remedy in open_to]),
            np.array([float(remedy.kind not in _GIVES_UP) for remedy in open_to]),
            model.wrong_verdict_minutes,
        )

    def best(self, odds: Floats) -> tuple[str, float]:
        """The remedy of least expected cost, and how surely one that mends is known."""
        cure = self.cures @ odds
        cost = self.minutes + self.wrong_verdict_minutes * (1.0 - cure)
        return self.names[int(np.argmin(cost))], float((cure * self.mends).max())


def tells(tables: Tables, odds: Floats, test: str) -> bool:
    """Whether the faults in question show different things in a test, misreads aside."""
    likely = odds > _SUSPECTED / len(odds)
    rows = np.array([row[likely] for row in tables.likelihoods[test].values()])
    return bool(np.ptp(rows, axis=1).max() > 0.05)


def _first(order: Order, answers: Answers, odds: Floats, left: list[str]) -> str:
    return left[0]


def _middle(order: Order, answers: Answers, odds: Floats, left: list[str]) -> str:
    """Of the tests at a point, the one nearest to the middle of the stages still suspected."""
    rank = {stage.id: number for number, stage in enumerate(order.model.stages)}
    stage_of = {point.id: point for point in order.model.points}
    suspects = [
        rank[fault.stage]
        for fault, p in zip(order.model.faults, odds, strict=True)
        if p > _SUSPECTED and fault.stage in rank
    ]
    points = [name for name in left if order.model.test(name).point in stage_of]
    if not suspects or not points:
        return left[0]
    middle = (min(suspects) + max(suspects)) / 2.0

    def away(name: str) -> float:
        point = stage_of[order.model.test(name).point]
        return abs(rank.get(point.stage, 0) + (0.5 if point.side == "out" else 0.0) - middle)

    return min(points, key=away)


def by_odds_and_cost(model: Model, tables: Tables) -> tuple[str, ...]:
    """Tests by the odds that they find something over their minutes, greatest first."""
    sound = _sound(model)

    def worth(test: Test) -> float:
        rows = tables.likelihoods[test.id]
        if sound is None:
            finds = 1.0 - max(float(tables.prior @ row) for row in rows.values())
        else:
            usual = max(rows, key=lambda outcome: rows[outcome][sound])
            finds = 1.0 - float(tables.prior @ rows[usual])
        return finds / max(_minutes(model, test), 0.01)

    return tuple(test.id for test in sorted(model.tests, key=worth, reverse=True))


def _by_reach(model: Model, tables: Tables) -> tuple[str, ...]:
    """Tests by the minutes of opening that they need, then by their own."""

    def reach(test: Test) -> tuple[float, float]:
        openings = setup.closure(model, test.opened)
        return sum(model.opening(name).minutes for name in openings), _minutes(model, test)

    return tuple(test.id for test in sorted(model.tests, key=reach))


def _minutes(model: Model, test: Test) -> float:
    start = setup.start(model)
    return test.minutes + setup.minutes(model, start, setup.reach(model, start, test))


def _sound(model: Model) -> int | None:
    nothing = {fault for r in model.remedies if r.kind == NO_REPAIR for fault in r.cures}
    places = (
        at for at, fault in enumerate(model.faults) if fault.id in nothing and not fault.parts
    )
    return next(places, None)


Rank = Callable[[Model, Tables], tuple[str, ...]]
FIXED: Mapping[str, tuple[str, Rank, Next]] = {
    "p/c": ("checks by odds over minutes", by_odds_and_cost, _first),
    "half-split": ("half-split along the stages", by_odds_and_cost, _middle),
    "nearest": ("nearest and quickest first", _by_reach, _first),
}
"""The fixed orders by name: in words, how tests are ranked, and which of those left comes next."""
