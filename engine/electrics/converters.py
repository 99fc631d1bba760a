"""Buck and flyback converters in steady state, linear supplies, and a class-AB output."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Buck:
    """Duty, peak-to-peak inductor current, and the least load that keeps it from stopping."""

    duty: float
    ripple_amperes: float
    boundary_amperes: float


def buck(in_volts: float, out_volts: float, henries: float, hertz: float) -> Buck:
    """`D = Vo/Vi`, `ΔI = Vo (1 - D)/(L f)`, continuous above a mean of `ΔI/2`; ideal parts.

    At the boundary the peak is twice the mean. ValueError unless 0 < Vo < Vi.
    """
    if not 0 < out_volts < in_volts:
        raise ValueError(f"a buck gives less than it is fed: {out_volts:g} V of {in_volts:g} V")
    duty = out_volts / in_volts
    ripple = out_volts * (1 - duty) / (henries * hertz)
    return Buck(duty, ripple, ripple / 2)


@dataclass(frozen=True, slots=True)
class Flyback:
    """Duty and the voltage its switch stands off, without and with the leakage spike."""

    duty: float
    reflected_volts: float
    switch_volts: float


def flyback(in_volts: float, out_volts: float, turns: float, spike_volts: float = 0.0) -> Flyback:
    """`D = n Vo/(n Vo + Vi)`, switch `Vi + n Vo + spike`; continuous conduction, ideal parts.

    `turns` is primary over secondary; `out_volts` includes the output diode's drop.
    """
    reflection = turns * out_volts
    if not (in_volts > 0 and reflection > 0):
        raise ValueError("input, output and turns must all be greater than zero")
    return Flyback(
        reflection / (reflection + in_volts), reflection, in_volts + reflection + spike_volts
    )


def flyback_watts(henries: float, peak_amperes: float, hertz: float) -> float:
    """Power of a discontinuous flyback before losses, `L Ip² f/2` (W)."""
    return henries * peak_amperes**2 * hertz / 2


def linear_bus(rms_volts: float, diode_volts: float, ripple_volts: float) -> float:
    """Lowest voltage of a transformer, bridge and reservoir, `√2 V - 2 Vf - ripple` (V)."""
    return math.sqrt(2) * rms_volts - 2 * diode_volts - ripple_volts


def regulator_watts(in_volts: float, out_volts: float, amperes: float) -> float:
    """Heat in a linear regulator, `(Vin - Vout) I` (W)."""
    return (in_volts - out_volts) * amperes


def class_ab_watts(rail_volts: float, drop_volts: float, load_ohms: float) -> float:
    """Largest sine power of one class-AB channel on split rails, `(V - drop)²/(2 R)` (W)."""
    if not load_ohms > 0:
        raise ValueError(f"the load must be more than 0 Ω, not {load_ohms:g}")
    return (rail_volts - drop_volts) ** 2 / (2 * load_ohms)
