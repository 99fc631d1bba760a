"""Whether a verdict stands once misreads are counted.

A plan is made for true readings: it goes by the faults that the answers, taken as read, leave.
Before its verdict is told, the faults that only a misreading could have ruled out are weighed in
again; where they hold enough, the rest is planned anew with them, and the plan itself decides by
its cost whether one more test, another remedy or the same verdict is best.
"""

from __future__ import annotations

from collections.abc import Mapping

from engine.walk.state import Walk

NEGLIGIBLE = 0.002
"""Odds that the faults left out may hold together (0.15 min, where a wrong verdict costs 75)."""


def faults_in_doubt(walk: Walk) -> frozenset[str] | None:
    """The faults in question with misreads counted; None where those left out hold too little."""
    left_out = 1.0 - sum(walk.belief[fault] for fault in walk.suspects)
    if left_out <= NEGLIGIBLE:
        return None
    return walk.suspects | in_question(walk.belief)


def in_question(belief: Mapping[str, float]) -> frozenset[str]:
    """The faults without the least likely ones that are `NEGLIGIBLE` together."""
    suspects, total = set[str](), 0.0
    for fault, p in sorted(belief.items(), key=lambda pair: (pair[1], pair[0])):
        total += p
        if total > NEGLIGIBLE:
            suspects.add(fault)
    return frozenset(suspects)
