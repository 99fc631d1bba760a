"""Sums for what the mains feeds: a zener rail, a capacitive dropper's string, a bulk capacitor."""

from __future__ import annotations

from collections.abc import Sequence

from engine.calc.rating import resistor_watts
from engine.calc.sums import Calculation, Entry, Inputs, Parameter, entry
from engine.electrics import dropper, mains
from kb.quantities import AMPERE, FARAD, HERTZ, OHM, VOLT, WATT, Tolerance

# What a 1 A rectifier diode drops at half a milliampere; at its rated current it drops 0.7 to 1 V.
_SMALL_CURRENT_DIODE = 0.5

_MAINS = Parameter("mains", VOLT, "the mains voltage", "230 V ±10 %", most=260,
                   tolerance=Tolerance(0.10, 0.10))  # fmt: skip
_HERTZ = Parameter("hertz", HERTZ, "the mains frequency", "50 Hz", most=400)


def _rail(inputs: Inputs) -> Sequence[Entry]:
    supply, ohms, rail = (inputs.quantities[name] for name in ("mains", "dropper", "rail"))

    def feed(volts: float, resistance: float, across: float) -> dropper.Feed:
        return dropper.resistor_feed(volts, resistance, across, _SMALL_CURRENT_DIODE)

    middle = feed(supply.value, ohms.value, rail.value)
    weak = feed(supply.low, ohms.high, rail.high)
    strong = feed(supply.high, ohms.low, rail.low)
    return (
        entry("current", middle.amperes, AMPERE),
        entry("least current", weak.amperes, AMPERE),
        entry("greatest current", strong.amperes, AMPERE),
        entry("mean across the dropper", middle.drop_volts, VOLT),
        entry("highest across the dropper", strong.peak_drop_volts, VOLT),
        entry("heat", middle.watts, WATT),
        entry("greatest heat", strong.watts, WATT),
        entry("rating", resistor_watts(strong.watts), WATT),
    )


def _capacitive(inputs: Inputs) -> Sequence[Entry]:
    supply, farads = inputs.quantities["mains"], inputs.quantities["capacitor"]
    hertz, load = inputs["hertz"], inputs["load"]

    def current(volts: float, capacitance: float) -> float:
        return dropper.capacitive_current(capacitance, volts, hertz, load)

    return (
        entry("current", current(supply.value, farads.value), AMPERE),
        entry("least current", current(supply.low, farads.low), AMPERE),
        entry("greatest current", current(supply.high, farads.high), AMPERE),
        entry("worn by a fifth", current(supply.value, farads.value * 0.8), AMPERE),
        entry("peak without a string", mains.peak(supply.high), VOLT),
    )


def _ripple(inputs: Inputs) -> Sequence[Entry]:
    supply, farads = inputs.quantities["mains"], inputs.quantities["capacitor"]
    amperes, hertz = inputs["current"], inputs["hertz"]
    top = mains.peak(supply.value)
    swing = mains.ripple(supply.value, amperes, farads.value, hertz)
    half_worn = mains.ripple(supply.value, amperes, farads.value * 0.5, hertz)
    upper_bound = min(top, mains.ripple_bound(amperes, farads.value, hertz))
    return (
        entry("ripple", swing, VOLT, "peak to peak"),
        entry("at most", upper_bound, VOLT, "by I/(2fC)"),
        entry("peak", top, VOLT),
        entry("trough", top - swing, VOLT),
        entry("worn to half", half_worn, VOLT, "peak to peak"),
        entry("highest peak", mains.peak(supply.high), VOLT),
    )


CALCULATIONS = (
    Calculation(
        name="zener-rail",
        says="What a dropper resistor feeds into a zener rail from an unfiltered bridge",
        formula="I = (2 Vp/π − 2 Vd − Vz)/R, no current flowing back",
        parameters=(
            _MAINS,
            Parameter("dropper", OHM, "the dropper resistor", above=100,
                      tolerance=Tolerance(0.05, 0.05)),
            Parameter("rail", VOLT, "the voltage the rail is held at", "5V1", above=-0.001,
                      most=100, tolerance=Tolerance(0.06, 0.06)),
        ),
        rating="Twice the greatest heat, and the highest voltage across it: two in series or a "
        "high-voltage type. Less than half a milliampere holds a zener tenths of a volt low",
        source="mean of a rectified sine; mains ±10 %: IEC 60038, from memory; zener spread: "
        "BZX79C tables",
        worked=_rail,
    ),
    Calculation(
        name="capacitive-dropper",
        says="Current that a series film capacitor pushes through a bridge into a string",
        formula="I = 4 f C (Vp − Vs)",
        parameters=(
            _MAINS,
            _HERTZ,
            Parameter("capacitor", FARAD, "the series capacitor", most=1e-4,
                      tolerance=Tolerance(0.1, 0.1)),
            Parameter("load", VOLT, "the string's voltage and two diode drops", most=400),
        ),
        rating="Same class (X2) and voltage only, its bleed resistor whole; an open string puts "
        "the whole peak on the electrolytic",
        source="charge per half cycle; series film capacitors lose 10 to 20 %: makers' and repair "
        "texts",
        worked=_capacitive,
    ),
    Calculation(
        name="ripple",
        says="Ripple that a bulk capacitor leaves behind a bridge",
        formula="at most I/(2 f C); exactly, where the next half wave meets the falling line",
        parameters=(
            _MAINS,
            _HERTZ,
            Parameter("capacitor", FARAD, "the bulk capacitor", most=0.1),
            Parameter("current", AMPERE, "the load current", most=20),
        ),
        rating="Same or higher voltage, 105 °C, ripple current no lower; good capacitance with a "
        "bad ESR is bad all the same",
        source="ideal diodes, constant current; replacing: common practice",
        worked=_ripple,
    ),
)  # fmt: skip
