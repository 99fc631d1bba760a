"""What a short forbids: a unit in which a cold check found one is not energised again.

An outcome marked `short` shows a short in the power path. From then on no test on mains or on
high-voltage DC is done to this unit: it would feed the short. Only a repair ends that.
"""

from __future__ import annotations

from collections.abc import Iterable

from engine.model.records import Model, Test

LIVE_ENERGIES = frozenset({"mains", "hvdc"})
"""Energies of supply arrangements that can feed a short: low voltage has a current limit."""


def is_live(model: Model, test: Test) -> bool:
    """Whether the test is done on mains or on high-voltage DC."""
    return model.arrangement(test.supply).energy in LIVE_ENERGIES


def bars(model: Model, test_id: str, outcome_id: str) -> frozenset[str]:
    """The tests that an outcome forbids for good: all live ones where it shows a short, else none.

    KeyError for a test or outcome that the model lacks.
    """
    if not model.test(test_id).outcome(outcome_id).short:
        return frozenset()
    return frozenset(test.id for test in model.tests if is_live(model, test))


def barred_tests(model: Model, answers: Iterable[tuple[str, str]]) -> frozenset[str]:
    """The tests that these answers, pairs of test and outcome, forbid between them."""
    return frozenset[str]().union(*(bars(model, test, outcome) for test, outcome in answers))
