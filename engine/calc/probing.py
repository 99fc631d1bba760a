"""Sums for checks on the bench: lighting an LED package, the series lamp, a comparator's window."""

from __future__ import annotations

from collections.abc import Sequence

from engine.calc.rating import resistor_watts
from engine.calc.sums import COUNT, Calculation, Entry, Inputs, Parameter, entry
from engine.electrics import comparator, ledcheck, limiter, preferred
from kb.quantities import AMPERE, OHM, VOLT, WATT

# A fresh 9 V battery has 9.6 V and a tired one 7 V; white dies drop 2.8 to 3.4 V (from memory).
_FRESH, _TIRED = 9.6 / 9, 7 / 9
# Typical, least and greatest drop of a white die at a few milliamperes (from memory).
_DIE, _DIE_LOW, _DIE_HIGH = 3.0, 2.8, 3.4


def _led(inputs: Inputs) -> Sequence[Entry]:
    volts, dies = inputs["battery"], int(inputs["dies"])
    exact = ledcheck.resistor_for(volts, dies, inputs["current"], _DIE)
    ohms = inputs["resistor"] if "resistor" in inputs else preferred.at_least(exact)
    typical = ledcheck.led_check(volts, ohms, dies, _DIE)
    worst = ledcheck.led_check(volts * _FRESH, ohms * 0.95, dies, _DIE_LOW)
    weakest = ledcheck.led_check(volts * _TIRED, ohms * 1.05, dies, _DIE_HIGH)
    one = ledcheck.led_check(volts * _FRESH, ohms * 0.95, 1, _DIE_LOW)
    watts = resistor_watts(worst.short_watts)
    return (
        entry("exact resistor", exact, OHM),
        entry("resistor", ohms, OHM),
        entry("current", typical.amperes, AMPERE),
        entry("least current", weakest.amperes, AMPERE, "(tired battery, dies of 3.4 V)"),
        entry("greatest current", worst.amperes, AMPERE, "(fresh battery, dies of 2.8 V)"),
        entry("on a single die", one.amperes, AMPERE, "at most"),
        entry("heat", worst.watts, WATT, "at most"),
        entry("short current", worst.short_amperes, AMPERE),
        entry("short heat", worst.short_watts, WATT),
        entry("rating", watts, WATT),
    )


def _lamp(inputs: Inputs) -> Sequence[Entry]:
    least, most = limiter.lamp_for(inputs["unit"])
    lines = []
    for watts in dict.fromkeys((least, most)):
        lamp = limiter.series_lamp(inputs["mains"], watts)
        name = f"{watts:g} W lamp"
        lines.append(entry(f"{name}, shorted unit", lamp.short_amperes, AMPERE))
        lines.append(entry(f"{name}, hot", lamp.hot_ohms, OHM))
    return lines


def _comparator(inputs: Inputs) -> Sequence[Entry]:
    window = comparator.window(
        inputs["supply"], inputs["least"], inputs["headroom"], inputs["headroom-hot"]
    )
    verdict = "in its supply range" if window.supplied else "below its least supply: no promise"
    return (
        Entry("supply", verdict),
        entry("inputs from", window.low_volts, VOLT),
        entry("inputs to", window.high_volts, VOLT, "at 25 °C"),
        entry("inputs to, hot or cold", window.high_volts_hot, VOLT, "over temperature"),
    )


CALCULATIONS = (
    Calculation(
        name="led-check",
        says="Series resistor for lighting one LED package from a battery",
        formula="R = (Vb − n Vf)/I, shorted Vb/R and Vb²/R",
        parameters=(
            Parameter("dies", COUNT, "the dies in series in the package", "2", most=12),
            Parameter("battery", VOLT, "the battery's marked voltage", "9 V", most=60),
            Parameter("current", AMPERE, "the current wanted", "10 mA", most=0.1),
            Parameter("resistor", OHM, "a resistor at hand, if it is not to be chosen",
                      optional=True),
        ),
        rating="Twice the heat with the leads shorted, since probes touch; prove source and leads "
        "on a known LED first",
        source="Ohm's law; white dies 2.8 to 3.4 V, 9 V battery 7 to 9.6 V: common practice",
        worked=_led,
    ),
    Calculation(
        name="series-lamp",
        says="Which filament lamp limits a unit, and what flows if the unit is shorted",
        formula="R = V²/P hot, I = P/V shorted",
        parameters=(
            Parameter("unit", WATT, "what the unit takes in use", most=60),
            Parameter("mains", VOLT, "the mains voltage", "230 V", most=260),
        ),
        rating="Filament or halogen lamp for this mains, 40 to 60 W for units to 20 W, 100 W for "
        "30 to 60 W; it limits damage, not shock",
        source="common practice; hot resistance from the lamp's rating",
        worked=_lamp,
    ),
    Calculation(
        name="comparator",
        says="Inputs that a comparator compares rightly at the supply it has",
        formula="0 V to V+ − headroom at 25 °C, V+ − headroom-hot over temperature",
        parameters=(
            Parameter("supply", VOLT, "the voltage on its supply pin", above=-0.001, most=36),
            Parameter("least", VOLT, "its least supply", "2 V"),
            Parameter("headroom", VOLT, "the headroom at 25 °C", "1.5 V"),
            Parameter("headroom-hot", VOLT, "the headroom over temperature", "2 V"),
        ),
        rating="With one input inside the window and the other above it the output is still right",
        source="393 and 2903 class data sheets",
        worked=_comparator,
    ),
)  # fmt: skip
