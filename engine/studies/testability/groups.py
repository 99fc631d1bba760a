"""Signatures of faults: which faults the tests of a model part, and which they don't."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from engine.model.absence import NO_REPAIR
from engine.model.records import Model

Floats = NDArray[np.float64]
_EQUAL = 1.0 - 1e-9
"""Rows that overlap by this much are equal but for rounding."""
ERRORS = 0.05
"""Odds of taking one fault for the other, from which on two faults count as surely parted."""
UNLISTED = "other"


class Apart(Enum):
    """When two signatures count as parted: if they differ at all, or at `ERRORS` odds of error."""

    AT_ALL = "at all"
    SURELY = "surely"


@dataclass(frozen=True, slots=True)
class Signatures:
    """What all tests show under each fault.

    `likeness[i, j]` is the Bhattacharyya coefficient of the signatures of faults i and j. `rate` is
    each fault's share of what can be wrong; `sound` and whatever is not listed have none. `kinds`
    numbers the faults so that variants of one fault share a number.
    """

    faults: tuple[str, ...]
    rate: Floats
    kinds: tuple[str, ...]
    sound: int | None
    likeness: Floats

    def separations(self, how: Apart) -> NDArray[np.bool_]:
        """Which pairs of faults (rows, columns) the tests part."""
        limit = _EQUAL if how is Apart.AT_ALL else 2.0 * ERRORS
        apart: NDArray[np.bool_] = self.likeness < limit
        return apart

    def counted_faults(self) -> tuple[int, ...]:
        """The faults that count: listed ones with a rate above 0."""
        return tuple(int(at) for at in np.flatnonzero(self.rate > 0.0))

    def detectable(self, how: Apart) -> tuple[int, ...]:
        """The faults whose signature is not that of a sound unit; all, where none is known."""
        if self.sound is None:
            return self.counted_faults()
        differs = self.separations(how)[self.sound]
        return tuple(at for at in self.counted_faults() if differs[at])


def signatures(model: Model, without: Collection[str] = ()) -> Signatures:
    """The signatures of a model's faults, tests `without` left out. O(tests x faults^2)."""
    faults = tuple(fault.id for fault in model.faults)
    sound = _sound(model)
    likeness = np.ones((len(faults), len(faults)))
    for test in model.tests:
        if test.id in without:
            continue
        rows = model.likelihood[test.id]
        odds = np.array(
            [[rows[f].get(o.id, 0.0) for o in test.outcomes] for f in faults], dtype=np.float64
        )
        roots = np.sqrt(odds)
        likeness *= np.minimum(roots @ roots.T, 1.0)
    rate = np.array([fault.prior for fault in model.faults], dtype=np.float64)
    for at, fault in enumerate(model.faults):
        if at == sound or UNLISTED in (fault.id, fault.variant_of):
            rate[at] = 0.0
    kinds = tuple(fault.variant_of or fault.id for fault in model.faults)
    return Signatures(faults, rate / rate.sum(), kinds, sound, likeness)


def _sound(model: Model) -> int | None:
    """The hypothesis of a sound unit: what a remedy of kind `none` cures."""
    nothing = {fault for r in model.remedies if r.kind == NO_REPAIR for fault in r.cures}
    places = (
        at for at, fault in enumerate(model.faults) if fault.id in nothing and not fault.parts
    )
    return next(places, None)


def sizes(table: Signatures, how: Apart) -> dict[int, int]:
    """Of each detected fault: how many faults it may be taken for, itself included.

    Variants of one fault count once. With `Apart.AT_ALL` that is the size of its ambiguity group.
    """
    indices = table.detectable(how)
    apart = table.separations(how)
    return {
        at: len({table.kinds[other] for other in indices if not apart[at, other]} | {
            table.kinds[at]
        })
        for at in indices
    }  # fmt: skip


def ambiguity(table: Signatures) -> tuple[tuple[int, ...], ...]:
    """The groups of detected faults with equal signatures, heaviest first; each fault in one."""
    left = list(table.detectable(Apart.AT_ALL))
    apart = table.separations(Apart.AT_ALL)
    groups: list[tuple[int, ...]] = []
    while left:
        group = tuple(other for other in left if not apart[left[0], other])
        groups.append(group)
        left = [other for other in left if other not in group]
    return tuple(sorted(groups, key=lambda group: -float(table.rate[list(group)].sum())))
