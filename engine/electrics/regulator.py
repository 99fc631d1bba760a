"""A linear constant-current regulator under an LED string: current, heat, and what heat takes back.

The chip holds a reference across its set resistor, and drops what string and resistor leave of the
bus. All that it drops becomes heat, `(Vin - Vout) I` as in any linear supply.
"""

from __future__ import annotations


def set_amperes(reference_volts: float, ohms: float) -> float:
    """The current that a set resistor asks for, `Vref / R` (A). ValueError unless both are > 0."""
    if not (reference_volts > 0 and ohms > 0):
        raise ValueError("reference and set resistor must both be greater than zero")
    return reference_volts / ohms


def heat_watts(bus_volts: float, string_volts: float, amperes: float) -> float:
    """Heat in the regulator and its set resistor on a smooth bus, `(Vbus - Vstring) I` (W).

    0 where the string holds more than the bus gives: no current flows then. Ripple on the bus does
    not change it, since the current is the same at every instant: the bus's mean counts.
    """
    return max(0.0, bus_volts - string_volts) * amperes


def folded_share(
    cold_watts: float,
    room_degrees: float,
    kelvins_per_watt: float,
    fold_degrees: float,
    slope: float,
) -> float:
    """The share of its current that a regulator keeps once it is warm, of 1.

    `cold_watts` is its heat at the full current. Above `fold_degrees` it takes back `slope` of the
    current for each kelvin, and current and heat settle where `k = 1 - slope (T - fold)` meets
    `T = room + Rth k P`; so `k = (1 + slope (fold - room)) / (1 + slope Rth P)`, at most 1 and at
    least 0. Makers' data sheets draw that line; its slope is theirs.
    """
    free = 1.0 + slope * (fold_degrees - room_degrees)
    return min(1.0, max(0.0, free / (1.0 + slope * kelvins_per_watt * cold_watts)))
