"""How many designs it takes until another one is no longer surprising.

    python -m tests.bench designs

Of the committed readings of a topology (`kb/readings`), k designs drawn by a seed are taken as all
that is known and the others as held back. Printed for each k, over all cells (test and fault) that
were simulated: `beyond`, the share of numbers of a design held back that lie outside what the k
read by more than a meter's and a part's tolerance together (`APART`); `another`, the share of
readings whose answer (the band, or what is watched) none of the k shows in that cell. Designs drawn
alike leave some 2 / (k + 1) of numbers outside by chance alone (the new one is the least or the
greatest of k + 1): printed beside as `by chance`, an upper bound, since most of these lie within
tolerance of the next.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from random import Random

from engine import library
from engine.circuit import dictionary
from engine.circuit.dictionary import Dictionary, Shown
from engine.model.records import Mains, Model

APART = math.log(1.1)
"""A tenth: 5 % of parts and some of a meter and of mains. Our choice."""
NOUGHT = 1e-3
"""Numbers nearer to nothing are alike, in volts, amperes and ohms."""
DRAWS = 20


@dataclass(frozen=True, slots=True)
class Surprise:
    """Shares of readings of designs held back that the designs known did not show."""

    beyond: float
    another: float
    readings: int


def log_of(value: float) -> float:
    """On a scale where equal ratios are equal distances; over range is far above all."""
    if math.isinf(value):
        return 1e3
    return math.copysign(math.log(max(abs(value), NOUGHT) / NOUGHT), value)


def cells(model: Model, readings: Dictionary) -> Iterator[tuple[list[Shown], list[str | None]]]:
    """Of each cell the readings of all designs, and the answers they give; each row once."""
    seen = set()
    for test in model.tests:
        for cell in readings.cells.get(test.id, {}).values():
            if (test.id, cell.samples) in seen:
                continue
            seen.add((test.id, cell.samples))
            yield list(cell.samples), [dictionary.shows(test, one) for one in cell.samples]


def surprise(model: Model, readings: Dictionary, k: int, draws: int = DRAWS) -> Surprise:
    """Over `draws` choices of k designs, all readings of all others. O(draws x readings)."""
    rows = list(cells(model, readings))
    beyond = another = numbers = answers = 0
    for draw in range(draws):
        order = list(range(len(readings.units)))
        Random(draw).shuffle(order)
        for samples, shown in rows:
            known = [at for at in order[:k] if at < len(samples)]
            others = [at for at in order[k:] if at < len(samples)]
            outside, counted = _outside(samples, known, others)
            beyond, numbers = beyond + outside, numbers + counted
            before = {shown[at] for at in known} - {None}
            told = [shown[at] for at in others if shown[at] is not None]
            if before:
                another += sum(answer not in before for answer in told)
                answers += len(told)
    return Surprise(beyond / max(numbers, 1), another / max(answers, 1), answers)


def _outside(
    samples: Sequence[Shown], known: Sequence[int], others: Sequence[int]
) -> tuple[int, int]:
    """How many numbers of the others lie outside those of the known, and of how many."""
    before = [log_of(value) for at in known if (value := samples[at][1]) is not None]
    new = [log_of(value) for at in others if (value := samples[at][1]) is not None]
    if not before:
        return 0, 0
    low, high = min(before) - APART, max(before) + APART
    return sum(not low <= one <= high for one in new), len(new)


def lines() -> Iterator[str]:
    """A line for each topology, mains and number of designs."""
    for note in library.topologies():
        for mains in (Mains(230.0, 50.0), Mains(120.0, 60.0)):
            readings = dictionary.read(note.id, mains)
            if readings is None:
                continue
            model = library.model(note.id, mains=mains, having=library.everything())
            for k in (2, 4, 8, 16, 24, 32, 48):
                if k >= len(readings.units):
                    break
                found = surprise(model, readings, k)
                yield (
                    f"{note.id} {mains.volts:.0f} V, {k:2} of {len(readings.units)} designs: "
                    f"beyond {found.beyond:6.2%} (by chance at most {2 / (k + 1):.0%}), "
                    f"another answer {found.another:6.2%}, of {found.readings} readings"
                )
