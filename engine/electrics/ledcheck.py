"""Lighting one LED package from a battery through a resistor: the check a meter cannot do."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LedCheck:
    """Current through the package, heat in the resistor, and both with the leads shorted."""

    amperes: float
    watts: float
    short_amperes: float
    short_watts: float


def resistor_for(battery_volts: float, dies: int, amperes: float, die_volts: float = 3.0) -> float:
    """Series resistor for `dies` in series at `amperes`, `R = (Vb - n Vf)/I` (Ω).

    A white die drops 2.8 to 3.4 V. ValueError where the battery can't light the package.
    """
    left = battery_volts - dies * die_volts
    if not left > 0:
        raise ValueError(
            f"{battery_volts:g} V can't light {dies} dies of {die_volts:g} V: take a source above "
            f"{dies * die_volts:g} V"
        )
    if not amperes > 0:
        raise ValueError(f"name a current above 0 A, not {amperes:g}")
    return left / amperes


def led_check(battery_volts: float, ohms: float, dies: int, die_volts: float = 3.0) -> LedCheck:
    """What a battery and a resistor do to a package of `dies` in series, and to a short.

    The resistor must bear the short-circuit heat `Vb²/R`, since probes touch. Below the package's
    voltage no current flows.
    """
    if not ohms > 0:
        raise ValueError(f"never without a resistor: {ohms:g} Ω does not limit the current")
    amperes = max(0.0, (battery_volts - dies * die_volts) / ohms)
    short = battery_volts / ohms
    return LedCheck(amperes, amperes**2 * ohms, short, short**2 * ohms)
