"""Bounds that no knowledge can move: numbers that keep hands from harm, each with its source.

Knowledge may set these numbers anywhere within their bounds, so it can only ever ask for more
care. Volts are direct volts unless said otherwise, capacitance is in farads, time in minutes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from kb import signs

MOST_TOUCH_VOLTS = 30.0
"""IEC 60598-1 cl. 8.2.3: 30 V DC, the stricter limit of bare live parts that hands can reach."""

MOST_ELV_VOLTS = 60.0
"""IEC 62368-1 Table 4: energy source class ES1 to 60 V DC (from memory)."""

LEAST_STORING_FARADS = 0.1e-6
"""IEC 60335-1 cl. 22.5: a capacitor across the mains of at most 0.1 µF is exempt from the limit of
34 V one second after unplugging (via summary)."""

OVER_NOMINAL = 1.1
"""IEC 60038: mains stay within 10 % of their nominal volts (from memory)."""


@dataclass(frozen=True, slots=True)
class Bound:
    """The least and the most that a number of the trade may be, and who says so."""

    least: float
    most: float
    source: str


NUMBERS: Mapping[str, Bound] = {
    "touch-volts": Bound(1.0, MOST_TOUCH_VOLTS, "IEC 60598-1 cl. 8.2.3"),
    "wrong-verdict-minutes": Bound(
        1.0, 10_000.0, "common practice, no source: a wrong verdict costs a visit, never a lifetime"
    ),
    "cold-look-minutes": Bound(
        0.5, 60.0, "common practice, no source: a look takes a moment, and is never left out"
    ),
    "closed-cases": Bound(
        1.0, 10_000.0, "common practice, no source: shares count as some cases, never as proof"
    ),
}


def is_number(value: Any) -> bool:
    """Whether a value is a number that can be reckoned with: no truth value, not nan, not inf."""
    return (
        isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
    )


def outside(name: str, value: float) -> str:
    """How a number of the trade leaves its bounds, in words; empty where it keeps them."""
    reach = NUMBERS.get(name)
    if reach is None or reach.least <= value <= reach.most:
        return ""
    return f"it is {value:g}, and must lie from {reach.least:g} to {reach.most:g} ({reach.source})"


def _entries(tree: Any) -> tuple[tuple[Any, Any], ...]:
    """What a mapping or list holds, with its keys or places; nothing for a plain value."""
    if isinstance(tree, Mapping):
        return tuple(tree.items())
    return tuple(enumerate(tree)) if isinstance(tree, (list, tuple)) else ()


def no_numbers(tree: Any) -> Iterator[tuple[Any, Any, float]]:
    """Each nan and inf in what was read: the mapping or list that holds it, its key, and itself."""
    for key, value in _entries(tree):
        if isinstance(value, float) and not math.isfinite(value):
            yield tree, key, float(value)
        yield from no_numbers(value)


def hidden_signs(tree: Any) -> Iterator[tuple[Any, Any, str]]:
    """Each text in what was read that holds a sign which a terminal obeys: the mapping or list that
    holds it, its key, and the sign's number."""
    for key, value in _entries(tree):
        for text in (key, value):
            if isinstance(text, str) and (sign := signs.first_hidden(text)):
                yield tree, key, sign
        yield from hidden_signs(value)
