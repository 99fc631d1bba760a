"""Does the kernel take only what it can read: each array of its type, contiguous, long enough?"""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import pytest

from engine.model.setup import start
from engine.planner._kernel import search
from engine.planner.bounds import ALL
from engine.planner.planning import belief_of
from engine.planner.reduction import reduce
from tests.models import stage_chain

MODEL = stage_chain(3, 8, 10)
PROBLEM: Any = reduce(MODEL, belief_of(MODEL, None), start(MODEL), frozenset(), ALL, ()).problem
ARRAYS = [f.name for f in fields(PROBLEM) if isinstance(getattr(PROBLEM, f.name), np.ndarray)]
AT_LEAST_ONE = {
    "row_class_members", "row_pair_odds", "due", "forfeit", "cut_minutes", "behind_cut",
}  # fmt: skip
"""Arrays whose length hangs on what they hold."""


def solve(problem: Any) -> object:
    """A search of that problem for a second at most."""
    return search(problem, 0, 0, 0, 1.0, 0.0, 1 << 20, None, 0)


def test_the_problem_as_it_is_made_is_taken() -> None:
    assert is_dataclass(PROBLEM)
    assert len(ARRAYS) > 30
    assert solve(PROBLEM)


@pytest.mark.parametrize("name", ARRAYS)
def test_an_array_of_another_type_is_refused(name: str) -> None:
    """By its name."""
    array = getattr(PROBLEM, name)
    other = np.float32 if array.dtype == np.float64 else np.float64
    with pytest.raises(TypeError, match=name):
        solve(replace(PROBLEM, **{name: array.astype(other)}))


@pytest.mark.parametrize("name", sorted(set(ARRAYS) - AT_LEAST_ONE))
def test_an_array_that_is_too_short_is_refused(name: str) -> None:
    """By its name and both lengths."""
    array = getattr(PROBLEM, name)
    short = np.ascontiguousarray(array.reshape(-1)[: array.size // 8])
    with pytest.raises(ValueError, match=name):
        solve(replace(PROBLEM, **{name: short}))


def test_an_array_with_gaps_is_refused() -> None:
    """Its elements would not stand where the kernel looks."""
    wide = np.zeros(2 * PROBLEM.weight.size)
    wide[::2] = PROBLEM.weight
    with pytest.raises((ValueError, BufferError)):
        solve(replace(PROBLEM, weight=wide[::2]))


def test_a_size_below_zero_is_refused() -> None:
    assert math.isfinite(PROBLEM.classes)
    with pytest.raises(ValueError, match="classes"):
        solve(replace(PROBLEM, classes=-1))
