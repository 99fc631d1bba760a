"""Looks as tests, and rows of odds between them: what a mixture over topologies is made of."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from engine.model.records import Fault, Model, Requirement
from kb.language.schema import ClosedTest, Look

SEEN = "see-"
"""How the names of tests begin that are looks."""

Row = Mapping[str, float]


def once(entry: Look | ClosedTest) -> tuple[Requirement, ...]:
    """The looks that must have been answered so first."""
    return tuple(
        Requirement(look.replace("-", " "), {SEEN + look: answers})
        for look, answers in entry.once.items()
    )


def slips(answers: Sequence[str], odds: float) -> dict[str, dict[str, float]]:
    """Misreads of a look: each other answer alike."""
    others = len(answers) - 1
    return {
        one: {other: odds / others for other in answers if other != one} for one in answers if odds
    }


def mean(model: Model, test: str, faults: Sequence[Fault]) -> Row:
    """The row of several faults as one, by their priors; alike where none has any."""
    weights = [fault.prior for fault in faults]
    whole = math.fsum(weights)
    if not whole > 0:
        return model.row(test, faults[0].id)
    rows = [model.row(test, fault.id) for fault in faults]
    return {
        answer: math.fsum(w * row.get(answer, 0.0) for w, row in zip(weights, rows, strict=True))
        / whole
        for answer in rows[0]
    }


def each(lists: Iterable[Sequence[str]]) -> tuple[str, ...]:
    """Every word of any list, once, in their order."""
    return tuple(dict.fromkeys(word for words in lists for word in words))
