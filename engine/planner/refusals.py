"""Models that can't be planned, refused in words for a person.

Codes: PL101 to PL103 a belief; PL104 too many openings; PL105 no remedy; PL106 minutes that no
bench has; PL107 too many outcomes; PL108 too many requirements; PL109 no
remedy that can always be named.
"""

from __future__ import annotations

from collections.abc import Sequence

from engine.model.records import Model
from engine.planner.requirements import MOST as MOST_REQUIREMENTS
from engine.planner.requirements import Register
from kb.trouble import Place, Trouble, TroubleError

MOST_OPENINGS = 63
"""Bits that the kernel keeps for openings: 64, one of them for a short that was found."""
MOST_OUTCOMES = 250
"""Under 255, the byte by which the kernel marks classes that show several outcomes."""


def trouble(code: str, what: str, mend: str) -> TroubleError:
    """A model that can't be planned, in words for a person."""
    return TroubleError(Trouble(code, Place("model"), what, mend))


def check_numbers(model: Model) -> None:
    """Refuse minutes that no bench has: below zero, infinite, not numbers."""
    if len(model.openings) > MOST_OPENINGS:
        raise trouble(
            "PL104",
            f"the model has {len(model.openings)} openings",
            f"plan with at most {MOST_OPENINGS}",
        )
    for what, records in (
        ("test", model.tests),
        ("remedy", model.remedies),
        ("opening", model.openings),
        ("rig", model.rigs),
    ):
        for record in records:
            _check_minutes(f"{what} {record.id}", record.minutes)
    _check_minutes("a wrong verdict", model.wrong_verdict_minutes)
    for before, row in model.supply.minutes.items():
        for after, value in row.items():
            _check_minutes(f"the change from {before} to {after}", value)
    for test in model.tests:
        if len(test.outcomes) > MOST_OUTCOMES:
            raise trouble(
                "PL107",
                f"test {test.id} has {len(test.outcomes)} outcomes",
                f"give a test at most {MOST_OUTCOMES}",
            )
    if not model.remedies:
        raise trouble("PL105", "the model has no remedies", "add a remedy for each fault")


def check_requirements(register: Register, wants: Sequence[int]) -> None:
    """Some remedy can always be named, and the kernel has a bit for each requirement."""
    if len(register.open) > MOST_REQUIREMENTS:
        raise trouble(
            "PL108",
            f"the model has {len(register.open)} requirements",
            f"plan with at most {MOST_REQUIREMENTS}",
        )
    if all(wants):
        raise trouble(
            "PL109",
            "every remedy requires something first, so none can be named at once",
            "add a remedy without `requires`, such as scrapping the unit",
        )


def _check_minutes(what: str, value: float) -> None:
    if not 0 <= value < 1e9:
        raise trouble("PL106", f"{what} takes {value} minutes", "give minutes from 0 upwards")
