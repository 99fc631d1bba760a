"""The bounds of the search, each of which can be switched off; the optimum stays the same."""

from __future__ import annotations

from enum import Flag


class Bound(Flag):
    """One bound of the search; the proofs stand in the page of `engine.planner`."""

    INFORMATION = 1
    SETUP = 2
    FIRST_TEST = 4
    REVELATION = 8
    ROLLOUT = 16
    ACCESS = 32
    PAIRS = 64


ALL = ~Bound(0)
