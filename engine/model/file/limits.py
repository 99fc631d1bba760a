"""Bounds that carry safety in a model document: it may keep within them, never widen them."""

from __future__ import annotations

ELV_VOLTS = 60.0
"""Above 60 V DC a source is hvdc and not to be touched (ordinary conditions, IEC 60598-1
cl. 8.2.3 after IEC 60364-4-41)."""

TOUCH_VOLTS = 30.0
"""A store is measured below this before hands go in: 30 V DC, the stricter limit of bare live parts
in IEC 60598-1 cl. 8.2.3, the other one being 60 V DC."""

PEAK = 1.1 * 2.0**0.5
"""Peak of the mains over its nominal volts, 10 % over (voltage tolerance of EN 50160)."""

COLD_CHECKS = "cold-checks"
"""The one opening that brings no hands inside: checks that come before anything is energised."""

BOARDS_TAKEN_FOR_LIVE = (
    "Whether the driver is isolated is not known: take every board for LIVE, the LED board and its "
    "metal too. Touch nothing while it is plugged in."
)
"""Where a document does not tell; the shipped caution would say more than is known."""

ANY_STORE = (
    "any other capacitor",
    "each capacitor marked for more than 30 V, at its own terminals",
)
"""Part and point of what may be charged in a unit of which no store is listed."""
