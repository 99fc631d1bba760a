"""The bounds of the search, each of which can be switched off; the optimum stays the same."""

from __future__ import annotations

from collections.abc import Iterable
from enum import Flag


class Bound(Flag):
    """One bound of the search, or several; the proofs stand in the page of `engine.planner`."""

    INFORMATION = 1
    SETUP = 2
    FIRST_TEST = 4
    REVELATION = 8
    ROLLOUT = 16
    ACCESS = 32
    PAIRS = 64
    GROUPS = 128

    def __sub__(self, others: Bound | Iterable[Bound]) -> Bound:
        """These bounds without the others: `ALL - {Bound.SETUP}`."""
        left = self
        for other in others:
            left &= ~other
        return left


ALL = ~Bound(0)
