"""Random walks with the real planner: does any verdict name a part that nobody measured?

People answer rightly or not, can't do this, lack that, know things, take words back, repair and
come back with the unit as it was. Whatever they do, a verdict names no part whose own check was not
made, unless none can be made here; then the verdict says so. An open fuse is never renewed
alone before each short that could have opened it was read free of. All is seeded.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any

from engine.model.plan import Plan, State
from engine.model.records import Model
from engine.planner import plan
from engine.walk import events, job, undo
from engine.walk.ending import conclude
from engine.walk.state import Outset, Walk
from kb.trouble import TroubleError
from tests.safety.fuzz_walk import MAINS, Key, shipped
from tests.safety.measured import Measured, all_shown, knowing

MOST_STEPS = 60
PLAN_EFFORT = 2e7
"""Plans on the way are the first that are found: what they must keep they keep unproved, too."""


@dataclass(slots=True)
class Tally:
    """What happened on walks, and each breach with where it stood."""

    counts: Counter[str] = field(default_factory=Counter)
    breaches: list[str] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Take in the tally of other walks."""
        self.counts += other.counts
        self.breaches += other.breaches


class _Quick:
    """The planner with little time, each walk's first plan made once for a unit."""

    def __init__(self) -> None:
        self.first: dict[str, Plan] = {}

    def __call__(
        self,
        model: Model,
        /,
        *,
        belief: Mapping[str, float] | None,
        state: State | None,
        withdrawn: frozenset[str],
        tests_done: frozenset[str],
        answers: tuple[tuple[str, str], ...] = (),
    ) -> Plan:
        """The plan found in that time."""
        make = partial(
            plan, model, belief=belief, state=state, withdrawn=withdrawn, tests_done=tests_done,
            answers=answers, seconds=0.0, effort=PLAN_EFFORT,
        )  # fmt: skip
        if belief is not None:
            return make()
        self.first[model.topology] = self.first.get(model.topology) or make()
        return self.first[model.topology]


@cache
def _unit(key: Key) -> tuple[Outset, Measured, _Quick]:
    model = shipped(*key).model
    return Outset(model), Measured(model, knowing(key[0], MAINS[key[1]])), _Quick()


def walked(key: Key, seed: int) -> Tally:
    """One random walk of a shipped unit."""
    return _Person(key, seed).walked()


class _Person:
    def __init__(self, key: Key, seed: int) -> None:
        self.key, self.seed, self.chance = key, seed, random.Random(seed)
        outset, self.law, planner = _unit(key)
        self.model = outset.model
        faults = self.model.faults
        self.fault = self.chance.choices(faults, [fault.prior for fault in faults])[0].id
        self.wild = self.chance.choice([0.0, 0.05, 0.3])
        self.walk: Walk = job.begin(outset, planner)
        self.tally = Tally(Counter(walks=1))

    def walked(self) -> Tally:
        """The walk, to its end or until the person has had enough."""
        for _ in range(MOST_STEPS):
            ahead = job.pending(self.walk)
            if isinstance(ahead, job.Setting):
                self._take(ahead.event)
            elif isinstance(ahead, job.Question):
                self._reply(ahead.test)
            elif self.walk.is_ended:
                self._judge()
                if not self._now(0.6) or not self._go_on():
                    break
            else:
                break
        return self.tally

    def _now(self, share: float) -> bool:
        return self.chance.random() < share

    def _take(self, event: Any) -> bool:
        try:
            self.walk = job.take(self.walk, event)
        except TroubleError:
            self.tally.counts["refusals"] += 1
            return False
        self.tally.counts[type(event).__name__] += 1
        return True

    def _reply(self, test: str) -> None:
        if self._now(0.08):
            self._take(events.CannotDo(test))
        elif self._now(0.03):
            needed = self.model.test(test)
            kind, thing = self.chance.choice([("supply", needed.supply), ("rig", needed.rig)])
            self._take(events.Lacking(kind, thing))
        elif self._now(0.04):
            self._know()
        elif self._now(0.04) and undo.can_undo(self.walk):
            self.walk = undo.undo(self.walk)
            self.tally.counts["undo"] += 1
        elif not self._take(events.Answered(test, self._shown(test))):
            self._take(events.CannotDo(test))

    def _know(self) -> None:
        left = [t.id for t in self.model.tests if t.id not in self.walk.done]
        if left:
            test = self.chance.choice(left)
            self._take(events.Known(test, self._shown(test)))

    def _shown(self, test: str) -> str:
        row = self.model.row(test, self.fault)
        if self._now(self.wild):
            return self.chance.choice([o.id for o in self.model.test(test).outcomes])
        return self.chance.choices(list(row), list(row.values()))[0]

    def _go_on(self) -> bool:
        """The repair did not help, or a word more is said after the verdict."""
        self.tally.counts["beyond a verdict"] += 1
        if self._now(0.2):
            self._know()
            return True
        verdict = self.walk.plan.nodes[self.walk.node]
        return self._take(events.Unmended(getattr(verdict, "remedy", "")))

    def _judge(self) -> None:
        """What the verdict names, held against the answers given so far."""
        self.tally.counts["verdicts"] += 1
        ending, law = conclude(self.walk), self.law
        answers = [(s.test, s.answer) for s in self.walk.steps if s.test and s.answer]
        for lack in sorted(law.lacks(ending.remedy.id, all_shown(law, answers))):
            checks = law.checks(lack)
            if not checks or any(self._could_do(check) for check in checks):
                self._tell(f"{ending.remedy.id} without {lack}")
            elif lack not in ending.unmeasured:
                self._tell(f"{ending.remedy.id} does not say that {lack} was not measured")
            else:
                self.tally.counts["said to be unmeasured"] += 1

    def _could_do(self, test: str) -> bool:
        """Whether it is still to be done and can be: a closed unit's test can't once it is open."""
        arrangement = self.model.arrangement(self.model.test(test).supply)
        shut_out = arrangement.closed_only and bool(self.walk.bench.opened)
        return not shut_out and test not in self.walk.unavailable | self.walk.done

    def _tell(self, what: str) -> None:
        lately = [f"{s.test}={s.answer}" if s.answer else s.kind for s in self.walk.steps
                  if s.kind != "setup"]  # fmt: skip
        place = f"{self.key}, seed {self.seed}"
        self.tally.breaches.append(f"{place}: {what}, after {' '.join(lately[-12:])}")
