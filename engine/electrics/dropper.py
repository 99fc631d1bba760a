"""What feeds a small rail from the mains: a capacitor in series, or a resistor onto a zener."""

from __future__ import annotations

from dataclasses import dataclass

from engine.electrics.mains import peak, rectified_mean, rectified_square


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

    `I = (2 Vp/π - Vz)/R` to 0.1 % for a 5 V rail; computed here is the exact mean of what two
    diodes of `diode_volts` and the rail leave of the sine, no current flowing back. Into a rail
    of 0 V this is the feed of a shorted rail. Raises ValueError for a resistance that is not
    positive or a rail below zero.
    """
    if not ohms > 0:
        raise ValueError(f"the dropper must be more than 0 Ω, not {ohms:g}")
    if rail_volts < 0:
        raise ValueError(f"the rail is held at 0 V or above, not at {rail_volts:g} V")
    drop_volts = 2 * diode_volts + rail_volts
    drop = rectified_mean(rms_volts, drop_volts)
    highest = max(0.0, peak(rms_volts) - drop_volts)
    return Feed(drop / ohms, drop, highest, rectified_square(rms_volts, drop_volts) / ohms)
