"""Set-up steps that stand on one list and are confirmed by one word; and which of them the answer
to their check confirms.

Whatever is to be measured ends a list: its volts are typed before hands go on. So does unplugging,
which is confirmed by itself. An answer alone stands for a set-up only where nothing is opened and
the unit is fed from a limited source or whole and closed: were it not set up yet, the walk would
take the bench for livelier than it is, never for safer.
"""

from __future__ import annotations

from dataclasses import dataclass

from engine.model.plan import State
from engine.model.records import Test
from engine.model.setup import start
from engine.walk import job
from engine.walk.job import Question, Setting, Walk

LOW_VOLTS = "elv"


@dataclass(frozen=True, slots=True)
class SetUps:
    """Set-ups in the order of the hands, each with the walk as it stands before it; `test` is the
    check whose answer confirms them, None where they are confirmed first."""

    steps: tuple[tuple[Walk, Setting], ...]
    test: Test | None

    @property
    def last(self) -> Setting:
        """The one whose stores are measured in the end."""
        return self.steps[-1][1]

    @property
    def minutes(self) -> float:
        """Of all of them."""
        return sum(setting.minutes for _, setting in self.steps)

    def carried_out(self, volts: dict[str, float | None]) -> Walk:
        """The walk after all of them, with the volts of the stores of the last."""
        walk, setting = self.steps[-1]
        return job.take(walk, setting.arrival(volts))


@dataclass(frozen=True, slots=True)
class Met:
    """The supplies and rigs that were set up since somebody last came to the bench, and how the
    bench stood then."""

    supplies: frozenset[str]
    rigs: frozenset[str]
    benches: tuple[State, ...]


def met(walk: Walk) -> Met:
    """What the person has met so far, and need not be told from the start."""
    supplies, rigs, benches = set[str](), set[str](), list[State]()
    before = start(walk.model)
    for step in walk.steps:
        if step.kind in ("away", "repair"):
            supplies.clear()
            rigs.clear()
            benches.clear()
        elif step.kind == "setup":
            if step.bench.supply != before.supply:
                supplies.add(step.bench.supply)
            if step.bench.rig != before.rig:
                rigs.add(step.bench.rig)
            benches.append(before := step.bench)
    return Met(frozenset(supplies), frozenset(rigs), tuple(benches))


def ahead(walk: Walk, setting: Setting) -> SetUps:
    """The set-ups that are shown together from here on."""
    steps = [(walk, setting)]
    while not _stands_alone(*steps[-1]):
        before, last = steps[-1]
        after = job.take(before, last.arrival({}))
        match job.pending(after):
            case Setting() as following if following.test == setting.test:
                steps.append((after, following))
            case Question(test) if _is_confirmed_by_answer(steps):
                return SetUps(tuple(steps), walk.model.test(test))
            case _:
                break
    return SetUps(tuple(steps), None)


def _stands_alone(walk: Walk, setting: Setting) -> bool:
    """Whether hands stop after it: to measure, or because it unplugs."""
    model = walk.model
    unplugs = setting.bench.supply == model.dead_supply != walk.bench.supply
    return bool(setting.make_safe) or setting.returns or not setting.test or unplugs


def _is_confirmed_by_answer(steps: list[tuple[Walk, Setting]]) -> bool:
    model = steps[0][0].model
    supply = model.arrangement(steps[-1][1].bench.supply)
    is_mild = supply.energy == LOW_VOLTS or supply.closed_only
    return is_mild and not any(setting.opened for _, setting in steps)
