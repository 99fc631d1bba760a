"""A charged capacitor and the resistor that empties it: `E = C V²/2`, `v(t) = V0 exp(-t/RC)`."""

from __future__ import annotations

import math


def energy(farads: float, volts: float) -> float:
    """Stored energy `C V²/2` (J); a bleed resistor takes all of it as heat."""
    return farads * volts**2 / 2


def seconds_to(ohms: float, farads: float, volts: float, limit_volts: float) -> float:
    """Time to fall from `volts` to `limit_volts` through `ohms`, `R C ln(V0/V)` (s).

    0 where the capacitor is at or below the limit already. ValueError for a limit of zero or
    less: an exponential never gets there.
    """
    if not limit_volts > 0:
        raise ValueError(f"name a limit above 0 V, not {limit_volts:g} V: no bleed reaches zero")
    if volts <= limit_volts:
        return 0.0
    return ohms * farads * math.log(volts / limit_volts)


def volts_after(ohms: float, farads: float, volts: float, seconds: float) -> float:
    """Voltage left after `seconds`, `V0 exp(-t/RC)` (V)."""
    if not ohms * farads > 0:
        raise ValueError("resistance and capacitance must both be greater than zero")
    return volts * math.exp(-seconds / (ohms * farads))


def peak_watts(ohms: float, volts: float) -> float:
    """Heat in the resistor at the first instant, `V0²/R` (W)."""
    if not ohms > 0:
        raise ValueError(f"the resistor must be more than 0 Ω, not {ohms:g}: never a short")
    return volts**2 / ohms


def largest_ohms(farads: float, volts: float, limit_volts: float, seconds: float) -> float:
    """Largest bleed that falls from `volts` to `limit_volts` in time, `t/(C ln(V0/V))` (Ω).

    Infinite where the capacitor is below the limit from the start.
    """
    if not (farads > 0 and limit_volts > 0 and seconds > 0):
        raise ValueError("capacitance, limit and time must all be greater than zero")
    if volts <= limit_volts:
        return math.inf
    return seconds / (farads * math.log(volts / limit_volts))


def hazardous(volts: float, joules: float) -> bool:
    """Whether a charged capacitor is a hazard by energy and voltage.

    More than 100 J under 100 V, 1 J from 100 to 400 V, 0.25 J above 400 V: NFPA 70E article 360,
    from memory. A charge below these can still startle a hand into something worse.
    """
    limit = 100.0 if volts < 100 else 1.0 if volts <= 400 else 0.25
    return joules > limit
