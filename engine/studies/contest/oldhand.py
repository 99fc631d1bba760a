"""The old hand's order: what skilled people do at the bench, found in the model's structure.

He goes from outside in, and from what tells of many parts to what tells of one:

1. outside: what can be asked, or seen with the unit shut, on normal mains or unplugged; what tells
   most for its minutes first;
2. contacts: cold checks of the closed unit, then the parts of the stage that nothing else feeds,
   which mains come in by;
3. light: the stages that give light: look, light them from low voltage, then their joints;
4. look: whatever was laid bare is looked at before it is powered;
5. split: a stage of control that stands in line with the power: bridge it, feed its gate;
6. powered: readings along the power path in one powered turn, then those of control, all points
   that he still wants brought out on leads at once;
7. parts: of the likeliest stage alone, the likeliest part for its minutes first. A stage is traced
   only for these.

Nothing is listed for a topology: stage families, what feeds what, supply energies, openings and
what a check is done to say which step it belongs to. He is no straw man. He leaves out what would
hardly tell anything, stays in a rig while it still reads something, passes over what a short found
forbids, leaves shut what shows nothing wrong from outside, measures a part before he renews it, and
ends when one repair is as sure as the other
orders ask, or when being wrong costs less than the next check. What he does not do is weigh the
orders against each other: that is the planner's.

Which step comes first is common practice; the odds behind it are the model's.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np

from engine.model import setup
from engine.model.absence import NO_REPAIR, UNENERGISED
from engine.model.plan import State
from engine.model.records import Model, Test
from engine.model.shorts import barred_tests, is_live
from engine.readings.belief import Surprise, Tables, information, posterior
from engine.readings.confusion import Floats
from engine.studies.contest.orders import ENOUGH, Answers, HinderedUnit, Remedies, tells
from engine.studies.trial.simulation import Unit

WORTH_BITS = 0.2
"""Bits below which he expects nothing of a check while another promises more: a plain yes or no at
odds of one in thirty. Of .02 to .5 this is what he fares best with on the shipped lamps."""
_LEFT_SHUT = frozenset({NO_REPAIR, "outside"})
"""Remedies that leave the unit as it is: where one of them is best once all was seen from outside,
he opens nothing."""
_SERIES, _LIGHT, _SUPPLY = "control", "light-source", "supply"


class Turn(IntEnum):
    """The steps of the old hand, in his order."""

    OUTSIDE = 1
    CONTACTS = 2
    LIGHT = 3
    LOOK = 4
    SPLIT = 5
    POWERED = 6
    PARTS = 7


@dataclass(frozen=True, slots=True)
class Lay:
    """How a unit lies before him: its power path, and each check's stage, turn and place in it."""

    stage: Mapping[str, str]
    turn: Mapping[str, Turn]
    place: Mapping[str, tuple[float, ...]]
    along: Mapping[str, int]

    @classmethod
    def of(cls, model: Model) -> Lay:
        """The lay of a model's unit. Linear in tests x openings."""
        along = _along(model)
        stage = {test.id: _stage(model, test) for test in model.tests}
        turn = {test.id: _turn(model, test, stage[test.id]) for test in model.tests}
        place = {
            test.id: (*_within(model, test), along.get(stage[test.id], len(along)), number)
            for number, test in enumerate(model.tests)
        }
        return cls(stage, turn, place, along)


