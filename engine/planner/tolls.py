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

from engine.model.records import Model
from engine.model.setup import change

LEAST = 1e-9
"""Minutes under which a toll is rounding; of the algorithm."""


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


def changes(
    model: Model, places: Sequence[tuple[str, str]]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Set-up minutes between places: with nothing opened, and through the dead arrangement."""
    dead = model.dead_supply
    supplies = {supply for supply, _ in places} | {dead}
    moves = {(a, b): change(model, a, b) for a in supplies for b in supplies}
    direct = np.zeros((len(places), len(places)))
    hands_in = np.zeros((len(places), len(places)))
    rigs = [model.rig(rig) for _, rig in places]
    for i, (supply, rig) in enumerate(places):
        for j, (new_supply, new_rig) in enumerate(places):
            fitting = rigs[j].minutes if new_rig != rig else 0.0
            through = moves[supply, dead] + moves[dead, new_supply] + fitting
            hands = new_rig != rig and (rigs[i].hands_on or rigs[j].hands_on)
            hands_in[i, j] = through
            direct[i, j] = through if hands else moves[supply, new_supply] + fitting
    return direct, hands_in
