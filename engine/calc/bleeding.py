"""The sum for emptying a charged capacitor before hands go in."""

from __future__ import annotations

from collections.abc import Sequence

from engine.calc.sums import Calculation, Entry, Inputs, Parameter, entry
from engine.electrics import discharge, preferred
from kb.quantities import FARAD, JOULE, OHM, SECOND, VOLT, WATT, Tolerance

_SPARK_WATTS = 200.0
"""What a bench resistor of 10 W bears for the blink of a discharge: twenty times. Our choice."""


def _discharge(inputs: Inputs) -> Sequence[Entry]:
    volts, ohms, limit = inputs["volts"], inputs["resistor"], inputs["limit"]
    farads = inputs["capacitor"]
    largest_farads = inputs.quantities["capacitor"].high
    joules = discharge.energy(largest_farads, volts)
    hazard = "at most"
    if discharge.hazardous(volts, joules):
        hazard = "at most: a hazard by its energy alone"
    heat = discharge.peak_watts(ohms, volts)
    spark = "no better than a screwdriver: take a larger one" if heat > _SPARK_WATTS else ""
    seconds = discharge.seconds_to(ohms, farads, volts, limit)
    slow = discharge.seconds_to(inputs.quantities["resistor"].high, largest_farads, volts, limit)
    lines = [
        entry("energy", joules, JOULE, hazard),
        entry("time", seconds, SECOND),
        entry("longest time", slow, SECOND, "with the tolerances"),
        entry("first heat", heat, WATT, spark),
        entry("first current", volts / ohms, "A"),
    ]
    if "within" in inputs:
        most = discharge.largest_ohms(largest_farads, volts, limit, inputs["within"])
        left = discharge.volts_after(ohms, farads, volts, inputs["within"])
        lines.append(entry("left then", left, VOLT))
        if most != float("inf"):
            lines.append(entry("largest resistor", most, OHM))
            lines.append(entry("take", preferred.at_most(most), OHM))
    return lines


CALCULATIONS = (
    Calculation(
        name="discharge",
        says="How long a capacitor takes to bleed, its energy, and what the resistor bears",
        formula="t = R C ln(V0/V), E = C V0²/2, P = V0²/R",
        parameters=(
            Parameter("capacitor", FARAD, "the capacitance", most=0.1,
                      tolerance=Tolerance(0.2, 0.2)),
            Parameter("volts", VOLT, "the voltage it is charged to", most=1000),
            Parameter("resistor", OHM, "the bleed resistor", "10 kΩ",
                      tolerance=Tolerance(0.05, 0.05)),
            Parameter("limit", VOLT, "the voltage to get below", "30 V"),
            Parameter("within", SECOND, "the time allowed", optional=True),
        ),
        rating="2.2 to 10 kΩ of 5 to 10 W for the full voltage, clipped on, never a screwdriver; "
        "then measure, and again before touching: a wet capacitor creeps back",
        source="30 V DC: IEC 60598-1 cl. 8.2.3, the stricter case; hazard by energy: NFPA 70E "
        "article 360, from memory; resistor: common practice",
        worked=_discharge,
    ),
)  # fmt: skip
