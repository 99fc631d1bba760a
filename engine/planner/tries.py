"""Repairs that need not be tried: what the plan would learn by one, it learns cheaper.

A repair is tried once the part's own check was made (`Test.requires`). Say that each answer of that
check leaves either nothing but faults that the remedy cures, or none of them. In the first case
naming the remedy is cheaper than trying it. In the second the repair changes nothing, and watching
the unit without it tells the same. So where such a watching test is at hand, no plan is better for
trying the repair, and the search is spared it. Where a check can't tell (in the middle of a walk,
where readings are open to doubt) the repair stays in the running.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from engine.model import Model, Requirement, Test
from engine.setup import closure
from engine.shown import Answers, met


def futile(
    model: Model, tests: Sequence[Test], belief: Mapping[str, float], answers: Answers
) -> frozenset[str]:
    """The tests that try a repair and can't better any plan. Time: tries x tests x faults."""
    return frozenset(
        test.id
        for test in tests
        if test.mends and _is_futile(model, test, tests, belief, answers)
    )


def _is_futile(
    model: Model,
    test: Test,
    tests: Sequence[Test],
    belief: Mapping[str, float],
    answers: Answers,
) -> bool:
    if not _no_dearer(model, test):
        return False
    ways = tuple(_left(model, test, tests, belief, answers))
    if any(_open_either_way(model, test, left) for left in ways):
        return False
    spared = frozenset[str]().union(*ways).difference(model.remedy(test.mends).cures)
    return any(_tells_the_same(model, test, other, spared) for other in tests)


def _no_dearer(model: Model, test: Test) -> bool:
    """Whether naming the remedy costs no more than trying it and keeping what was done."""
    keeps = [
        remedy.minutes
        for remedy in model.remedies
        if any(test.id in requirement.by for requirement in remedy.requires)
    ]
    tried = model.rig(test.rig).minutes + test.minutes + min(keeps, default=0.0)
    return model.remedy(test.mends).minutes <= tried


def _open_either_way(model: Model, test: Test, left: Collection[str]) -> bool:
    cured = set(model.remedy(test.mends).cures)
    return not cured.isdisjoint(left) and not cured.issuperset(left)


def _left(
    model: Model,
    test: Test,
    tests: Sequence[Test],
    belief: Mapping[str, float],
    answers: Answers,
) -> Iterator[frozenset[str]]:
    """The faults that can be left in question as the repair is tried, for each way of getting
    there."""
    here = {other.id for other in tests}
    possible = frozenset(fault for fault, odds in belief.items() if odds > 0)
    own: list[Requirement] = []
    for requirement in test.requires:
        if requirement.strict:
            shown = {f for f in possible if any(_can(model, requirement, f, here))}
            possible = possible if met(requirement, answers) else possible & shown
        elif not met(requirement, answers):
            own.append(requirement)
    if not own:
        yield possible
    for name, outcomes in own[0].by.items() if own else ():
        for outcome in outcomes if name in here else ():
            yield frozenset(f for f in possible if model.row(name, f).get(outcome, 0.0) > 0)


def _can(model: Model, requirement: Requirement, fault: str, here: set[str]) -> Iterator[bool]:
    for name, outcomes in requirement.by.items():
        if name in here:
            row = model.row(name, fault)
            yield any(row.get(outcome, 0.0) > 0 for outcome in outcomes)


def _tells_the_same(model: Model, test: Test, other: Test, spared: Collection[str]) -> bool:
    """Whether the other test is open wherever this one is, no dearer, and shows the same under
    each fault that may be left and that the repair does not cure."""
    mine, its = model.rig(test.rig), model.rig(other.rig)
    if other.mends or other.requires or other.supply != test.supply:
        return False
    if other.minutes > test.minutes or its.minutes > mine.minutes:
        return False
    if (its.hands_on and not mine.hands_on) or not closure(model, other.opened) <= closure(
        model, test.opened
    ):
        return False
    if [(o.id, o.short) for o in other.outcomes] != [(o.id, o.short) for o in test.outcomes]:
        return False
    return all(model.row(test.id, fault) == model.row(other.id, fault) for fault in spared)
