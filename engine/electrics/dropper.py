"""What feeds a small rail from the mains: a capacitor in series, or a resistor onto a zener."""

from __future__ import annotations

import math
from dataclasses import dataclass

from engine.electrics.mains import peak, rectified_mean


def capacitive_current(farads: float, rms_volts: float, hertz: float, load_volts: float) -> float:
    """Mean current a series capacitor pushes through a bridge, `4 f C (Vp - Vs)` (A).

    `load_volts` is the smooth voltage at the bridge's mains side: the string or rail plus two
    diode drops. In each half cycle the capacitor swings by `2 (Vp - Vs)`, and there are two of
    them: the charge per second follows. Holds for a small inrush resistor and a smooth load below
    the peak; at or above it no current flows. The same derivation gives ngspice's figure to 1 %.
    """
    return max(0.0, 4 * hertz * farads * (peak(rms_volts) - load_volts))


@dataclass(frozen=True, slots=True)
class Feed:
    """A resistor fed from the unfiltered bridge onto a rail, averages over the half cycle.

    `amperes` into the rail, `drop_volts` (mean) and `peak_drop_volts` across the resistor,
    `watts` in it.
    """

    amperes: float
    drop_volts: float
    peak_drop_volts: float
    watts: float


def resistor_feed(
    rms_volts: float, ohms: float, rail_volts: float, diode_volts: float = 0.0
) -> Feed:
    """Current, drop and heat of a dropper resistor from an unfiltered bridge onto a steady rail.

    `I = (2 Vp/π - Vz)/R` with two `diode_volts` off the peak; heat from the mean square of
    `Vp |sin| - Vz`, which is `Vp²/2 - 4 Vp Vz/π + Vz²`. The time in which the bus is below the
    rail is counted as if current could flow back; that changes less than 0.1 % for a 5 V rail on
    100 V mains or more, and the function refuses rails above a tenth of the peak, where it would
    matter. Raises ValueError there and for a resistance that is not positive.
    """
    top = peak(rms_volts) - 2 * diode_volts
    if not ohms > 0:
        raise ValueError(f"the dropper must be more than 0 Ω, not {ohms:g}")
    if not 0 <= rail_volts <= top / 10:
        raise ValueError(
            f"the formula holds for rails from 0 V to a tenth of the peak, {top / 10:.3g} V here, "
            f"not {rail_volts:g} V"
        )
    drop = rectified_mean(rms_volts, diode_volts) - rail_volts
    square = top**2 / 2 - 4 * top * rail_volts / math.pi + rail_volts**2
    return Feed(drop / ohms, drop, top - rail_volts, square / ohms)
