"""Sums with values and markings: the nearest preferred value, and what is printed on a part."""

from __future__ import annotations

import math
from collections.abc import Sequence

from engine.calc.sums import ANY_UNIT, TEXT, Calculation, Entry, Inputs, Parameter, entry
from engine.electrics import codes, preferred
from kb.quantities import Quantity, show


def _round_to_series(inputs: Inputs) -> Sequence[Entry]:
    value = inputs.quantities["value"]
    series, way = inputs.texts["series"], inputs.texts["take"]
    rounded_value = preferred.ROUNDING[way](value.value, series)
    below, above = preferred.neighbours(value.value, series)
    off = (rounded_value / value.value - 1) * 100
    return (
        entry("preferred value", rounded_value, value.unit, f"({off:+.1f} %)".replace("-", "−")),
        entry("next below", below, value.unit),
        entry("next above", above, value.unit),
    )


def _resistor(inputs: Inputs) -> Sequence[Entry]:
    text = inputs.texts["marking"]
    words = text.replace(",", " ").split()
    return _value(codes.resistor_colours(words) if len(words) > 1 else codes.resistor_code(text))


def _capacitor(inputs: Inputs) -> Sequence[Entry]:
    return _value(codes.capacitor_code(inputs.texts["marking"]))


def _value(quantity: Quantity) -> Sequence[Entry]:
    lines = [entry("value", quantity.value, quantity.unit)]
    if quantity.tolerance is not None:
        lines.append(entry("least", quantity.low, quantity.unit))
        lines.append(entry("most", quantity.high, quantity.unit))
    if quantity.value > 0 and not _preferred_value(quantity.value):
        near = show(preferred.nearest(quantity.value, "E24"), quantity.unit)
        lines.append(Entry("beware", f"no preferred value, misread? The nearest is {near}"))
    return lines


def _preferred_value(value: float) -> bool:
    return any(math.isclose(preferred.nearest(value, series), value) for series in ("E24", "E192"))


CALCULATIONS = (
    Calculation(
        name="preferred",
        says="The preferred value nearest to, at least or at most a value",
        formula="nearest by ratio",
        parameters=(
            Parameter("value", ANY_UNIT, "the value, with its unit unless it is in ohms"),
            Parameter("series", TEXT, "the series", "E12", choices=tuple(preferred.SERIES)),
            Parameter(
                "take", TEXT, "which neighbour", "nearest", choices=tuple(preferred.ROUNDING)
            ),
        ),
        rating="At least the value for a resistor that limits a current, at most for a bleed that "
        "must be quick",
        source="IEC 60063",
        worked=_round_to_series,
    ),
    Calculation(
        name="resistor-code",
        says="A resistor's value by its colours, letters or digits",
        formula="digits and a power of ten; EIA-96: the place in E96 and a letter",
        parameters=(
            Parameter("marking", TEXT, "the colours from the first band on, or what is printed"),
        ),
        rating="Measure it: colours fade, and a resistor never reads above its value unless it "
        "has drifted or opened",
        source="IEC 60062, EIA-96",
        worked=_resistor,
    ),
    Calculation(
        name="capacitor-code",
        says="A capacitor's value by its digits or letters",
        formula="two digits and a power of ten in picofarads",
        parameters=(Parameter("marking", TEXT, "what is printed, such as 104 or 4n7"),),
        rating="Same or higher voltage; X and Y types by the same class only",
        source="EIA-198, from memory; IEC 60062",
        worked=_capacitor,
    ),
)
