"""Closed-form sums of LED strings that no converter feeds: a capacitor in line, a linear regulator.

Parts go by their place in the topology, as in `engine.circuit.sums`; string, mains
and loads are averages over a half cycle after `engine.electrics`. What they can't see is how the
light moves within a half cycle, for which `CALM` and the die's slope stand.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

from engine.circuit.design import DIE_VOLTS, Design
from engine.circuit.sums import DIODE_VOLTS, LOW_MAINS, Sums
from engine.electrics import dropper, mains, regulator

SERIES_MODEL = "filmcap"
"""The subcircuit of what may stand in line and limit the current."""
HIGH_MAINS = 1.05
"""The most that units are sampled with, over the nominal."""
VALLEY_MAINS = 0.95
"""The mains at which a new reservoir still holds a regulator's bus: our choice."""
INRUSH_WATTS = 0.7
"""Steady heat that a fusible resistor of 1 W or 2 W is given in a lamp: our choice."""
CROWDED = 2.0
"""Mean square over the mean's square of what a capacitor in line lets through, at most: 1.2 for a
whole sine, more the nearer the string is to the crest."""
DIE_SLOPE_VOLTS = 0.232
"""A die's differential resistance times its rated current: 2 kT/q and 2 ohm at 90 mA, as `leds` of
`kb/circuits/current.lib` has it."""
PULSES = 0.97
"""Alternating part over mean of what a capacitor in line charges a reservoir with: 0.9 to 1 in
simulation."""
CALM = 0.4
"""Alternating part over mean of the light that makers of such lamps put up with: our choice."""
HEAT_DEGREES = 5.0
"""What a sound regulator stays below the heat at which it takes its current back: our choice."""
KNEE = 1.2
"""A channel holds its current from so much over its resistance's own volts on."""
LEAST_LIGHT, MOST_LIGHT = 0.85, 1.15
"""Mean current over the packages' rating in a sound lamp: our choice."""
LEAST_AMPERES, MOST_AMPERES = 0.008, 0.15
"""Strings behind a capacitor: makers' lamps take some ten to a hundred milliamperes (common
practice, no source)."""
MOST_STRING = 0.75
"""A string behind a capacitor leaves it a quarter of the crest at least: our choice."""
TOUCH_VOLTS, TOUCH_SECONDS = 34.0, 1.0
"""What plug pins may still hold so long after unplugging (IEC 60335-1, clause 22.5)."""
LEAST_CONDUCTION = 0.3
"""The share of time in which a lamp without reservoir lights: our choice."""


class Strings(Sums):
    """The sums of one design whose string is fed without a converter."""

    @property
    def is_linear(self) -> bool:
        """Whether a linear regulator sets the current: its set resistor measures, nothing chops."""
        return self.has("controls") and self.has("measures") and not self.has("chops")

    # a capacitor in line

    @property
    def series_farads(self) -> float:
        """The film capacitor in line; 0 where there is none."""
        for name, fact in self.design.nominal.parts.items():
            element = self.design.nominal.netlist.of(name)[:1]
            if fact.place == "line" and element and element[0].model == SERIES_MODEL:
                return self.design.number(name)
        return 0.0

    @property
    def fed_amperes(self) -> float:
        """What the capacitor in line lets through to the string (A)."""
        load = self.string_volts + 2 * DIODE_VOLTS
        return dropper.capacitive_current(self.series_farads, self.rms, self.hertz, load)

    @property
    def most_inrush_ohms(self) -> float:
        """The largest resistor in front of the capacitor that stays under its watts (ohms)."""
        return INRUSH_WATTS / (CROWDED * self.fed_amperes**2)

    @property
    def most_discharge_ohms(self) -> float:
        """The largest resistor across the capacitor that empties it in time from the crest."""
        folds = math.log(mains.peak(self.rms) / TOUCH_VOLTS)
        return TOUCH_SECONDS / (self.series_farads * folds)

    @property
    def string_ohms(self) -> float:
        """The string's differential resistance at its rated current."""
        return DIE_SLOPE_VOLTS * self.string_volts / DIE_VOLTS / self.value("lights", "rated")

    @property
    def calm_farads(self) -> float:
        """The reservoir across a string fed through a capacitor that keeps its light calm (F)."""
        return math.sqrt((PULSES / CALM) ** 2 - 1.0) / (
            4 * math.pi * self.hertz * self.string_ohms
        )

    # a linear regulator

    @property
    def set_amperes(self) -> float:
        """What the set resistor asks for (A)."""
        return regulator.set_amperes(self.value("controls", "vref"), self.value("measures"))

    @property
    def knee_volts(self) -> float:
        """What the regulator needs across it to hold its current, its resistor's volts included."""
        channel = KNEE * self.value("controls", "ron") * self.set_amperes
        return max(self.value("controls", "start"), channel) + self.value("controls", "vref")

    @property
    def conduction(self) -> float:
        """The share of time in which the bus stands over string and knee: 1 with a reservoir."""
        if self.has("reservoir"):
            return 1.0
        share = (self.string_volts + self.knee_volts) / self.crest_volts
        return 1 - 2 / math.pi * math.asin(min(1.0, share))

    def lowest_bus(self, share: float = 1.0, farads: float = 0.0) -> float:
        """The bus before the next half cycle, at a share of the mains (V); with the design's own
        reservoir where no other is named."""
        swing = mains.ripple(
            share * self.rms, self.set_amperes, farads or self.value("reservoir"), self.hertz
        )
        return mains.peak(share * self.rms) - 2 * DIODE_VOLTS - swing

    def heat_watts(self, share: float = 1.0) -> float:
        """Heat of the regulator, at a share of the mains (W)."""
        top = mains.peak(share * self.rms) - 2 * DIODE_VOLTS
        # without a reservoir it conducts about the crest only: its mean there is some 7 % lower
        bus = (top + self.lowest_bus(share)) / 2 if self.has("reservoir") else 0.93 * top
        watts = regulator.heat_watts(bus, self.string_volts, self.set_amperes)
        return watts * self.conduction

    def holding_farads(self) -> float:
        """The least reservoir whose bus stays over string and knee (F): bisection to 1 %."""
        needed, low, high = self.string_volts + self.knee_volts, 1e-8, 1e-3
        while high > 1.01 * low:
            middle = math.sqrt(low * high)
            holds = self.lowest_bus(VALLEY_MAINS, middle) >= needed
            low, high = (low, middle) if holds else (middle, high)
        return high


