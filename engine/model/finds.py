"""What finding something on a board without a drawing takes, as the model document tells it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Find:
    """What finding a part, a point or a side of a stage takes (`by` glance, pin or tracing), or
    tracing a stage (`by` stage), with the least and the most that skilled people would argue.

    Its minutes are part of those of these `tests`, `rigs` and `openings`.
    """

    of: str
    by: str
    minutes: float
    least: float
    most: float
    tests: tuple[str, ...] = ()
    rigs: tuple[str, ...] = ()
    openings: tuple[str, ...] = ()