@dataclass(frozen=True, slots=True)
class Step:
    """What he does next: a test, with `leads` brought out for those after it; else an end."""

    test: str = ""
    leads: frozenset[str] = frozenset()
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class OldHand:
    """Works as the module says until one remedy is likely enough; steps are kept."""

    model: Model
    tables: Tables
    remedies: Remedies
    lay: Lay
    narrow: Floats
    steps: dict[tuple[tuple[tuple[str, str], ...], frozenset[str]], Step] = field(
        default_factory=dict, repr=False
    )

    @classmethod
    def of(cls, model: Model, tables: Tables) -> OldHand:
        """The old hand before a unit of this model."""
        remedies = Remedies.of(model, tables)
        return cls(model, tables, remedies, Lay.of(model), _narrow(remedies))

    def __call__(self, unit: Unit) -> str | None:
        """The remedy that he ends in for this unit."""
        assert isinstance(unit, HinderedUnit)
        answers: Answers = []
        cannot: frozenset[str] = frozenset()
        while True:
            key = (tuple(answers), cannot)
            if key not in self.steps:
                self.steps[key] = self._step(unit.state, answers, cannot)
            step = self.steps[key]
            if not step.test:
                return step.remedy or None
            if unit.hinders(step.test):
                cannot |= {step.test}
                continue
            outcome = unit.readings.outcomes[step.test][unit.read(step.test, step.leads)]
            answers.append((step.test, outcome))

    def _step(self, state: State, answers: Answers, cannot: frozenset[str]) -> Step:
        try:
            odds = posterior(self.tables, answers)
        except Surprise:
            return Step()
        over = {test for test, _ in answers} | cannot | barred_tests(self.model, answers)
        open_to = [
            test.id for test in self.model.tests
            if test.id not in over and setup.allows(self.model, state, test)
        ]  # fmt: skip
        remedy, _ = self.remedies.best(odds)
        if float((self.narrow @ odds).max()) < ENOUGH:
            choices = self._expectations(odds, open_to)
            if choices:
                test = self._next(state, odds, choices)
                if self._regret(odds) > self._minutes(state, test) and not (
                    self.lay.turn[test] > Turn.OUTSIDE
                    and self.model.remedy(remedy).kind in _LEFT_SHUT
                ):
                    return Step(test, self._leads(state, test, choices))
        check = self._own_check(state, odds, remedy, {test for test, _ in answers}, open_to)
        return Step(check) if check else Step(remedy=remedy)

    def _expectations(self, odds: Floats, open_to: Collection[str]) -> list[str]:
        """The checks he expects something of, else those that can tell anything at all."""
        telling = [name for name in open_to if tells(self.tables, odds, name)]
        worth = [name for name in telling if information(self.tables, odds, name) >= WORTH_BITS]
        return worth or telling

    def _next(self, state: State, odds: Floats, choices: Collection[str]) -> str:
        """The check whose turn it is; all that are wanted compete by their place in the order."""
        turn = min(self.lay.turn[name] for name in choices)
        now = [name for name in choices if self.lay.turn[name] is turn]
        if turn is Turn.OUTSIDE:
            return max(now, key=lambda name: self._telling(state, odds, name))
        if turn is Turn.PARTS:
            return self._part(state, odds, now)
        if turn is Turn.POWERED:
            return self._reading(state, odds, now)
        return min(now, key=self.lay.place.__getitem__)

    def _telling(self, state: State, odds: Floats, name: str) -> tuple[float, list[float]]:
        """Bits for the minutes of a check, ties by its place."""
        bits = information(self.tables, odds, name)
        return bits / max(self._minutes(state, name), 0.01), [-n for n in self.lay.place[name]]

    def _reading(self, state: State, odds: Floats, now: Collection[str]) -> str:
        """The next reading under power: what is brought out already, else where several are brought
        out at once the first along the path, else the one nearest the middle of the suspects."""
        at_hand = [n for n in now if setup.reach(self.model, state, self.model.test(n)) == state]
        if at_hand:
            return min(at_hand, key=self.lay.place.__getitem__)
        first = min(now, key=self.lay.place.__getitem__)
        if self._leads(state, first, now):
            return first
        suspects = [
            self.lay.along[fault.stage]
            for fault, p in zip(self.model.faults, odds, strict=True)
            if p > 1.0 - ENOUGH and fault.stage in self.lay.along
        ]
        if not suspects:
            return first
        middle = (min(suspects) + max(suspects)) / 2.0

        def away(name: str) -> tuple[float, tuple[float, ...]]:
            place = self.lay.along.get(self.lay.stage[name], len(self.lay.along))
            return abs(place - middle), self.lay.place[name]

        return min(now, key=away)

    def _part(self, state: State, odds: Floats, now: Collection[str]) -> str:
        """Of the likeliest stage that has checks left, the likeliest part for its minutes."""
        share: dict[str, float] = {}
        for fault, p in zip(self.model.faults, odds, strict=True):
            share[fault.stage] = share.get(fault.stage, 0.0) + float(p)
        stages = {self.lay.stage[name] for name in now}
        guilty = max(stages, key=lambda stage: (share.get(stage, 0.0), stage))
        here = [name for name in now if self.lay.stage[name] == guilty]
        return max(
            here,
            key=lambda name: (
                self._suspicion(odds, name) / max(self._minutes(state, name), 0.01),
                [-n for n in self.lay.place[name]],
            ),
        )

    def _suspicion(self, odds: Floats, name: str) -> float:
        """Odds that the part of a check is the bad one; of one done to no part, that it shows
        something else than it does most often."""
        on = self.model.test(name).on
        mass = sum(
            float(p)
            for fault, p in zip(self.model.faults, odds, strict=True)
            if on and on in {faulty.part for faulty in fault.parts}
        )
        if mass > 0.0:
            return mass
        return 1.0 - max(float(odds @ row) for row in self.tables.likelihoods[name].values())

    def _leads(self, state: State, test: str, choices: Collection[str]) -> frozenset[str]:
        """The leads of other readings that he wants in the same turn, where hands go in for it."""
        record = self.model.test(test)
        there = setup.reach(self.model, state, record)
        if not is_live(self.model, record) or there == state or not _is_led(self.model, record):
            return frozenset()
        others = (self.model.test(name) for name in choices)
        alike = [t for t in others if (t.supply, t.rig) == (record.supply, record.rig)]
        leads = {name for t in alike for name in t.opened if _is_lead(self.model, name)}
        near = {o for o in leads if set(self.model.opening(o).after) <= there.opened}
        return frozenset(near - there.opened)

    def _own_check(
        self, state: State, odds: Floats, remedy: str, tests: set[str], open_to: Collection[str]
    ) -> str:
        """The check of the part that the remedy would renew, where none was done; else empty."""
        if self.model.remedy(remedy).kind != "repair":
            return ""
        parts = self._renews(odds, remedy)
        places = {self.model.test(name).on for name in tests} - {""}
        stages = {fault.stage for fault in self.model.faults}
        if (
            not parts
            or parts & places
            or any(self._holds_fault(odds, on) for on in places & stages)
        ):
            return ""
        own = [
            name for name in open_to
            if self.model.test(name).on in parts and not is_live(self.model, self.model.test(name))
        ]  # fmt: skip
        return min(own, key=lambda n: (self._minutes(state, n), n), default="")

    def _renews(self, odds: Floats, remedy: str) -> set[str]:
        """The parts of the likeliest fault that the remedy cures."""
        cures = set(self.model.remedy(remedy).cures)
        likely = [
            (float(p), at) for at, p in enumerate(odds) if self.model.faults[at].id in cures
        ]  # fmt: skip
        if not likely:
            return set()
        return {faulty.part for faulty in self.model.faults[max(likely)[1]].parts}

    def _holds_fault(self, odds: Floats, stage: str) -> bool:
        """Whether a stage that was looked at holds the fault as surely as a verdict asks."""
        odds_here = [
            float(p)
            for fault, p in zip(self.model.faults, odds, strict=True)
            if fault.stage == stage
        ]
        return sum(odds_here) >= ENOUGH

    def _minutes(self, state: State, name: str) -> float:
        test = self.model.test(name)
        return test.minutes + setup.minutes(self.model, state, setup.reach(self.model, state, test))

    def _regret(self, odds: Floats) -> float:
        """Minutes by which stopping now is dearer than knowing the fault would be."""
        r = self.remedies
        each = r.minutes[:, None] + r.wrong_verdict_minutes * (1.0 - r.cures)
        return float((each @ odds).min() - odds @ each.min(axis=0))


