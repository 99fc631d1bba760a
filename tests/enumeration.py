"""The least expected cost by enumerating every plan, straight from the objective's words.

It shares nothing with the planner but the model's records; it is slow and meant to be read. Beside
tests and set-ups it knows three laws: no unit is energised after an answer that shows a short;
remedies are named and tests done once each of their requirements was met; and on the way to a test
that is read over leads more of them may be brought out than it asks for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import combinations

from engine.model.plan import State as Bench
from engine.model.records import Model, Requirement, Test

State = tuple[frozenset[str], str, str]
Answers = tuple[tuple[str, str], ...]
Weights = Mapping[str, float]
NEVER = float("inf")


@dataclass(frozen=True, slots=True)
class Way:
    """Where one has come to: weights by fault, the bench, tests left, requirements not met yet."""

    weights: Weights
    state: State
    left: tuple[Test, ...]
    owing: frozenset[int]


@dataclass(slots=True)
class Enumeration:
    """Every plan of one model that begins at one place."""

    model: Model
    requirements: list[Requirement]
    out_of_reach: frozenset[int]
    start: Way
    seen: dict[object, float] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        model: Model,
        withdrawn: frozenset[str] = frozenset(),
        *,
        belief: Weights | None = None,
        bench: Bench | None = None,
        done: frozenset[str] = frozenset(),
        answers: Answers = (),
    ) -> Enumeration:
        """Plans from a belief and a bench, after answers given; by default from the very start."""
        given = belief if belief is not None else {f.id: f.prior for f in model.faults}
        total = sum(given.values())
        weights = {fault: odds / total for fault, odds in given.items() if odds > 0}
        state = (frozenset(model.start.opened), model.start.supply, model.start.rig)
        if bench is not None:
            state = (bench.opened, bench.supply, bench.rig)
        left = tuple(
            t for t in model.tests
            if t.id not in withdrawn | done and not _shut_out(model, t, state[0])
        )  # fmt: skip
        listed: list[Requirement] = []
        for owner in (*model.remedies, *left):
            listed.extend(r for r in owner.requires if r not in listed)
        owing = {
            i for i, r in enumerate(listed)
            if not any(outcome in r.by.get(test, ()) for test, outcome in answers)
        }  # fmt: skip
        hopeless = {i for i in owing if not any(t.id in listed[i].by for t in left)}
        answered = {test for test, _ in answers}
        lost = frozenset(
            i for i in hopeless
            if listed[i].strict or not answered.isdisjoint(listed[i].by)
        )  # fmt: skip
        begin = Way(weights, state, left, frozenset(owing - hopeless))
        return cls(model, listed, lost, begin)

    def best(self) -> float:
        """Least E[test and set-up minutes] + E[remedy] + wrong-verdict minutes x P(not cured)."""
        return self._best(self.start)

    def first(self, test: str) -> float:
        """The same where this test is done first; no end where it can't be."""
        return self._test_cost(self.start, self.model.test(test))

    def _best(self, way: Way) -> float:
        left = tuple(t.id for t in way.left)
        key = (tuple(sorted(way.weights.items())), way.state, left, way.owing)
        if key not in self.seen:
            least = self._stop(way)
            if least > self._certain(way) * (1 + 1e-15):
                least = min([least, *(self._test_cost(way, test) for test in way.left)])
            self.seen[key] = least
        return self.seen[key]

    def _free(self, way: Way, requires: tuple[Requirement, ...]) -> bool:
        numbers = {self.requirements.index(r) for r in requires}
        return numbers.isdisjoint(way.owing) and numbers.isdisjoint(self.out_of_reach)

    def _stop(self, way: Way) -> float:
        """Ending here, with the best remedy of those that may be named."""
        named = [r for r in self.model.remedies if self._free(way, r.requires)]
        wrong = self.model.wrong_verdict_minutes
        return min(
            sum(w * (r.minutes + (0 if f in r.cures else wrong)) for f, w in way.weights.items())
            for r in named
        )

    def _certain(self, way: Way) -> float:
        """What even an oracle pays: each fault's own best remedy. No test helps beyond it."""
        wrong = self.model.wrong_verdict_minutes
        return sum(
            w * min(r.minutes + (0 if f in r.cures else wrong) for r in self.model.remedies)
            for f, w in way.weights.items()
        )

    def _test_cost(self, way: Way, test: Test) -> float:
        opened = way.state[0]
        if _shut_out(self.model, test, opened) or not self._free(way, test.requires):
            return NEVER
        rest = tuple(t for t in way.left if t is not test)
        splits = list(self._splits(way, test, rest))
        told = {tuple(_shares(below.weights).items()) for below in splits}
        if len(told) == 1 and all(below.owing == way.owing for below in splits):
            return NEVER  # it tells nothing and meets nothing
        needed = opened | _with_prior(self.model, test.opened)
        mass = sum(way.weights.values())
        costs = []
        for leads in self._leads(test, needed, rest):
            after = (needed | leads, test.supply, test.rig)
            minutes = test.minutes + set_up(self.model, way.state, after)
            below = (Way(s.weights, after, s.left, s.owing) for s in splits)
            costs.append(mass * minutes + sum(self._best(b) for b in below))
        return min(costs)

    def _splits(self, way: Way, test: Test, rest: tuple[Test, ...]) -> Iterator[Way]:
        """What each outcome that can be leaves; the bench is still the old one."""
        for outcome in test.outcomes:
            odds = {f: self.model.row(test.id, f).get(outcome.id, 0.0) for f in way.weights}
            weights = {f: w * odds[f] for f, w in way.weights.items() if odds[f] > 0}
            met = {i for i in way.owing if outcome.id in self.requirements[i].by.get(test.id, ())}
            left = _safe(self.model, rest) if outcome.short else rest
            if weights:
                yield Way(weights, way.state, left, way.owing - met)

    def _leads(
        self, test: Test, opened: frozenset[str], rest: tuple[Test, ...]
    ) -> Iterator[frozenset[str]]:
        """Sets of leads to bring out on the way to a test that is itself read over leads, of those
        in reach that a later test may ask for."""
        asked = frozenset[str]().union(*(_with_prior(self.model, t.opened) for t in rest))
        leads = [
            o.id for o in self.model.openings
            if o.kind == "lead" and o.id in asked - opened and opened.issuperset(o.after)
        ]  # fmt: skip
        if not any(self.model.opening(name).kind == "lead" for name in test.opened):
            leads = []
        for many in range(len(leads) + 1):
            yield from map(frozenset, combinations(leads, many))


