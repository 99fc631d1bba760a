"""Rectified mains: peaks, averages and the ripple a bulk capacitor leaves."""

from __future__ import annotations

import math


def peak(rms_volts: float) -> float:
    """Peak of a sine, `√2 V` (V)."""
    return math.sqrt(2) * rms_volts


def rectified_mean(rms_volts: float, drop_volts: float = 0.0) -> float:
    """Average of a full-wave rectified sine without filter, `2 Vp/π` (V).

    `drop_volts` is what the conducting pair of bridge diodes, or anything else in the way, takes
    off at every instant: the mean of `max(0, Vp |sin| - drop)`, which is
    `2/π (√(Vp² - d²) + d asin(d/Vp)) - d`, and close to `2 Vp/π - d` for a small drop.
    """
    top = peak(rms_volts)
    if drop_volts >= top:
        return 0.0
    under = math.sqrt(top**2 - drop_volts**2) + drop_volts * math.asin(drop_volts / top)
    return 2 * under / math.pi - drop_volts


def rectified_square(rms_volts: float, drop_volts: float = 0.0) -> float:
    """Mean square of `max(0, Vp |sin| - drop)` (V²); `V²` without a drop.

    Integrated from the angle `α = asin(d/Vp)` at which conduction begins.
    """
    top = peak(rms_volts)
    if drop_volts >= top:
        return 0.0
    begin = math.asin(drop_volts / top)
    return (
        top**2 * (0.5 - begin / math.pi + math.sin(2 * begin) / (2 * math.pi))
        - 4 / math.pi * top * drop_volts * math.cos(begin)
        + drop_volts**2 * (1 - 2 * begin / math.pi)
    )


def ripple_bound(amperes: float, farads: float, hertz: float) -> float:
    """Peak-to-peak ripple after a bridge, upper bound `I / (2 f C)` (V).

    It is a bound because the capacitor is taken to discharge for the whole half cycle.
    """
    _positive(farads=farads, hertz=hertz)
    return amperes / (2 * hertz * farads)


def ripple(rms_volts: float, amperes: float, farads: float, hertz: float) -> float:
    """Peak-to-peak ripple for ideal diodes and a constant load current (V), exact.

    The capacitor leaves the sine where `Vp ω sin(ωt) = I/C` and falls in a straight line until it
    meets the next half wave; the meeting point is bisected to a relative 1e-12 of the period, some
    forty steps. Where the current outruns the capacitor the bus follows the sine to zero.
    """
    _positive(farads=farads, hertz=hertz, rms_volts=rms_volts)
    top, omega, slope = peak(rms_volts), 2 * math.pi * hertz, amperes / farads
    steepness = slope / (top * omega)
    if steepness >= 1:
        return top
    leaves = math.asin(steepness) / omega
    start = top * math.cos(omega * leaves)

    def excess(seconds: float) -> float:
        return start - slope * (seconds - leaves) + top * math.cos(omega * seconds)

    low, high = math.pi / (2 * omega), math.pi / omega
    if excess(low) <= 0:
        return top
    while high - low > 1e-12 / hertz:
        middle = (low + high) / 2
        low, high = (middle, high) if excess(middle) > 0 else (low, middle)
    return top + top * math.cos(omega * low)


def _positive(**numbers: float) -> None:
    for name, number in numbers.items():
        if not number > 0:
            raise ValueError(f"{name.replace('_', ' ')} must be greater than zero, not {number:g}")