def checks(design: Design) -> Mapping[str, bool]:
    """What a design whose string no converter feeds must keep, by name; empty for other designs."""
    sums = Strings(design)
    if sums.series_farads:
        return _dropper_checks(sums)
    return _linear_checks(sums) if sums.is_linear else {}


def _dropper_checks(sums: Strings) -> Mapping[str, bool]:
    string, rated = sums.string_volts, sums.value("lights", "rated")
    return {
        "string": string <= MOST_STRING * LOW_MAINS * mains.peak(sums.rms),
        "light": LEAST_LIGHT <= sums.fed_amperes / rated <= MOST_LIGHT,
        "current": LEAST_AMPERES <= sums.fed_amperes <= MOST_AMPERES,
        "calm": sums.value("reservoir") >= 0.9 * sums.calm_farads,
        "rating": sums.value("reservoir", "vr") >= 1.1 * string,
    }


def _linear_checks(sums: Strings) -> Mapping[str, bool]:
    needed = sums.string_volts + sums.knee_volts
    warm = sums.value("controls", "room") + sums.value("controls", "rth") * sums.heat_watts(
        HIGH_MAINS
    )
    mean = sums.set_amperes * sums.conduction
    return {
        "bus": needed <= 0.95 * LOW_MAINS * sums.crest_volts,
        "valley": not sums.has("reservoir") or sums.lowest_bus(VALLEY_MAINS) >= needed,
        "heat": warm <= sums.value("controls", "fold") - HEAT_DEGREES,
        "light": LEAST_LIGHT <= mean / sums.value("lights", "rated") <= MOST_LIGHT,
        "conduction": sums.conduction >= LEAST_CONDUCTION,
    }


SUMS: Mapping[str, Callable[[Sums], float]] = MappingProxyType(
    {
        "series-amperes": lambda sums: Strings(sums.design).fed_amperes,
        "series-string": lambda sums: sums.string_volts,
        "inrush-most": lambda sums: Strings(sums.design).most_inrush_ohms,
        "discharge-most": lambda sums: Strings(sums.design).most_discharge_ohms,
        "alongside": lambda sums: sums.value("alongside"),
        "calm": lambda sums: Strings(sums.design).calm_farads,
        "set-ohms": lambda sums: (
            sums.value("controls", "vref") * sums.string_volts / sums.design.number("watts")
        ),
        "set-amperes": lambda sums: (
            Strings(sums.design).set_amperes * Strings(sums.design).conduction
        ),
        "holds": lambda sums: Strings(sums.design).holding_farads(),
    }
)
"""What a draw of such a family may be a multiple of, by name."""