def _narrow(remedies: Remedies) -> Floats:
    """Rows of the remedies that are some fault's quickest cure: a stage reworked or a board put in
    for lack of a better is no place that the readings have singled out."""
    cures = np.where(remedies.mends[:, None] * remedies.cures > 0.0, 1.0, 0.0)
    minutes = np.where(cures > 0.0, remedies.minutes[:, None], np.inf)
    quickest = set(minutes.argmin(axis=0)[np.isfinite(minutes.min(axis=0))].tolist())
    is_quickest = np.array([float(at in quickest) for at in range(len(cures))])
    rows: Floats = cures * is_quickest[:, None]
    return rows


def _is_lead(model: Model, opening: str) -> bool:
    return model.opening(opening).kind == "lead"


def _is_led(model: Model, test: Test) -> bool:
    return any(_is_lead(model, opening) for opening in test.opened)


def _along(model: Model) -> dict[str, int]:
    """Stages in the order of the power: each behind those that feed it, control behind all."""
    fed_stages = {name for stage in model.stages for name in stage.feeds}
    feeding = [s for s in model.stages if s.feeds or s.id in fed_stages]
    order: list[str] = []
    left = list(feeding)
    while left:
        waiting = {name for stage in left for name in stage.feeds}
        # a ring of stages feeds itself: it is entered at its first one
        ready = next((s for s in left if s.id not in waiting), left[0])
        left.remove(ready)
        order.append(ready.id)
    aside = {s.id for s in model.stages if s.family == _SERIES and not s.feeds}
    path = [name for name in order if name not in aside]
    return {name: at for at, name in enumerate((*path, *(n for n in order if n in aside)))}


