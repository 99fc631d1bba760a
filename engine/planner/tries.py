"""Repairs that need not be tried: what the plan would learn by one, it learns cheaper.

A repair is tried once the part's own check was made (`Test.requires`). Say that each answer of that
check leaves either nothing but faults that the remedy cures, or none of them.

- In the first case naming the remedy is cheaper than trying it, if it may be named as soon as the
  repair may be tried, and if the try parts none of the faults that it cures.
- In the second the repair changes nothing, and watching the unit without it tells the same, as
  often as one likes: so each fault left must show one answer for sure, lest a second look be worth
  something. Hands go in to undo the repair, so what the watching leaves shut is opened then for no
  more. Keeping the repair is no way out for a fault that it does not cure where giving the unit up
  takes no more minutes than a wrong verdict.

Nothing but keeping the repair may wait for the try. Then no plan is better for it, and the search
is spared it. Where a check can't tell (in the middle of a walk, where readings are open to doubt)
the repair stays in the running.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from engine.model.records import Model, Requirement, Test
from engine.model.requirements import Answers, is_met
from engine.model.setup import closure
from engine.planner.bundles import LEAD


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
    if not (_no_dearer(model, test) and _serves_itself(model, test, tests)):
        return False
    here = {other.id for other in tests}
    if not all(_is_free(r, test, here, answers) for r in model.remedy(test.mends).requires):
        return False
    ways = tuple(_left(model, test, tests, belief, answers))
    if any(_open_either_way(model, test, left) for left in ways):
        return False
    left = frozenset[str]().union(*ways)
    cures = left.intersection(model.remedy(test.mends).cures)
    rest = left - cures
    if len({_row(model, test, fault) for fault in cures}) > 1:
        return False
    if any(len(_row(model, test, fault)) > 1 for fault in rest):
        return False
    return _way_out(model, rest, here) and any(
        _tells_the_same(model, test, other, rest) for other in tests
    )


def _no_dearer(model: Model, test: Test) -> bool:
    """Whether naming the remedy costs no more than trying it and keeping what was done."""
    keeps = [remedy.minutes for remedy in model.remedies if _waits(test, remedy.requires)]
    cost = model.rig(test.rig).minutes + test.minutes + min(keeps, default=0.0)
    return model.remedy(test.mends).minutes <= cost


def _waits(test: Test, requires: Collection[Requirement]) -> bool:
    return any(test.id in requirement.by for requirement in requires)


def _serves_itself(model: Model, test: Test, tests: Sequence[Test]) -> bool:
    """Whether nothing waits for the try but remedies that cure no more than the one it tries, and
    its rig is put on by hand and for it alone."""
    cures = set(model.remedy(test.mends).cures)
    remedies = [remedy for remedy in model.remedies if _waits(test, remedy.requires)]
    return (
        all(cures.issuperset(remedy.cures) for remedy in remedies)
        and not any(_waits(test, other.requires) for other in tests)
        and not any(other.rig == test.rig for other in tests if other is not test)
        and model.rig(test.rig).hands_on
    )


def _is_free(requirement: Requirement, test: Test, here: set[str], answers: Answers) -> bool:
    """Whether what the remedy requires has been shown wherever the repair may be tried."""
    if requirement in test.requires or is_met(requirement, answers):
        return True
    return not requirement.strict and here.isdisjoint(requirement.by)


def _open_either_way(model: Model, test: Test, left: Collection[str]) -> bool:
    cures = set(model.remedy(test.mends).cures)
    return not cures.isdisjoint(left) and not cures.issuperset(left)


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
        if is_met(requirement, answers):
            continue
        if requirement.strict:
            possible &= {f for f in possible if any(_can(model, requirement, f, here))}
        elif not here.isdisjoint(requirement.by):
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


def _row(model: Model, test: Test, fault: str) -> frozenset[tuple[str, float]]:
    """What the test can show under a fault, with the odds."""
    return frozenset((o, odds) for o, odds in model.row(test.id, fault).items() if odds > 0)


def _way_out(model: Model, rest: Collection[str], here: set[str]) -> bool:
    """Whether something that may always be named ends these faults for no more than an error."""
    return any(
        remedy.minutes <= model.wrong_verdict_minutes
        and not any(r.strict or not here.isdisjoint(r.by) for r in remedy.requires)
        and set(remedy.cures).issuperset(rest)
        for remedy in model.remedies
    )


def _tells_the_same(model: Model, test: Test, other: Test, rest: Collection[str]) -> bool:
    """Whether the other test is open wherever this one is, no dearer, and shows the same under
    each fault that may be left and that the repair does not cure."""
    mine, its = model.rig(test.rig), model.rig(other.rig)
    if other.mends or other.requires or other.supply != test.supply:
        return False
    if other.minutes > test.minutes or its.minutes > mine.minutes:
        return False
    openings, test_openings = closure(model, other.opened), closure(model, test.opened)
    fewer = test_openings - openings
    if not openings <= test_openings or any(model.opening(name).kind == LEAD for name in fewer):
        return False
    if [(o.id, o.short) for o in other.outcomes] != [(o.id, o.short) for o in test.outcomes]:
        return False
    return all(_row(model, test, fault) == _row(model, other, fault) for fault in rest)
