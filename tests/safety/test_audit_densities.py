"""Do the audit's densities come to what the engine's do, on samples drawn at random?

Two makers of one theory (the page heading `engine.evidence`): scale, kernels, masses, heights.
"""

from __future__ import annotations

import itertools
import math
import random

import pytest

from engine.audit import densities, weighing
from engine.evidence import density, make, scale
from kb.quantities import OHM, VOLT

SCALES = [
    (scale.Scale(VOLT, 0.2, 0.0, 1000.0, ranges=False),
     densities.Scale(0.2, 0.0, 1000.0, ohms=False, ends=False)),
    (scale.Scale(VOLT, 1.5, -40.0, 650.0, ranges=False),
     densities.Scale(1.5, -40.0, 650.0, ohms=False, ends=False)),
    (scale.Scale(OHM, 0.3, 0.0, 6e7, ranges=True),
     densities.Scale(0.3, 0.0, 6e7, ohms=True, ends=True)),
]  # fmt: skip
Samples = list[tuple[float, float, float]]


def samples(chance: random.Random, most: float) -> Samples:
    """Values over all decades, in small heaps, each with two weights; some far over range."""
    heaps = [most * 10 ** chance.uniform(-5, 0.3) for _ in range(chance.randint(1, 3))]
    values = [chance.choice(heaps) * chance.uniform(0.9, 1.1) for _ in range(chance.randint(1, 9))]
    return [(value, chance.random() * chance.choice((0, 1, 1)), chance.random() + 0.01)
            for value in values]  # fmt: skip


@pytest.mark.parametrize(("one", "other"), SCALES)
@pytest.mark.parametrize("seed", range(12))
def test_both_makers_agree_on_a_law_of_samples(
    one: scale.Scale, other: densities.Scale, seed: int
) -> None:
    chance = random.Random(seed)
    drawn = samples(chance, other.high)
    values, now, before = ([s[k] for s in drawn] for k in range(3))
    law, twin = densities.law_of(other, drawn), density.around(one, values, now, before)
    for value in [*values, 0.0, other.high, math.inf, *(v * 1.3 for v in values)]:
        assert law.height(value) == pytest.approx(twin.share(value), rel=1e-6)
    cuts = sorted([-math.inf, 0.0, *(v * chance.uniform(0.5, 2) for v in values), math.inf])
    for low, high in itertools.pairwise(cuts):
        assert law.mass(low, high) == pytest.approx(twin.mass(low, high), rel=1e-6, abs=1e-12)
    assert law.mass(-math.inf, math.inf) == pytest.approx(1.0)


@pytest.mark.parametrize(("one", "other"), SCALES)
def test_both_makers_agree_on_how_far_a_reading_is_past_a_cut(
    one: scale.Scale, other: densities.Scale
) -> None:
    for cut in (-math.inf, 0.5, 3.0, 200.0, math.inf):
        for value in (0.1, 0.49, 0.5, 0.52, 3.1, 180.0, 900.0):
            assert weighing._past(other, value, cut) == pytest.approx(
                one.inside(value, cut, math.inf) if cut != math.inf else 0.0
            )


@pytest.mark.parametrize(
    ("one", "other"),
    [(1.0, 1.0), (1.0, 1.04), (5.0, 4.0), (0.0, 0.0), (0.0, 0.3), (-0.2, 0.1), (0.0, 7.0),
     (math.inf, math.inf), (math.inf, 3.0)],
)  # fmt: skip
def test_both_makers_agree_on_how_near_two_readings_are(one: float, other: float) -> None:
    assert weighing._near(one, other) == pytest.approx(make._near(one, other))
