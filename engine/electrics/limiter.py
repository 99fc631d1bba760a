"""The filament lamp in series with a unit under test, and the earth-leakage breaker's patience."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limiter:
    """A filament lamp in series: hot resistance, current into a shorted unit."""

    hot_ohms: float
    short_amperes: float


def series_lamp(rms_volts: float, watts: float) -> Limiter:
    """Hot resistance `V²/P` and current into a short `P/V` of a lamp rated for this mains.

    Cold, the filament has a tenth to a fifteenth of the hot resistance, so a unit that takes
    little current hardly notices the lamp. ValueError unless both numbers are positive.
    """
    if not (rms_volts > 0 and watts > 0):
        raise ValueError("mains volts and lamp watts must both be greater than zero")
    return Limiter(rms_volts**2 / watts, watts / rms_volts)


def lamp_for(unit_watts: float) -> tuple[float, float]:
    """Smallest and largest useful lamp rating (W) for a unit that takes `unit_watts`.

    Common practice: 40 to 60 W for lamps up to about 20 W, 100 W for supplies of 30 to 60 W. Units
    between the two take either; above 60 W no single lamp serves, and ValueError says so.
    """
    if not 0 < unit_watts <= 60:
        raise ValueError(
            f"common practice names a series lamp for units up to 60 W, not for {unit_watts:g} W"
        )
    if unit_watts <= 20:
        return 40.0, 60.0
    return (60.0, 100.0) if unit_watts < 30 else (100.0, 100.0)


def gfci_trip_seconds(amperes: float) -> float:
    """Longest time a class A ground-fault interrupter may take, `(20 mA/I)^1.43` (s).

    UL 943, for 6 to 264 mA. A breaker trips on current to earth only: between line and neutral no
    time holds at all. ValueError outside the range.
    """
    if not 0.006 <= amperes <= 0.264:
        raise ValueError(f"the formula holds from 6 to 264 mA, not for {amperes * 1000:g} mA")
    return float((0.020 / amperes) ** 1.43)