def _stage(model: Model, test: Test) -> str:
    """The stage that a check is done to, by its part or its test point; empty for the unit."""
    for stage in model.stages:
        if test.on and (test.on == stage.id or test.on in stage.parts):
            return stage.id
    return next((point.stage for point in model.points if point.id == test.point), "")


def _turn(model: Model, test: Test, stage: str) -> Turn:
    """The step that a check belongs to."""
    note = next((s for s in model.stages if s.id == stage), None)
    supply = model.arrangement(test.supply)
    if supply.closed_only or (supply.energy == UNENERGISED and not (test.opened or test.hands_on)):
        return Turn.OUTSIDE
    live = is_live(model, test)
    if not test.opened and supply.energy == UNENERGISED:
        return Turn.CONTACTS
    if note is not None and note.family == _LIGHT and (not live or supply.energy == "hvdc"):
        return Turn.LIGHT
    if supply.energy == UNENERGISED and note is not None:
        if note.family == _SUPPLY and _comes_in(model, stage):
            return Turn.CONTACTS
        if test.on == stage:
            return Turn.LOOK
    if live and note is not None and note.family == _SERIES and note.feeds and test.on:
        return Turn.SPLIT
    if live or (supply.energy == "elv" and (test.point or test.on == stage != "")):
        return Turn.POWERED
    return Turn.PARTS


def _comes_in(model: Model, stage: str) -> bool:
    """Whether nothing feeds the stage while it feeds others: mains come in there."""
    feeds = next(s.feeds for s in model.stages if s.id == stage)
    return bool(feeds) and not any(stage in other.feeds for other in model.stages)


def _within(model: Model, test: Test) -> tuple[float, ...]:
    """The place of a check within its turn: less opened first, the eye before the battery before
    joints, cold before live, readings of the unit itself before those of a stage that is fed."""
    opening_minutes = sum(model.opening(name).minutes for name in setup.closure(model, test.opened))
    energy = model.arrangement(test.supply).energy
    eye = energy == UNENERGISED and any(test.on == stage.id for stage in model.stages)
    is_light = any(test.on in stage.parts for stage in model.stages if stage.family == _LIGHT)
    if eye:
        return (opening_minutes, 0.0)
    if is_light:
        return (opening_minutes, {"elv": 1.0, "hvdc": 2.0}.get(energy, 3.0))
    return (opening_minutes, {UNENERGISED: 1.0, "mains": 2.0, "hvdc": 2.0}.get(energy, 3.0))
