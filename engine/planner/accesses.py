"""What can be told apart with which openings made: the tables of the access bound."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

MOST_SETS = 64
"""Sets of openings weighed before a bound settles for less; of the algorithm."""


def access_sets(start: int, needs: list[int], after: list[int]) -> list[int]:
    """Sets of openings, as bit masks, that one can have made on the way to some test.

    `after[i]` are the openings that opening i needs. None where they are too many to be of use:
    leads, cheap and many, are left out of `start` and `needs` by whoever asks.
    """
    useful = 0
    for need in needs:
        useful |= need
    sets = [start]
    for have in sets:
        for i, before in enumerate(after):
            more = have | 1 << i
            if useful >> i & 1 and more not in sets and not before & ~have:
                sets.append(more)
        if len(sets) > MOST_SETS:
            return []
    return sets


def beyond(sets: list[int], openings: int) -> NDArray[np.int32]:
    """[sets][openings] which set one more opening leads to, or -1."""
    index = {have: i for i, have in enumerate(sets)}
    table = np.full((max(1, len(sets)), max(1, openings)), -1, dtype=np.int32)
    for i, have in enumerate(sets):
        for o in range(openings):
            if not have >> o & 1:
                table[i, o] = index.get(have | 1 << o, -1)
    return table


def cells(sets: list[int], needs: list[int], alike: NDArray[np.int32]) -> NDArray[np.int32]:
    """[sets][classes] a number for each class, equal for those that no test within reach parts.

    `alike` has a row for each test: equal numbers for classes with equal odds.
    """
    table = np.zeros((max(1, len(sets)), alike.shape[1]), dtype=np.int32)
    for i, have in enumerate(sets):
        within = [t for t, need in enumerate(needs) if not need & ~have]
        if within:
            table[i] = np.unique(alike[within], axis=1, return_inverse=True)[1].reshape(-1)
    return table
