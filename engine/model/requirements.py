"""What answers show of what remedies and repairs that are tried require."""

from __future__ import annotations

from collections.abc import Collection

from engine.model.records import Model, Remedy, Requirement

Answers = Collection[tuple[str, str]]
"""Pairs of test and outcome."""


def is_met(requirement: Requirement, answers: Answers) -> bool:
    """Whether one of the answers shows what is required."""
    return any(outcome in requirement.by.get(test, ()) for test, outcome in answers)


def unmet(model: Model, remedy: Remedy, answers: Answers) -> tuple[Requirement, ...]:
    """What a remedy requires and no answer has shown, but for what no test here could show."""
    tests = {test.id for test in model.tests}
    return tuple(
        r for r in remedy.requires
        if not is_met(r, answers) and (r.strict or not tests.isdisjoint(r.by))
    )  # fmt: skip
