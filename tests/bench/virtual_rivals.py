"""Chart, walk and old hand on the same virtual units, side by side.

The chart and the old hand are those of `engine.studies.contest`; only what the unit answers is
another thing: not a draw from the model's row but what the simulated circuit shows and a person
reads. A number that fits no outcome counts as a check that can't be done. Time away from the first
verdict is not counted for anyone: repairs that did not help stand in the walk's own table.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from engine.model import setup
from engine.model.records import Model
from engine.planner import plan
from engine.readings.belief import prepare
from engine.readings.confusion import Readings
from engine.studies.contest import HinderedUnit, OldHand
from engine.studies.trial.simulation import ChartWay, Way
from tests.bench.virtual_table import Rival, Try
from tests.bench.virtual_unit import Person, VirtualUnit

CHART, WALK, OLD_HAND = "chart", "walk", "old hand"
WAYS = (CHART, WALK, OLD_HAND)


@dataclass(slots=True)
class Benched(HinderedUnit):
    """A virtual unit as the ways of the contest see it."""

    made: VirtualUnit | None = None
    person: Person | None = None
    asked: list[str] = field(default_factory=list)

    def hinders(self, test: str) -> bool:
        """Whether what is read counts as no outcome."""
        if test not in self.cannot:
            self.cannot[test] = not self._told(test, 0)
        return self.cannot[test]

    def read(self, test: str, opened: frozenset[str] = frozenset()) -> int:
        """Do and read a test; one that can't be done is taken for what it shows most often."""
        if self.hinders(test):
            return HinderedUnit.read(self, test, opened)
        asked = self.readings.model.test(test)
        self.stand(setup.reach(self.readings.model, self.state, asked, opened))
        self.minutes += asked.minutes
        takes = self.answers.setdefault(test, [])
        told = self._told(test, len(takes)) or self._told(test, 0)
        takes.append(self.readings.outcomes[test].index(told))
        self.asked.append(f"{test} {told}")
        return takes[-1]

    def _told(self, test: str, take: int) -> str:
        assert self.made is not None
        assert self.person is not None
        asked = self.readings.model.test(test)
        return str(self.made.answer(asked, self.person, take).answer.outcome)


@dataclass(frozen=True, slots=True)
class Rivals:
    """Chart and old hand for a model, ready to work."""

    readings: Readings
    ways: dict[str, Way]

    @classmethod
    def of(cls, model: Model) -> Rivals:
        """The proved chart, and the old hand."""
        chart = ChartWay(plan(model, seconds=30.0), {})
        return cls(Readings.of(model), {CHART: chart, OLD_HAND: OldHand.of(model, prepare(model))})


def worked(rivals: Rivals, way: str, made: VirtualUnit, person: Person) -> Rival:
    """One way of working on one unit, to its first verdict."""
    model = rivals.readings.model
    fault = rivals.readings.faults.index(made.fault.id)
    chance = np.random.default_rng(0)  # nothing is drawn: the unit answers
    unit = Benched(rivals.readings, fault, chance, setup.start(model), made=made, person=person)
    remedy = rivals.ways[way](unit) or ""
    cures = model.remedy(remedy).cures if remedy else ()
    return Rival(way, remedy, made.fault.id in cures, unit.minutes, tuple(unit.asked))


def _all_ways(one: Try) -> dict[str, Rival]:
    walk = Rival(WALK, one.remedy, one.right, one.minutes, tuple(map(str, one.asked)))
    return {WALK: walk, **{rival.way: rival for rival in one.rivals}}


def side_by_side(found: Sequence[Try], say: Callable[[str], None]) -> None:
    """Minutes and right verdicts of each way for each lamp and mains, weighed by the priors; then
    fault by fault, with a star where the old hand is right and quicker than chart or walk."""
    say("")
    heads = "".join(f"{way:>10} {'right':>6}" for way in WAYS)
    say(f"{'mean minutes by prior':37}{heads}{'chart':>8}{'walk':>7}  under the old hand")
    keys = sorted({(one.topology, one.volts, one.mistakes) for one in found})
    for key in keys:
        _line(key, [o for o in found if (o.topology, o.volts, o.mistakes) == key], say)
    for key in keys:
        if key[2] == 0.0:
            part = [o for o in found if (o.topology, o.volts, o.mistakes) == key]
            _faults(key, part, say)


def _line(key: tuple[str, str, float], part: Sequence[Try], say: Callable[[str], None]) -> None:
    tries: defaultdict[str, int] = defaultdict(int)
    for one in part:
        tries[one.fault] += 1
    weights = np.array([one.prior / tries[one.fault] for one in part])
    weights /= weights.sum()
    ends = [_all_ways(one) for one in part]
    minutes = {w: float(weights @ np.array([e[w].minutes for e in ends])) for w in WAYS}
    right = {w: float(weights @ np.array([float(e[w].right) for e in ends])) for w in WAYS}
    told = "".join(f"{minutes[way]:10.1f} {right[way]:6.1%}" for way in WAYS)
    under = [1.0 - minutes[way] / minutes[OLD_HAND] for way in (CHART, WALK)]
    say(f"{f'{key[0]} {key[1]} V, {key[2]:.0%} misread':37}{told}{under[0]:8.0%}{under[1]:7.0%}")


def _faults(key: tuple[str, str, float], part: Sequence[Try], say: Callable[[str], None]) -> None:
    say("")
    say(f"{f'{key[0]} {key[1]} V, minutes':37}{'prior':>6}{''.join(f'{w:>11}' for w in WAYS)}")
    by_fault: defaultdict[str, list[Try]] = defaultdict(list)
    for one in part:
        by_fault[one.fault].append(one)
    for fault, tries in by_fault.items():
        ends = [_all_ways(one) for one in tries]
        mean = {w: sum(e[w].minutes for e in ends) / len(ends) for w in WAYS}
        wrong = {w: sum(not e[w].right for e in ends) for w in WAYS}
        told = "".join(f"{mean[w]:10.1f}{'!' if wrong[w] else ' '}" for w in WAYS)
        quicker = not wrong[OLD_HAND] and mean[OLD_HAND] < max(mean[CHART], mean[WALK])
        say(f"  {fault:35}{tries[0].prior:6.3f}{told}{' *' if quicker else ''}")
    say("! a wrong verdict; * the old hand is right, and quicker than chart or walk")