def best_cost(model: Model, withdrawn: frozenset[str] = frozenset()) -> float:
    """The least expected cost of any plan from the model's start."""
    return Enumeration.of(model, withdrawn).best()


def _shares(weights: Weights) -> Weights:
    total = sum(weights.values())
    return {fault: round(weight / total, 12) for fault, weight in weights.items()}


def _shut_out(model: Model, test: Test, opened: frozenset[str]) -> bool:
    return model.arrangement(test.supply).closed_only and bool(opened or test.opened)


def _safe(model: Model, tests: tuple[Test, ...]) -> tuple[Test, ...]:
    """The tests that may still be done to a unit in which a short was found."""
    return tuple(t for t in tests if model.arrangement(t.supply).energy in ("none", "elv"))


def _with_prior(model: Model, wanted: tuple[str, ...]) -> frozenset[str]:
    found = set(wanted)
    for name in wanted:
        found |= _with_prior(model, model.opening(name).after)
    return frozenset(found)


def set_up(model: Model, before: State, after: State) -> float:
    """The set-up rule of the design, word by word."""
    (opened, supply, rig), (opened_after, supply_after, rig_after) = before, after
    dead = next(a.id for a in model.supply.arrangements if a.energy == "none")
    table = model.supply.minutes
    rig_minutes = model.rig(rig_after).minutes if rig_after != rig else 0.0
    hands = rig_after != rig and (model.rig(rig).hands_on or model.rig(rig_after).hands_on)
    opening = [o.minutes for o in model.openings if o.id in opened_after - opened]
    if opening or hands:
        return table[supply][dead] + sum(opening) + rig_minutes + table[dead][supply_after]
    return table[supply][supply_after] + rig_minutes
