"""Set-up minutes that nobody comes round on the way into a set of places.

A place is a supply arrangement with a rig. A way from the start into a set of places crosses its
border, and pays at least the cheapest change that does. Tolls are laid on one border after another,
each out of what the ones before left of every change: then the tolls of all borders that a change
crosses sum to no more than its minutes, and whoever has done tests behind several borders has paid
all of their tolls. (A packing of directed cuts, as in the dual of the Steiner arborescence problem:
R. T. Wong, Mathematical Programming 28, 1984; from memory.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

LEAST = 1e-9


def tolls(
    places: Sequence[tuple[str, str]], change: NDArray[np.float64]
) -> tuple[list[float], NDArray[np.uint8]]:
    """Minutes of each toll, and [tolls][places] 1 where it is paid on the way to the place.

    `change[i, j]` are the least minutes from place i to place j; the start is place 0.
    """
    left = change.copy()
    minutes: list[float] = []
    behind: list[NDArray[np.uint8]] = []
    for inside in _borders(places):
        crossing = np.ix_(~inside, inside)
        toll = float(left[crossing].min())
        if toll > LEAST:
            left[crossing] -= toll
            minutes.append(toll)
            behind.append(inside.astype(np.uint8))
    return minutes, np.array([*behind, np.zeros(len(places), dtype=np.uint8)])


def _borders(places: Sequence[tuple[str, str]]) -> Iterator[NDArray[np.bool_]]:
    """Sets of places without the start: those of one rig, of one supply, single ones."""
    for part in (1, 0):
        for name in dict.fromkeys(place[part] for place in places):
            if name != places[0][part]:
                yield np.array([place[part] == name for place in places])
    for i in range(1, len(places)):
        yield np.arange(len(places)) == i
