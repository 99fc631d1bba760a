"""A walk's factors held against a readings document, and what it says of its unit's design."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from engine.audit.bench import Bench, Document
from engine.audit.breach import Breach, near
from engine.audit.unitweights import log_sum
from engine.audit.weighing import Weighing

_WEIGHED = ("test", "known")
_BUILD = ("not-fitted", "fitted", "of-kind")
UNLIKE = 0.5
"""As `engine.walk.unlike` has it."""


def reading_breaches(
    bench: Bench, walk: Document, readings: Document, beyond: Sequence[Document] = ()
) -> Iterator[Breach]:
    """AU407 for every step whose factors are not those of the readings document: of answers, and of
    what is told of how the unit is built. AU409 where a unit is said to be unlike those known that
    is not, or not said to be.

    `beyond` are the cells that the circuit's data says it can't speak for: `faults` and `tests`.
    """
    circuit = walk.get("circuit")
    if circuit is None:
        return
    if dict(circuit["key"]) != dict(readings["key"]):
        yield Breach("AU407", "", "the walk was weighed by other readings than these")
        return
    weighing = Weighing(bench, readings, circuit, beyond)
    before: list[Document] = []
    is_unlike = False
    for number, step in enumerate(walk["steps"], start=1):
        if step["kind"] in _BUILD:
            weighing, factors = weighing.build(step, before)
        elif step["kind"] in _WEIGHED:
            factors = weighing.factors(step, before)
            before.append(step)
        else:
            continue
        yield from _factors(str(number), step.get("factors"), factors)
        odds = 0.0 if is_unlike else _unlisted(weighing, step["belief"], before)
        if not near(odds, UNLIKE):
            yield from _differs(str(number), step.get("differs"), odds)
        is_unlike = is_unlike or "differs" in step


def _factors(
    number: str, claim: Mapping[str, float] | None, factors: Mapping[str, float] | None
) -> Iterator[Breach]:
    if (claim is None) != (factors is None):
        what = "no factors, though" if claim is None else "factors, though no"
        yield Breach("AU407", number, f"{what} readings speak of this answer")
    for fault, factor in (factors or {}).items():
        if claim is not None and not near(float(claim.get(fault, 0.0)), factor):
            what = f"says {claim.get(fault)} of {fault!r}, the readings say {factor:.6g}"
            yield Breach("AU407", number, what)


def _unlisted(
    weighing: Weighing, belief: Mapping[str, float], before: Sequence[Document]
) -> float:
    """Odds that the unit's design is none of those in the readings document."""
    rows = zip(weighing.bench.faults, weighing.logs(before), strict=True)
    return sum(
        float(belief.get(fault, 0.0))
        * math.exp(log_sum(logs[weighing.designs - 1 :: weighing.designs]) - log_sum(logs))
        for fault, logs in rows
    )


def _differs(number: str, claim: float | None, odds: float) -> Iterator[Breach]:
    if odds > UNLIKE and (claim is None or not near(float(claim), odds)):
        yield Breach("AU409", number, f"says {claim}, odds of an unlisted design are {odds:.6g}")
    if odds <= UNLIKE and claim is not None:
        yield Breach("AU409", number, "the unit is said to be unlike those known, and is not")
