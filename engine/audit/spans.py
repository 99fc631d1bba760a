"""What a walk has written down of a reading, as a span of numbers, and the bands that it touches.

Nothing here is shared with `engine.evidence` but the theory written there.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Sequence

from engine.audit.bench import Document
from engine.audit.densities import PREFIX, Band, Scale

EDGE = 0.02
"""The figure of `engine.evidence.scale` stated anew, which says where from: how soft a cut is."""
_NUMBER = re.compile(r"([−-]?[0-9][0-9.,]*(?:e[+-]?[0-9]+)?)\s*([pnµmkMG]?)(V|A|Ω|F|H|Hz|W)")


def read(text: str) -> tuple[float, float] | None:
    """The numbers a walk has written down, base unit: one, or the ends of a range.

    Infinite over range, None where there is no number.
    """
    if text == "over range":
        return math.inf, math.inf
    numbers = [
        float(number.replace("−", "-").replace(",", "")) * PREFIX[prefix]
        for number, prefix, _ in _NUMBER.findall(text)
    ]
    if len(numbers) == 2:
        return numbers[0], numbers[1]
    if len(numbers) != 1:
        return None
    if re.match(r"\s*(>|≥|over|above|at least)", text):
        return numbers[0], math.inf
    if re.match(r"\s*(<|≤|under|below|at most)", text):
        return -math.inf, numbers[0]
    return numbers[0], numbers[0]


def span_of(bands: Sequence[Band], text: str) -> tuple[float, float] | None:
    """Both ends of what was read, none under zero where no band is."""
    span = read(text) if bands else None
    if span is None:
        return None
    edges = [e for band in bands for e in (band.low, band.high) if math.isfinite(e)]
    if all(edge >= 0.0 for edge in edges):
        return max(span[0], 0.0), max(span[1], 0.0)
    return span


def touched_by(
    scale: Scale, bands: Sequence[Band], low: float, high: float
) -> Iterator[tuple[Band, float]]:
    """Bands that a reading touches, and how far it counts as one of each."""
    for band in bands:
        if low == high == math.inf:
            if band.high == math.inf:
                yield band, 1.0
        elif low == high:
            inside = past(scale, low, band.low) - past(scale, low, band.high)
            if inside > 1e-6:
                yield band, inside
        else:
            least, most = max(low, band.low), min(high, band.high)
            blind = scale.blind(least, most) if least < most else 0.0
            if blind > 0.0:
                yield band, blind


def past(scale: Scale, value: float, cut: float) -> float:
    """How far a reading counts as beyond a cut: a logistic step."""
    if cut <= scale.low:
        return 1.0
    if cut == math.inf:
        return 0.0
    return 0.5 * (1.0 + math.tanh((scale.place(value) - scale.place(cut)) / (2.0 * EDGE)))


def answers_key(steps: Sequence[Document]) -> str:
    """All that matters of answers to one test."""
    told = [(s["test"], s.get("reading"), s.get("shares"), s["answer"]) for s in steps]
    return json.dumps(told, sort_keys=True)
