"""What may be read of a circuit, the ranges of the meter that reads it, and what its display shows.

Both makers of numbers, our solver and ngspice, read with these.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

STEP_SECONDS = 4e-4
"""Longest step of the simulation: fifty to a period of 50 Hz. Of the algorithm."""
OHM_VOLTS, OHM_RANGES, OHM_MOST = 1.0, (1e3, 1e4, 1e5, 1e6, 1e7), 4e7
"""An ohm range: a 1 V source behind a resistor; the least range under half scale is read."""
DIODE_VOLTS, DIODE_OHMS = 2.8, 2.8e3
"""A diode range: 2.8 V open, 1 mA into a short (IDEAL and PeakTech manuals give 1.5 to 3 V)."""
ESR_HERTZ, HENRY_HERTZ = 1e5, 1e3
"""What component meters measure with, 100 kHz and 1 kHz: common practice, no source."""

ALTERNATING = ("esr", "inductance", "capacitance")
"""Readings of a component meter, which measures with alternating current."""

MOST_LOSS = 10.0
"""Dissipation factor from which on a capacitance range shows nothing, as of a short or of a bleed
resistor alone: our choice."""


@dataclass(frozen=True, slots=True)
class Request:
    """One thing to read between nodes `a` and `b`.

    `kind` is wave (between `begin` and `end`, seconds), ohms, diode, or one of `ALTERNATING`.
    """

    kind: str
    a: str
    b: str
    begin: float = 0.0
    end: float = 0.0


Figures = dict[str, float]


def ohm_figures(forth: Sequence[float], back: Sequence[float]) -> Figures:
    """The larger and the smaller reading of an ohm range, the leads either way.

    Of each way the drops in volts range by range, at least as far as the one that is read.
    """
    both = [_ohms([abs(drop) for drop in drops]) for drops in (forth, back)]
    return {"ohms": max(both), "least": min(both)}


def diode_figures(forth: float, back: float) -> Figures:
    """The smaller and the larger drop of a diode range, volts, the leads either way."""
    lower, upper = sorted((abs(forth), abs(back)))
    return {"lower": lower, "upper": upper}


def alternating_figures(kind: str, ohms: complex) -> Figures:
    """What a component meter of a kind of `ALTERNATING` shows of the ohms at its frequency."""
    if kind == "esr":
        return {"ohms": ohms.real}
    if kind == "capacitance":
        past = 1 / ohms
        lossy = past.imag <= 0 or past.real > MOST_LOSS * past.imag
        return {"farads": 0.0 if lossy else past.imag / (2 * math.pi * HENRY_HERTZ)}
    return {"henries": ohms.imag / (2 * math.pi * HENRY_HERTZ)}


def _ohms(drops: Sequence[float]) -> float:
    """What the display shows, infinite for over range: the least range under half scale."""
    for drop, ohms in zip(drops, OHM_RANGES, strict=False):
        if drop <= 0.5 * OHM_VOLTS:
            return drop * ohms / (OHM_VOLTS - drop)
    last = drops[-1]
    reading = last * OHM_RANGES[-1] / (OHM_VOLTS - last) if last < OHM_VOLTS else math.inf
    return reading if reading <= OHM_MOST else math.inf
