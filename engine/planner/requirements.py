"""What must have been shown before a test is done or a remedy named: bits of the planner's state.

Each requirement that can still bar something is one bit, set by the outcomes that meet it. One that
no test left could meet is waived where none of its tests can be done here. Where one was done and
did not meet it, or it is strict, what asks for it is out of reach, as it is on a chart.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.model.records import Requirement, Test
from engine.model.requirements import Answers, is_met

MOST = 64
"""Requirements that the planner's state has bits for."""


@dataclass(frozen=True, slots=True)
class Register:
    """The requirements still open, each with its bit, and those that nothing can meet any more.

    `setting` are the bits that each outcome sets, by test and outcome; others set none.
    """

    open: tuple[Requirement, ...]
    lost: tuple[Requirement, ...]
    setting: Mapping[tuple[str, str], int]

    @classmethod
    def of(
        cls, askers: Iterable[tuple[Requirement, ...]], left: Collection[str], answers: Answers
    ) -> Register:
        """Register what `askers` require; `left` are the tests that can still be done."""
        open_ones: list[Requirement] = []
        forfeits: list[Requirement] = []
        tests = {test for test, _ in answers}
        for requirement in (r for requires in askers for r in requires):
            if requirement in open_ones or requirement in forfeits or is_met(requirement, answers):
                continue
            if any(test in left for test in requirement.by):
                open_ones.append(requirement)
            elif requirement.strict or not tests.isdisjoint(requirement.by):
                forfeits.append(requirement)
        setting: defaultdict[tuple[str, str], int] = defaultdict(int)
        for bit, requirement in enumerate(open_ones):
            for test, outcomes in requirement.by.items():
                for outcome in outcomes:
                    setting[test, outcome] |= 1 << bit
        return cls(tuple(open_ones), tuple(forfeits), dict(setting))

    def bits(self, requires: Iterable[Requirement]) -> int:
        """The bits of those still open."""
        numbers = {self.open.index(r) for r in requires if r in self.open}
        return sum(1 << bit for bit in numbers)

    def is_barred(self, requires: Iterable[Requirement]) -> bool:
        """Whether one of them can't be met any more."""
        return any(requirement in self.lost for requirement in requires)

    def bits_of(self, test: str, outcome: str) -> int:
        """The bits that an outcome of a test sets."""
        return self.setting.get((test, outcome), 0)

    def meets(self, test: Test) -> bool:
        """Whether some outcome of the test meets something that is still open."""
        return any(self.bits_of(test.id, outcome.id) for outcome in test.outcomes)


@dataclass(frozen=True, slots=True)
class Due:
    """What each class must meet: requirements by bit from `first[k]` to `first[k + 1]`, with the
    minutes that it loses at least by remedies that don't ask for them."""

    first: NDArray[np.int32]
    bit: NDArray[np.int32]
    forfeit: NDArray[np.float64]


def due(regret: NDArray[np.float64], wants: Sequence[int]) -> Due:
    """What each class must meet, the dearest to forfeit first; `regret` is [remedies][classes]."""
    least: dict[int, NDArray[np.float64]] = {}
    for bit in range(MOST):
        demands = np.array([want >> bit & 1 for want in wants], dtype=bool)
        if demands.any():
            least[bit] = regret[~demands].min(axis=0)
    first, bits, forfeits = [0], list[int](), list[float]()
    for k in range(regret.shape[1]):
        losses = ((bit, float(row[k])) for bit, row in least.items())
        for bit, loss in sorted(losses, key=lambda pair: -pair[1]):
            if loss > 0:
                bits.append(bit)
                forfeits.append(loss)
        first.append(len(bits))
    return Due(
        np.array(first, dtype=np.int32),
        np.array([*bits, 0], dtype=np.int32),
        np.array([*forfeits, 0.0]),
    )


def remedy_bits(cost: NDArray[np.float64], wants: Sequence[int]) -> list[int]:
    """[classes] bits of the remedies worth naming for each; `cost` is [remedies][classes].

    A remedy that costs no less than a free one on every class in question is never needed; the free
    one taken is that whose dearest class is the cheapest.
    """
    free = [r for r, want in enumerate(wants) if not want]
    refuge = min(free, key=lambda r: float(cost[r].max()))
    better = cost < cost[refuge]
    bits = [0] * cost.shape[1]
    for r, want in enumerate(wants):
        for k in np.flatnonzero(better[r]) if want else ():
            bits[int(k)] |= want
    return bits
