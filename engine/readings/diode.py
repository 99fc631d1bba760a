"""What a meter's diode range shows, as the answer of a test that is answered in words.

The range drives about 1 mA and shows the volts across the junction. A silicon junction reads 0.4 V
to 0.8 V, a Schottky one from 0.1 V, two in line about twice as much, a short next to nothing
(common practice; meters' manuals). One reading is one way round: that the other way reads over
range is left to the person, as the question says it.
"""

from __future__ import annotations

import math
from typing import Any

from engine.model.records import Test
from kb.quantities import VOLT, read_quantity

RANGE = "diode range"
_SHOWS = (
    (("near-nothing",), 0.0, 0.1),
    (("junction", "one-junction", "four-junctions"), 0.1, 0.95),
    (("two-junctions",), 0.95, 1.9),
    (("open", "over-range"), 1.9, math.inf),
)
"""Outcomes and the volts, from and below, that are read for them."""
_OVER = ("ol", "o.l", "o.l.", "1.", "over range", "overrange")


def grammar() -> dict[str, Any]:
    """What the diode range shows for which outcomes, JSON-ready; null for endless volts."""
    shows = [[list(names), low, None if math.isinf(high) else high] for names, low, high in _SHOWS]
    return {"range": RANGE, "shows": shows, "over": list(_OVER)}


def outcome(text: str, test: Test) -> str | None:
    """The outcome that volts on the diode range stand for; None where the test is none on that
    range, has no such outcome, or the text is no reading."""
    if RANGE not in test.instrument:
        return None
    volts = math.inf if text.lower() in _OVER else _volts(text)
    if volts is None or volts < 0:
        return None
    there = {one.id for one in test.outcomes}
    for names, low, high in _SHOWS:
        if low <= volts < high or volts == high == math.inf:
            return next((name for name in names if name in there), None)
    return None


def _volts(text: str) -> float | None:
    try:
        quantity = read_quantity(text, VOLT)
    except ValueError:
        return None
    return quantity.value if quantity.unit == VOLT else None
