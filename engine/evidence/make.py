"""What is known of this very unit beside its topology: markings read, a good unit's readings.

The dictionary's samples are siblings of the unit: each drew a design and values within tolerance,
the same under every fault. So whatever is known of the unit at hand weighs the siblings: a marking
by the designs that have it, an identical good unit by how near its readings are to the sibling's
without fault. Weights are O(siblings x readings); no simulation is run.

| code | trouble |
|---|---|
| EV101 | part that no design differs in |
| EV102 | value of the wrong kind, or none |
| EV103 | no design has the value |
| EV104 | readings of a good unit that nothing was derived for |
| EV105 | nothing was derived for the topology |
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from engine.circuit import dictionary
from engine.circuit.dictionary import Cell, Dictionary
from kb.quantities import OHM, read_quantity, show
from kb.trouble import Place, Trouble, TroubleError

GOOD_SPREAD = 0.05
"""How far two units of one make read apart, as a share: the usual tolerance of their parts."""
FAR = 1e-3
"""What a sibling far from the good unit keeps: units differ in what no sibling drew."""


@dataclass(frozen=True, slots=True)
class Make:
    """Weights of the siblings, what a good unit reads by test, and markings (base units).

    No weights: those of the dictionary.
    """

    weights: tuple[float, ...] = ()
    expected: Mapping[str, float] = field(default_factory=dict)
    markings: Mapping[str, float] = field(default_factory=dict)


NothingKnown = Make()


def assignments(given: Iterable[str]) -> dict[str, str]:
    """`R2=220k` and the like as a mapping. TroubleError EV102 for a text of another shape."""
    found = {}
    for text in given:
        part, equals, value = text.partition("=")
        if not equals or not part.strip() or not value.strip():
            raise _trouble("EV102", f"“{text}” gives no part a value", "Write it such as R2=220k")
        found[part.strip()] = value.strip()
    return found


def marked(readings: Dictionary | None, markings: Mapping[str, str], topology: str) -> Make:
    """The make narrowed by markings, part to value as typed.

    TroubleError EV101, EV102, EV103, EV105.
    """
    if not markings:
        return NothingKnown
    if readings is None:
        raise _trouble(
            "EV105", f"Nothing was derived for {topology} on these mains: no marking narrows it",
            f"Leave the value out, or run nextprobe derive {topology}",
        )  # fmt: skip
    known = {part: _value(readings, part, text) for part, text in markings.items()}
    weights = dictionary.narrowed(readings, known)
    if not weights:
        held = "; ".join(_held(readings, part) for part in known)
        said = " and ".join(f"{part}={text}" for part, text in markings.items())
        raise _trouble(
            "EV103", f"No derived design has {said}", f"Read the marking again. {held}",
        )  # fmt: skip
    return Make(weights, {}, known)


def further(
    make: Make, readings: Dictionary | None, markings: Mapping[str, str], topology: str
) -> Make:
    """A make narrowed once more. TroubleError as `marked`, EV103 where both together fit none."""
    more = marked(readings, markings, topology)
    if not make.weights:
        return Make(more.weights, make.expected, {**make.markings, **more.markings})
    both = [one * other for one, other in zip(make.weights, more.weights, strict=True)]
    total = sum(both)
    if total <= 0.0:
        raise _trouble(
            "EV103", "No derived design has these markings together", "Read the markings again"
        )
    shared = tuple(weight / total for weight in both)
    return Make(shared, make.expected, {**make.markings, **more.markings})


def like(make: Make, readings: Dictionary | None, sound: str, good: Mapping[str, float]) -> Make:
    """The make narrowed by readings (base unit, by test) of an identical good unit.

    `sound` is the hypothesis of no fault. TroubleError EV104 where none of the tests was derived.
    """
    if not good:
        return make
    cells = {}
    if readings is not None:
        derived = {test: readings.cell(test, sound) for test in good}
        cells = {test: cell for test, cell in derived.items() if cell is not None}
    if readings is None or not cells:
        raise _trouble(
            "EV104", "None of the good unit's readings belongs to a test that was derived",
            "Give readings of tests at test points, as nextprobe model lists them",
        )  # fmt: skip
    weights = list(make.weights or (unit.weight for unit in readings.units))
    for test, cell in cells.items():
        for number, (_, value) in enumerate(cell.samples[: len(weights)]):
            if value is not None:
                weights[number] *= FAR + _near(value, good[test])
    total = sum(weights)
    shared = tuple(weight / total for weight in weights) if total > 0.0 else make.weights
    return Make(shared, {**make.expected, **good}, make.markings)


def values(cell: Cell) -> tuple[float | None, ...]:
    """A cell's numbers: nominal unit first, then siblings; None where it is watched."""
    shown = ((cell.outcome, cell.value), *cell.samples)
    return tuple(None if outcome is not None else value for outcome, value in shown)


def choices(readings: Dictionary, part: str) -> tuple[float, ...]:
    """The values that a part has in the derived designs, ascending."""
    return tuple(sorted({d.values[part] for d in readings.designs if part in d.values}))


def _value(readings: Dictionary, part: str, text: str) -> float:
    held = choices(readings, part)
    if not held:
        listed = sorted({name for design in readings.designs for name in design.values})
        raise _trouble(
            "EV101", f"The derived designs do not differ in {part}",
            f"Give one of {', '.join(listed)}" if listed else "Leave the value out",
        )  # fmt: skip
    try:
        found = read_quantity(text, OHM)
    except ValueError as error:
        raise _trouble("EV102", str(error), f"Write it such as {part}={held[0]:g}") from None
    if found.value <= 0:
        raise _trouble("EV102", f"“{text}” is no value of a part", f"Write it such as {part}=220k")
    return found.value


def _held(readings: Dictionary, part: str) -> str:
    listed = " or ".join(show(value, "").strip() for value in choices(readings, part))
    return f"Designs have {part} of {listed}"


def _near(one: float, other: float) -> float:
    """Nearness of two readings on the scale of ratios, 1 where equal."""
    if one <= 0.0 or other <= 0.0 or math.isinf(one) or math.isinf(other):
        return 1.0 if one == other else math.exp(-0.5 * (min(abs(one - other), 1.0) / 0.2) ** 2)
    return math.exp(-0.5 * (math.log(one / other) / GOOD_SPREAD) ** 2)


def _trouble(code: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, Place("what is known of the unit"), what, mend))
