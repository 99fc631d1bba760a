"""What tables of odds and regrets tell without any search: alike classes, pairs, clusters.

Rows of a table are outcomes, its columns fault classes; rows of a regret table are remedies.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
# Shares of the largest regret at which remedies are clustered, each a bound of its own, and sizes
# above which a bound's tables are left out. MIXED is the kernel's byte for several outcomes. All of
# the algorithm: the plan does not depend on them, only the time that it takes.
LEVELS = (0.0, 0.15, 0.6)
MIXED = 255
MOST_PAIRED = 600
MOST_SQUARES = 4_000_000


def bits(members: NDArray[np.bool_], words: int) -> NDArray[np.uint64]:
    """Rows of booleans packed into rows of 64-bit words, lowest bit first."""
    wide = np.zeros((len(members), words * 64), dtype=bool)
    wide[:, : members.shape[1]] = members
    octets = np.packbits(wide, axis=1, bitorder="little").reshape(len(members), words * 8)
    return np.ascontiguousarray(octets).view("<u8").astype(np.uint64)


def alike_sets(
    tables: list[Numbers], classes: int, words: int
) -> tuple[NDArray[np.int32], NDArray[np.uint64]]:
    """For each test and class the row of the second table that holds the classes like it."""
    alike = np.zeros((len(tables) + 1, classes), dtype=np.int32)
    sets: list[NDArray[np.bool_]] = []
    for t, table in enumerate(tables):
        kind = table.argmax(axis=0)
        if splits(table).any():
            kind = np.unique(table, axis=1, return_inverse=True)[1].reshape(-1)
        alike[t] = kind + len(sets)
        sets.extend(kind == k for k in range(int(kind.max()) + 1))
    return alike, bits(np.array([*sets, np.zeros(classes, dtype=np.bool_)]), words)


def few_pairs(kind: NDArray[np.uint16], classes: int) -> bool:
    """Whether the pair bound's tables stay small; it is left out of very large models."""
    squares = (kind.max(axis=1).astype(np.int64) + 1) ** 2
    return classes <= MOST_PAIRED and int(squares.sum()) <= MOST_SQUARES


def apart(table: Numbers, kind: NDArray[np.uint16]) -> Numbers:
    """[kinds][kinds] the odds that two classes of those kinds show different answers."""
    heads = [int(np.flatnonzero(kind == k)[0]) for k in range(int(kind.max()) + 1)]
    rows = table[:, heads]
    apart: Numbers = 1.0 - rows.T @ rows
    return np.where(np.abs(apart) < 1e-12, 0.0, apart)


def confusion(regret: Numbers) -> Numbers:
    """[classes][classes] the least sum of both classes' regrets under one remedy."""
    least = np.full((regret.shape[1], regret.shape[1]), np.inf)
    for row in regret:
        np.minimum(least, row[:, None] + row[None, :], out=least)
    return least


def splits(table: Numbers) -> NDArray[np.bool_]:
    """Which classes show more than one outcome."""
    return np.asarray(np.logical_and(table > 0, table < 1).any(axis=0), dtype=np.bool_)


def shown_kinds(table: Numbers, split: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """[classes] the outcome each class shows, MIXED where it shows several."""
    return np.where(split, MIXED, table.argmax(axis=0)).astype(np.uint8)


def clusters(regret: Numbers) -> tuple[NDArray[np.int32], Numbers]:
    """Remedy clusters of the classes at some levels of regret, with the least regret outside.

    At a level theta two remedies are in one cluster when some class loses nothing by the one and
    at most theta by the other, directly or through a third.
    """
    best = regret.argmin(axis=0)
    near = np.full((len(regret), len(regret)), np.inf)
    for k, r in enumerate(best):
        np.minimum(near[r], regret[:, k], out=near[r])
    levels: dict[int, tuple[NDArray[np.int32], Numbers]] = {}
    for share in LEVELS:
        mine = _components(near <= share * float(regret.max()))
        outside = np.where(mine[:, None] == mine[best][None, :], np.inf, regret).min(axis=0)
        size = len(np.unique(mine[best]))
        if size > 1 or not levels:
            levels.setdefault(size, (mine[best].astype(np.int32), np.minimum(outside, 1e12)))
    return (
        np.ascontiguousarray([mine for mine, _ in levels.values()]),
        np.ascontiguousarray([outside for _, outside in levels.values()]),
    )


def _components(links: NDArray[np.bool_]) -> NDArray[np.int64]:
    """A number for each remedy, equal for those linked directly or through others."""
    both = links | links.T
    label = np.arange(len(both))
    while True:
        least = np.where(both, label[None, :], len(both)).min(axis=1)
        lower = np.minimum(label, least)
        if (lower == label).all():
            return label
        label = lower
