"""Chance plays the diagnosis of many units: the printed chart, and a walk that plans anew.

Each unit gets a fault by the world's priors, a true outcome for each test by the model's rows, and
each reading of it is mistaken by the model's misreads. `numpy.random.Generator` with a seed: the
same call gives the same tally. The two ways of working:

- `ChartWay` follows the printed plan, with its confirm steps where given.
- `ReplanningWay` follows a plan to its verdict, weighs the faults by all that was told, misreads
  included, leaves out those that hold less than `NEGLIGIBLE` together, and plans on from there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from engine.chart.confirm import Confirm
from engine.chart.outlook import Outlook
from engine.model import setup
from engine.model.plan import Ask, Plan, Planner, State, Verdict
from engine.model.records import Model
from engine.model.shorts import barred_tests
from engine.readings.belief import Surprise, Tables, posterior, prepare
from engine.readings.confusion import Floats, Readings

NEGLIGIBLE = 0.002
"""Odds that the faults left out of a new plan may hold together."""

Chance = np.random.Generator


@dataclass(frozen=True, slots=True)
class Tally:
    """What became of many simulated units. Minutes are bench minutes without the remedy's.

    `cost_error` is the standard error of `cost`; `slow_minutes` is the 95th percentile.
    """

    units: int
    right: float
    undecided: float
    minutes: float
    slow_minutes: float
    cost: float
    cost_error: float


@dataclass(slots=True)
class Unit:
    """A unit on the bench: what it has, what was told of it, and what it has taken so far."""

    readings: Readings
    fault: int
    chance: Chance
    state: State
    minutes: float = 0.0
    truth: dict[str, int] = field(default_factory=dict)
    answers: dict[str, list[int]] = field(default_factory=dict)

    def stand(self, after: State) -> None:
        """Bring the bench to a state."""
        self.minutes += setup.minutes(self.readings.model, self.state, after)
        self.state = after

    def read(self, test: str, openings: frozenset[str] = frozenset()) -> int:
        """Do a test with its set-up and read it, perhaps wrongly; the outcome told.

        `openings` are made for it beyond what it needs: leads that are read later in that turn.
        """
        model = self.readings.model
        record = model.test(test)
        self.stand(setup.reach(model, self.state, record, openings))
        self.minutes += record.minutes
        if test not in self.truth:
            self.truth[test] = _draw(self.chance, self.readings.true[test][self.fault])
        outcome = _draw(self.chance, self.readings.confusions[test][self.truth[test]])
        self.answers.setdefault(test, []).append(outcome)
        return outcome

    def possible(self, test: str) -> bool:
        """Whether a test can still be done."""
        return setup.allows(self.readings.model, self.state, self.readings.model.test(test))


Way = Callable[[Unit], str | None]
"""Works on a unit and returns the remedy, or None where no verdict is reached."""


def try_chart(
    model: Model,
    plan: Plan,
    *,
    units: int,
    seed: int,
    confirms: Sequence[Confirm] = (),
    prior: Floats | None = None,
) -> Tally:
    """Units diagnosed by the printed chart, with its confirm steps, in a world of these priors."""
    way = ChartWay(plan, {(c.ask, c.outcome): c for c in confirms})
    return tally(model, way, units=units, chance=np.random.default_rng(seed), prior=prior)


def try_replanning(
    model: Model,
    planner: Planner,
    *,
    units: int,
    seed: int,
    prior: Floats | None = None,
) -> Tally:
    """Units diagnosed by a walk that plans anew (`ReplanningWay`), in a world of these priors.

    The walk itself believes in the model's priors, whatever the world's are.
    """
    way = ReplanningWay(model, planner, prepare(model))
    return tally(model, way, units=units, chance=np.random.default_rng(seed), prior=prior)


def tally(
    model: Model, way: Way, *, units: int, chance: Chance, prior: Floats | None = None
) -> Tally:
    """Units drawn by chance and worked on in one way."""
    readings = Readings.of(model)
    world = readings.prior if prior is None else prior
    faults = chance.choice(len(world), size=units, p=world / world.sum())
    jobs = np.array([_job(readings, way, int(fault), chance) for fault in faults])
    minutes, cost, right, no_verdict = jobs.T
    return Tally(
        units=units,
        right=float(right.mean()),
        undecided=float(no_verdict.mean()),
        minutes=float(minutes.mean()),
        slow_minutes=float(np.quantile(minutes, 0.95)),
        cost=float(cost.mean()),
        cost_error=float(cost.std(ddof=1) / np.sqrt(units)) if units > 1 else 0.0,
    )


def try_each_fault(model: Model, way: Way, *, units: int, seed: int) -> Outlook:
    """The outlook of a way of working by chance: units shared out half by prior, half evenly.

    What awaits a fault does not hang on the world's priors, so one trial serves all worlds.
    """
    readings = Readings.of(model)
    chance = np.random.default_rng(seed)
    size = len(readings.faults)
    means = np.zeros((size, 4))
    for fault, prior in enumerate(readings.prior):
        share = 0.5 * float(prior) + 0.5 / size
        jobs = [_job(readings, way, fault, chance) for _ in range(max(1, round(units * share)))]
        means[fault] = np.mean(jobs, axis=0)
    minutes, cost, right, no_verdict = means.T
    return Outlook(readings.faults, minutes, cost, right, no_verdict)


def _job(readings: Readings, way: Way, fault: int, chance: Chance) -> tuple[float, ...]:
    """One unit from start to end: minutes, cost, 1 if cured, 1 if undecided."""
    model = readings.model
    unit = Unit(readings, fault, chance, setup.start(model))
    remedy = way(unit)
    if remedy is None:
        return unit.minutes, unit.minutes + model.wrong_verdict_minutes, 0.0, 1.0
    choice = model.remedy(remedy)
    cures = readings.faults[fault] in choice.cures
    wrong = 0.0 if cures else model.wrong_verdict_minutes
    return unit.minutes, unit.minutes + choice.minutes + wrong, float(cures), 0.0


@dataclass(frozen=True, slots=True)
class ChartWay:
    """Follows a printed plan; `confirms` by ask and outcome."""

    plan: Plan
    confirms: dict[tuple[str, str], Confirm]

    def __call__(self, unit: Unit) -> str | None:
        """The remedy the chart leads to for this unit."""
        return self._from(unit, self.plan.root, confirm_test=None)

    def _from(self, unit: Unit, name: str, confirm_test: str | None) -> str | None:
        node = self.plan.nodes[name]
        if isinstance(node, Verdict):
            return node.remedy
        assert isinstance(node, Ask)
        outcome_index = unit.answers[node.test][-1] if node.test in unit.answers else unit.read(
            node.test, node.state.opened
        )
        return self._branch(unit, name, outcome_index, confirm_test)

    def _branch(self, unit: Unit, name: str, index: int, confirm_test: str | None) -> str | None:
        node = self.plan.nodes[name]
        assert isinstance(node, Ask)
        outcome = unit.readings.outcomes[node.test][index]
        follower = node.branches[outcome]
        target = self.plan.nodes[follower]
        if isinstance(target, Verdict):
            confirm = self.confirms.get((name, outcome))
            if confirm is not None and confirm_test is None:
                return self._confirm(unit, confirm, target)
            return target.remedy
        if isinstance(target, Ask):
            return self._from(unit, follower, confirm_test)
        if len(unit.answers[node.test]) > 1 or not unit.possible(node.test):
            return None
        again = unit.read(node.test)
        return None if again == index else self._branch(unit, name, again, confirm_test)

    def _confirm(self, unit: Unit, confirm: Confirm, verdict: Verdict) -> str | None:
        first = unit.answers[confirm.test][-1]
        second = unit.read(confirm.test)
        if second == first:
            return verdict.remedy
        third = unit.read(confirm.test)
        if third == first:
            return verdict.remedy
        if third != second:
            return None
        return self._branch(unit, confirm.back, third, confirm_test=confirm.test)


@dataclass(frozen=True, slots=True)
class ReplanningWay:
    """Follows a plan, and has the rest planned anew where it ends or has no place for an answer.

    A plan takes readings as true. So at its verdict the odds are weighed again with misreads, and
    the job ends only when a plan made from those odds would ask nothing more. Plans are kept, as
    many units tell the same.
    """

    model: Model
    planner: Planner
    tables: Tables
    plans: dict[tuple[frozenset[tuple[str, str]], State], Plan] = field(
        default_factory=dict, repr=False
    )

    def __call__(self, unit: Unit) -> str | None:
        """The remedy the walk ends in for this unit."""
        answers: list[tuple[str, str]] = []
        while (plan := self._plan(unit.state, answers)) is not None:
            node = plan.nodes[plan.root]
            if isinstance(node, Verdict):
                return node.remedy
            while isinstance(node, Ask):
                outcome = unit.readings.outcomes[node.test][unit.read(node.test, node.state.opened)]
                answers.append((node.test, outcome))
                node = plan.nodes[node.branches[outcome]]
        return None

    def _plan(self, state: State, answers: list[tuple[str, str]]) -> Plan | None:
        key = (frozenset(answers), state)
        if key not in self.plans:
            try:
                weights = posterior(self.tables, answers)
            except Surprise:
                return None
            main_odds = kept_odds(weights) if answers else weights
            belief = dict(zip(self.tables.faults, main_odds.tolist(), strict=True))
            tests_done = frozenset(test for test, _ in answers)
            self.plans[key] = self.planner(
                self.model,
                belief=belief,
                state=state,
                tests_done=tests_done,
                withdrawn=barred_tests(self.model, answers),
                answers=tuple(answers),
            )
        return self.plans[key]


def kept_odds(weights: Floats) -> Floats:
    """The odds without the least likely faults that hold `NEGLIGIBLE` together, summing to 1."""
    order = np.argsort(weights)
    least = np.cumsum(weights[order]) <= NEGLIGIBLE
    rest = weights.copy()
    rest[order[least]] = 0.0
    return rest / float(rest.sum())


def _draw(chance: Chance, odds: Floats) -> int:
    """An index drawn by odds that sum to 1."""
    at = int(np.searchsorted(np.cumsum(odds), chance.random(), side="right"))
    return min(at, int(np.flatnonzero(odds)[-1]))
