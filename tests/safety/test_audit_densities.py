"""Do the audit's densities come to what the engine's do, on samples drawn at random?

Two makers of one theory (the page heading `engine.evidence`): scale, kernels, masses, heights.
"""

from __future__ import annotations

import itertools
import math
import random

import numpy as np
import pytest

from engine.audit import columns as audited
from engine.audit import densities, spans, unitweights
from engine.evidence import make, scale, table
from engine.model import records
from engine.readings.bands import Band
from kb.quantities import OHM, VOLT

SCALES = [
    (scale.Scale(VOLT, 0.2, 0.0, 1000.0, ranges=False),
     densities.Scale(0.2, 0.0, 1000.0, ohms=False, ends=False)),
    (scale.Scale(VOLT, 1.5, -40.0, 650.0, ranges=False),
     densities.Scale(1.5, -40.0, 650.0, ohms=False, ends=False)),
    (scale.Scale(OHM, 0.3, 0.0, 6e7, ranges=True),
     densities.Scale(0.3, 0.0, 6e7, ohms=True, ends=True)),
]  # fmt: skip
CUT = 1.0
PARTS = (Band("low", -math.inf, CUT), Band("high", CUT, math.inf))
TEST = records.Test("look", "What does it read?", 1.0, (), "dead", "none", False, (
    records.Outcome("low", "low", None, CUT), records.Outcome("high", "high", CUT, None),
))  # fmt: skip
Samples = tuple[list[float | None], list[float], list[float]]


def samples(chance: random.Random, most: float) -> Samples:
    """Values over all decades, in small heaps, each with two weights; some far over range, and one
    in five designs was not simulated."""
    heaps = [most * 10 ** chance.uniform(-5, 0.3) for _ in range(chance.randint(1, 3))]
    values: list[float | None] = [
        chance.choice(heaps) * chance.uniform(0.9, 1.1) if chance.random() < 0.8 else None
        for _ in range(chance.randint(1, 9))
    ]
    values.append(heaps[0])
    now = [chance.random() * chance.choice((0, 1, 1)) for _ in values[1:]] + [0.5]
    before = [chance.random() + 0.01 for _ in values]
    return values, [w / sum(now) for w in now], [w / sum(before) for w in before]


def columns_of(
    on: densities.Scale, values: list[float | None], now: list[float], before: list[float]
) -> list[audited.Column]:
    """The audit's columns."""
    kernels = audited.kernels_of(on, values, before)
    return audited.columns_of(kernels, now)


def kernels_of(
    on: scale.Scale, values: list[float | None], now: list[float], before: list[float]
) -> table.Kernels:
    """The engine's kernels of one fault."""
    made = table.meter_table(
        TEST, on, PARTS, np.array([[0.5, 0.5]]), [values], np.array(now), np.array(before),
        np.array([1.0]), 0.8,
    )  # fmt: skip
    assert made.kernels is not None
    return made.kernels


@pytest.mark.parametrize(("one", "other"), SCALES)
@pytest.mark.parametrize("seed", range(12))
def test_both_makers_agree_on_each_design(
    one: scale.Scale, other: densities.Scale, seed: int
) -> None:
    """Each sampled design, one that was not simulated here, and last the unlisted one."""
    chance = random.Random(seed)
    values, now, before = samples(chance, other.high)
    columns = columns_of(other, values, now, before)
    kernels = kernels_of(one, values, now, before)
    read = [value for value in values if value is not None]
    for value in [*read, 0.0, other.high, math.inf, *(v * 1.3 for v in read)]:
        assert [column.height(value) for column in columns] == pytest.approx(
            kernels.heights(value)[0].tolist(), rel=1e-6
        )
    cuts = sorted([-math.inf, 0.0, *(v * chance.uniform(0.5, 2) for v in read), math.inf])
    for low, high in itertools.pairwise(cuts):
        assert [column.mass(other, low, high) for column in columns] == pytest.approx(
            kernels.inside(low, high)[0].tolist(), rel=1e-6, abs=1e-12
        )
    for column in columns:
        assert column.mass(other, -math.inf, math.inf) == pytest.approx(1.0)


@pytest.mark.parametrize(("one", "other"), SCALES)
def test_both_makers_agree_on_how_far_a_reading_is_past_a_cut(
    one: scale.Scale, other: densities.Scale
) -> None:
    for cut in (-math.inf, 0.5, 3.0, 200.0, math.inf):
        for value in (0.1, 0.49, 0.5, 0.52, 3.1, 180.0, 900.0):
            assert spans.past(other, value, cut) == pytest.approx(
                one.inside(value, cut, math.inf) if cut != math.inf else 0.0
            )


@pytest.mark.parametrize(
    ("one", "other"),
    [(1.0, 1.0), (1.0, 1.04), (5.0, 4.0), (0.0, 0.0), (0.0, 0.3), (-0.2, 0.1), (0.0, 7.0),
     (math.inf, math.inf), (math.inf, 3.0)],
)  # fmt: skip
def test_both_makers_agree_on_how_near_two_readings_are(one: float, other: float) -> None:
    assert unitweights.near_reading(one, other) == pytest.approx(make._near(one, other))
