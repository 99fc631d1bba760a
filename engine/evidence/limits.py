"""Which promises of parts a reading breaks: least supply, the inputs' window, ratings in volts.

A reading speaks of the parts that hang on the two nodes it was taken across: as a supply of those
that have one, as the volts of those that are rated for some. Where an input is tied to the supply
by resistors alone, its volts are reckoned from them (Kirchhoff's current law; what hangs on their
far ends may lie anywhere between the rails, so it is a span).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from engine.circuit.netlist import Element, spice_number
from engine.circuit.unit import Unit, unit
from engine.electrics.comparator import window
from engine.model.records import Model, Test
from kb.language import loader
from kb.language.circuit import Promise, circuit_of, devices
from kb.quantities import VOLT, read_quantity, show


@dataclass(frozen=True, slots=True)
class PromiseCheck:
    """One promise held against a reading: `is_kept`, in words, with its source."""

    part: str
    is_kept: bool
    says: str
    source: str


def check_promises(model: Model, test: Test, volts: float) -> tuple[PromiseCheck, ...]:
    """The promises that a reading in volts at a test point speaks of.

    Empty where the topology carries no circuit or the test has no point in it.
    """
    data = circuit_of(model.topology)
    if data is None:
        return ()
    circuit = unit(loader.as_shipped(), model.topology, model.mains, data, devices())
    across = circuit.data.points.get(test.point)
    if across is None:
        return ()
    return (*_supply_promises(circuit, across, volts), *_ratings(circuit, across, volts))


def _supply_promises(
    circuit: Unit, across: tuple[str, str], volts: float
) -> Iterator[PromiseCheck]:
    for element in circuit.netlist.elements:
        if element.part not in circuit.parts:
            continue
        promise = circuit.device(element.part).promise
        if promise is None or tuple(element.nodes[leg - 1] for leg in promise.supply) != across:
            continue
        yield _supply(element.part, promise, volts)
        if volts >= promise.least:
            yield from _inputs(circuit, element, promise, across, volts)


def _supply(part: str, promise: Promise, volts: float) -> PromiseCheck:
    least, most = show(promise.least, VOLT), show(promise.most, VOLT)
    if volts < promise.least:
        says = f"its supply is under the {least} that it works from: nothing is promised"
        return PromiseCheck(part, False, says, promise.source)
    if volts > promise.most:
        says = f"its supply is above the {most} that it bears"
        return PromiseCheck(part, False, says, promise.source)
    return PromiseCheck(part, True, f"its supply is within {least} to {most}", promise.source)


def _inputs(
    circuit: Unit, element: Element, promise: Promise, across: tuple[str, str], volts: float
) -> Iterator[PromiseCheck]:
    room = window(volts, promise.least, promise.headroom, promise.headroom_hot)
    hot = f"{show(room.high_volts, VOLT)} at 25 °C, {show(room.high_volts_hot, VOLT)} hot or cold"
    inside, spans = [], []
    for leg in promise.inputs:
        node = element.nodes[leg - 1]
        span = _rail_span(circuit, node, across, volts)
        low, high = span or (0.0, volts)
        inside.append(high <= room.high_volts)
        reach = "anywhere up to the supply" if span is None else _between(low, high)
        spans.append(f"{_input_name(circuit, node)} {reach}")
    inputs = "inputs count from 0 V to " + hot + "; " + ", ".join(spans)
    if all(inside):
        yield PromiseCheck(element.part, True, f"{inputs}: both inside", promise.source)
    elif any(inside):
        yield PromiseCheck(
            element.part, True, f"{inputs}: one is always inside, and {promise.says}",
            promise.source,
        )  # fmt: skip
    else:
        yield PromiseCheck(
            element.part, False, f"{inputs}: both may be outside, and nothing is promised then",
            promise.source,
        )  # fmt: skip


def _input_name(circuit: Unit, node: str) -> str:
    """An input by the parts that a person finds on it."""
    parts = sorted(
        {e.part for e in circuit.netlist.elements if node in e.nodes and e.part in circuit.parts}
        - {e.part for e in circuit.netlist.elements if e.part in circuit.parts
           and circuit.device(e.part).promise is not None}
    )  # fmt: skip
    return f"the input at {', '.join(parts)}" if parts else f"the input {node}"


def _rail_span(
    circuit: Unit, node: str, across: tuple[str, str], volts: float
) -> tuple[float, float] | None:
    """Least and greatest volts of a node that resistors alone tie to the rails; None otherwise."""
    plus, minus = across
    total = up = free = 0.0
    for element in circuit.netlist.elements:
        if node not in element.nodes:
            continue
        if element.model and element.part in circuit.parts and circuit.device(element.part).promise:
            continue  # the input itself: it takes next to nothing
        if element.model or element.name[:1] not in "Rr":
            return None
        other = element.nodes[1] if element.nodes[0] == node else element.nodes[0]
        siemens = 1.0 / spice_number(element.parameters["value"])
        total += siemens
        if other == plus:
            up += siemens
        elif other != minus:
            free += siemens
    if not total:
        return None
    return volts * up / total, volts * (up + free) / total


def _between(low: float, high: float) -> str:
    if abs(high - low) < 0.005:
        return f"at {show(low, VOLT)}"
    return f"between {show(low, VOLT)} and {show(high, VOLT)}"


def _ratings(circuit: Unit, across: tuple[str, str], volts: float) -> Iterator[PromiseCheck]:
    """Parts rated in volts that lie across the point."""
    for element in circuit.netlist.elements:
        part = circuit.parts.get(element.part)
        if part is None or not part.volts or set(element.nodes[:2]) != set(across):
            continue
        rating = read_quantity(part.volts).value
        is_within = abs(volts) <= rating
        word = "within" if is_within else "above"
        says = f"its volts are {word} the {show(rating, VOLT)} that it is rated for"
        yield PromiseCheck(element.part, is_within, says, "its marking, as the topology lists it")
