"""What stands at the end of a walk: the remedy, how sure it is, and what is left unsaid.

The remedy is the plan's. Confidence and odds come from the belief, misreads included, so a verdict
that hangs on one doubtful reading shows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import repeat

from engine.chart.cautioning import HANDS_KINDS
from engine.model import makesafe, setup
from engine.model.plan import Verdict
from engine.model.records import Proof, Remedy, Store, Test
from engine.walk.job import Step, Walk, suspicion
from engine.walk.repetition import Repetition
from engine.walk.rereading import slips, worth_rereading

# Odds below this are not worth a line to the person at the bench; the document keeps all.
WORTH_TELLING = 0.01


@dataclass(frozen=True, slots=True)
class Doubt:
    """An answer of the walk and the odds that it was misread, all answers considered."""

    step: int
    test: str
    answer: str
    odds: float


@dataclass(frozen=True, slots=True)
class Finer:
    """The most useful test left: bench minutes it takes (setups included) and is expected to save.

    Minutes saved are those of remedies and wrong verdicts, `worth_it` when they exceed the taken.
    """

    test: str
    minutes: float
    saves: float

    @property
    def worth_it(self) -> bool:
        """Whether asking on would be cheaper than stopping, one test ahead."""
        return self.saves > self.minutes


@dataclass(frozen=True, slots=True)
class Ending:
    """The verdict: `faults` are odds over all faults, likeliest first; `confidence` is the
    probability that the remedy cures. `finer` is None when no test left tells the rest apart,
    `again` when doing a test once more, lest it was misread, saves less than it takes;
    `make_safe` are the stores to measure before the remedy, `opening_up` those that it comes upon
    further in, each with the opening that shows it; `unmeasured` are parts that the remedy wants
    measured, and no test left could have."""

    remedy: Remedy
    confidence: float
    faults: tuple[tuple[str, float], ...]
    proofs: tuple[Proof, ...]
    companions: tuple[str, ...]
    finer: Finer | None
    again: Repetition | None
    doubts: tuple[Doubt, ...]
    make_safe: tuple[Store, ...]
    opening_up: tuple[tuple[Store, str], ...] = ()
    unmeasured: tuple[str, ...] = ()


def conclude(walk: Walk) -> Ending:
    """The ending of a walk that has reached its verdict; ValueError before that."""
    node = walk.plan.nodes[walk.node]
    if not walk.is_ended or not isinstance(node, Verdict):
        raise ValueError("the walk has not reached a verdict")
    model = walk.model
    remedy = model.remedy(node.remedy)
    by_id = {proof.id: proof for proof in model.proofs}
    ranking = sorted(walk.belief.items(), key=lambda pair: -pair[1])
    return Ending(
        remedy=remedy,
        confidence=min(1.0, sum(walk.belief[fault] for fault in remedy.cures)),
        faults=tuple((fault, p) for fault, p in ranking if p > 0),
        proofs=tuple(by_id[proof] for proof in remedy.proofs),
        companions=remedy.companions,
        finer=_finer(walk),
        again=worth_rereading(walk),
        doubts=_doubts(walk),
        make_safe=_due(walk, remedy),
        opening_up=_ahead(walk, remedy),
        unmeasured=_waivers(walk, remedy),
    )


def _waivers(walk: Walk, remedy: Remedy) -> tuple[str, ...]:
    """What the remedy requires and the answers don't show: it was waived."""
    return tuple(
        requirement.of
        for requirement in remedy.requires
        if not any(outcome in requirement.by.get(test, ()) for test, outcome in walk.answers)
    )


def _due(walk: Walk, remedy: Remedy) -> tuple[Store, ...]:
    """The stores to be measured at once, where hands go into the unit or close it up again."""
    if remedy.kind not in HANDS_KINDS and not makesafe.is_opened(walk.model, walk.bench.opened):
        return ()
    return makesafe.stores_due(walk.model, _low(walk), walk.dead_bench)


def _ahead(walk: Walk, remedy: Remedy) -> tuple[tuple[Store, str], ...]:
    """The stores that the remedy comes upon, each with the opening that shows it."""
    if remedy.kind not in HANDS_KINDS:
        return ()
    return makesafe.on_the_way_in(walk.model, _low(walk), walk.bench.opened)


def _low(walk: Walk) -> frozenset[str]:
    is_charged = makesafe.charges(walk.model, walk.bench.supply)
    return frozenset() if is_charged else walk.low


def _finer(walk: Walk) -> Finer | None:
    """One test ahead: the test left with the largest saving less its minutes; O(tests x faults)."""
    weights = suspicion(walk)
    now = _stop_cost(walk, weights)
    best: Finer | None = None
    for test in walk.model.tests:
        minutes = _minutes_to(walk, test)
        if minutes is None:
            continue
        saves = now - sum(_stop_cost(walk, part) for part in _split(walk, test, weights))
        if saves > 1e-9 and (best is None or saves - minutes > best.saves - best.minutes):
            best = Finer(test.id, minutes, saves)
    return best


def _minutes_to(walk: Walk, test: Test) -> float | None:
    """Minutes of the test with its setups from the present bench; None where it can't be done."""
    if test.id in walk.done or test.id in walk.unavailable:
        return None
    if not setup.allows(walk.model, walk.bench, test):
        return None
    target = setup.reach(walk.model, walk.bench, test)
    return test.minutes + setup.minutes(walk.model, walk.bench, target)


def _split(walk: Walk, test: Test, weights: Mapping[str, float]) -> list[dict[str, float]]:
    """Unnormalised weights after each outcome, as the plan foresees it on this unit."""
    rows = [(f, w, walk.outlook.row(test.id, f)) for f, w in weights.items() if w]
    return [
        {f: w * row.get(outcome.id, 0.0) for f, w, row in rows} for outcome in test.outcomes
    ]


def _stop_cost(walk: Walk, weights: Mapping[str, float]) -> float:
    """Least cost of stopping here, times the probability of being here."""
    total = sum(weights.values())
    wrong = walk.model.wrong_verdict_minutes
    return min(
        remedy.minutes * total
        + wrong * (total - sum(map(weights.get, remedy.cures, repeat(0.0))))
        for remedy in walk.model.remedies
    )


def _doubts(walk: Walk) -> tuple[Doubt, ...]:
    """Odds of each answer having been misread given them all, largest first.

    Given the fault, answers are independent, so the odds are a mean over the final belief.
    """
    doubts, by_step = [], slips(walk)
    for number, step in enumerate(walk.steps, start=1):
        if step.test is None or step.answer is None:
            continue
        misreadings = by_step.get(number, step.slips)
        odds = sum(p * _slip(walk, step, fault, misreadings) for fault, p in walk.belief.items())
        doubts.append(Doubt(number, step.test, step.answer, odds))
    return tuple(sorted(doubts, key=lambda doubt: -doubt.odds))


def _slip(walk: Walk, step: Step, fault: str, misreadings: Mapping[str, float]) -> float:
    if fault in misreadings:
        return misreadings[fault]
    assert step.test is not None
    assert step.answer is not None
    return _misread(walk, step.test, fault, step.answer)


def _misread(walk: Walk, test_id: str, fault: str, answer: str) -> float:
    """Probability that the true outcome was another than the one told, under this fault."""
    test, row = walk.model.test(test_id), walk.model.row(test_id, fault)
    right = row.get(answer, 0.0) * (1.0 - sum(test.misread.get(answer, {}).values()))
    wrong = sum(
        p * test.misread.get(true, {}).get(answer, 0.0) for true, p in row.items() if true != answer
    )
    return wrong / (right + wrong) if right + wrong > 0 else 1.0
