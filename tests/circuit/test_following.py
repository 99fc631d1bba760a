"""Readings that follow a good unit's or a marking: figures worked out by hand, and two makers of
the law on samples drawn at random."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from engine.audit import densities
from engine.audit import following as audited
from engine.evidence import following, scale, table
from kb.quantities import OHM

ON = scale.Scale(OHM, 0.3, 0.0, 6e7, ranges=True)
OTHER = densities.Scale(0.3, 0.0, 6e7, ohms=True, ends=True)
FOUR = np.full(4, 0.25)
RAILS = (4000.0, 5000.0, 8000.0, 10000.0)
"""What four designs read when sound, ohms."""


def back(places: object) -> object:
    """Ohms of places on the scale."""
    return np.sinh(places) * ON.bend


def test_what_a_fault_leaves_alike_reads_as_the_good_unit_does():
    """Within a twentieth of each design's own sound reading; known to a twentieth."""
    reference = following.by_good_unit(ON, RAILS, 6000.0)
    assert reference is not None
    values = [one * 1.02 for one in RAILS]
    places, spreads, is_good = following.follow(ON, values, reference, FOUR)
    assert back(places) == pytest.approx([6120.0] * 4, rel=1e-6)
    assert spreads.tolist() == [following.SAME_MAKE] * 4
    assert is_good.all()


def test_a_fault_that_halves_a_reading_halves_the_good_units():
    reference = following.by_good_unit(ON, RAILS, 6000.0)
    assert reference is not None
    places, spreads, is_good = following.follow(ON, [v / 2 for v in RAILS], reference, FOUR)
    assert back(places) == pytest.approx([3000.0] * 4, rel=1e-6)
    assert spreads.tolist() == [following.SAME_MAKE] * 4
    assert not is_good.any()


def test_a_fault_that_pulls_every_design_to_one_reading_leaves_it_there():
    """A short reads an ohm whatever the good unit reads."""
    reference = following.by_good_unit(ON, RAILS, 6000.0)
    assert reference is not None
    places, _, _ = following.follow(ON, [1.0] * 4, reference, FOUR)
    assert back(places) == pytest.approx([1.0] * 4)


def test_ohms_go_with_the_marking_that_explains_them():
    """Designs read nine tenths of R1's marking; R2's has nothing to do with it. A unit marked 2 k
    reads 1.8 k."""
    values = {"R1": tuple(one / 0.9 for one in RAILS), "R2": (10.0, 47.0, 22.0, 33.0)}
    reference = following.by_marking(ON, RAILS, values, {"R1": 2000.0, "R2": 33.0}, FOUR)
    assert reference is not None
    places, _, _ = following.follow(ON, RAILS, reference, FOUR)
    assert back(places) == pytest.approx([1800.0] * 4, rel=1e-6)


def test_a_marking_that_explains_nothing_moves_nothing():
    values = {"R2": (10.0, 47.0, 22.0, 33.0)}
    assert following.by_marking(ON, RAILS, values, {"R2": 33.0}, FOUR) is None
    assert following.by_good_unit(ON, RAILS, math.inf) is None


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("is_good", [True, False])
def test_both_makers_move_readings_alike(seed: int, is_good: bool):
    chance = random.Random(seed)
    count = chance.randint(4, 12)
    draws = np.array([chance.random() + 0.1 for _ in range(count)])
    draws /= draws.sum()
    own = [chance.uniform(1.0, 1e4) for _ in range(count)]
    sound = [None if chance.random() < 0.1 else one * chance.uniform(0.8, 1.0) for one in own]
    kinds = [chance.choice((1.0, 1.03, 0.5, None, math.inf)) for _ in range(count)]
    values = [
        None if one is None or kind is None else one * kind
        for one, kind in zip(sound, kinds, strict=True)
    ]
    good = 300.0 if is_good else None
    marks = {"R1": (250.0, tuple(own)), "R2": (1.0, (None,) * count)}
    first = (
        following.by_good_unit(ON, sound, 300.0) if is_good else following.by_marking(
            ON, sound, {part: own for part, (_, own) in marks.items()},
            {part: value for part, (value, _) in marks.items()}, draws,
        )
    )  # fmt: skip
    second = audited.reference(OTHER, sound, good, marks, draws.tolist())
    assert (first is None) == (second is None)
    if first is None or second is None:
        return
    places, spreads, firm = following.follow(ON, values, first, draws)
    moved = audited.follow(OTHER, values, second, draws.tolist())
    assert [math.nan if p is None else p for p, _, _ in moved] == pytest.approx(
        places.tolist(), nan_ok=True
    )
    assert [s for _, s, _ in moved] == pytest.approx(spreads.tolist())
    assert [is_firm for _, _, is_firm in moved] == firm.tolist()


def test_the_unlisted_design_shows_in_part_what_other_faults_show():
    """Two faults, told apart for certain by one sampled design: 0.7 of its own word is left, and
    three tenths are shared by priors of 3 to 1."""
    columns = np.array([[[1.0, 0.0]] * 2, [[0.0, 1.0]] * 2])
    mixed = table.unlike(columns, np.array([0.75, 0.25]), np.array([1.0]))
    assert mixed[:, 0].tolist() == [[1.0, 0.0], [0.0, 1.0]]
    assert mixed[0, 1] == pytest.approx([0.7 + 0.3 * 0.75, 0.3 * 0.25])
    assert mixed[1, 1] == pytest.approx([0.3 * 0.75, 0.7 + 0.3 * 0.25])
