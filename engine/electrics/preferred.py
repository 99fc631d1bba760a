"""Preferred values of resistors and capacitors, IEC 60063: E6 to E192."""

from __future__ import annotations

import bisect
import math
from collections.abc import Callable
from types import MappingProxyType

# IEC 60063: each series adds to the one before it.
_E6 = (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
_E12 = tuple(sorted((*_E6, 1.2, 1.8, 2.7, 3.9, 5.6, 8.2)))
_E24 = tuple(sorted((*_E12, 1.1, 1.3, 1.6, 2.0, 2.4, 3.0, 3.6, 4.3, 5.1, 6.2, 7.5, 9.1)))


def _series_values(steps: int) -> tuple[float, ...]:
    """The finer series are the powers of `10^(1/steps)` to three digits, with one exception."""
    values = (round(10 ** (k / steps), 2) for k in range(steps))
    return tuple(9.20 if value == 9.19 else value for value in values)


SERIES = MappingProxyType(
    {
        **{"E6": _E6, "E12": _E12, "E24": _E24},
        **{"E48": _series_values(48), "E96": _series_values(96), "E192": _series_values(192)},
    }
)
"""The values of one decade by the name of the series, ascending from 1.0."""


def nearest(value: float, series: str = "E12") -> float:
    """The preferred value nearest by ratio; of two equally near the lower. O(log n)."""
    below, above = neighbours(value, series)
    return below if value / below <= above / value else above


def neighbours(value: float, series: str = "E12") -> tuple[float, float]:
    """The preferred values at or below and at or above `value`; equal where it is preferred.

    ValueError for an unknown series or a value that is not positive and finite.
    """
    if series not in SERIES:
        raise ValueError(f"no series {series}: take one of {', '.join(SERIES)}")
    if not (value > 0 and math.isfinite(value)):
        raise ValueError(f"a preferred value is greater than zero, not {value:g}")
    exponent = math.floor(math.log10(value))
    # One decade either side, so that a mantissa which rounds to 1 or 10 finds its neighbour.
    ladder = [
        float(f"{step:g}e{decade}")
        for decade in (exponent - 1, exponent, exponent + 1)
        for step in SERIES[series]
    ]
    at = bisect.bisect_left(ladder, value * (1 - 1e-9))
    if math.isclose(ladder[at], value, rel_tol=1e-9):
        return ladder[at], ladder[at]
    return ladder[at - 1], ladder[at]


def at_least(value: float, series: str = "E12") -> float:
    """The smallest preferred value not below `value`: for a resistor that must limit a current."""
    return neighbours(value, series)[1]


def at_most(value: float, series: str = "E12") -> float:
    """The largest preferred value not above `value`: for a bleed that must be quick enough."""
    return neighbours(value, series)[0]


ROUNDING: MappingProxyType[str, Callable[[float, str], float]] = MappingProxyType(
    {"nearest": nearest, "at least": at_least, "at most": at_most}
)
"""The three ways to a preferred value, by their words."""
