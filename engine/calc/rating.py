"""Rating rules: what a part must bear, rounded up to what shops sell."""

from __future__ import annotations

_SOLD = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 17.0, 25.0, 50.0, 100.0)
"""Watts of resistors that shops sell: common practice, no source."""


def resistor_watts(heat_watts: float) -> float:
    """Smallest usual rating of at least twice the lasting heat (common practice).

    Above the largest in the list the doubled heat itself is returned: such a resistor is chosen
    from a data sheet.
    """
    return next((rating for rating in _SOLD if rating >= 2 * heat_watts), 2 * heat_watts)
