"""One maker's design of a topology: values, ways, what it lacks and what it adds, and its unit.

Numbers go by key: a part (its value as marked, base unit), a parameter of its element (`U2.icc`), a
resistor that the topology doesn't list, or a number that only sums ask for (`watts`). What a design
leaves out is as the topology lists it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from engine.circuit.netlist import Element, Netlist
from engine.circuit.rigging import rewire
from engine.circuit.unit import Unit, listed_value, with_values
from kb.language.circuit import Device, Insert

DIE_VOLTS = 3.0
"""What a white die drops at the current it is made for; packages are marked by multiples of it."""
BURNS_THROUGH = ("fusible", "surge")
"""Subcircuits of resistors that open when they get too much; so does a track in their place."""
WIRE_OHMS = 0.05
"""A wire or track where a part in line is left out."""


@dataclass(frozen=True, slots=True)
class Design:
    """What one maker chose; the nominal unit stands behind all that is left out."""

    nominal: Unit
    numbers: Mapping[str, float] = field(default_factory=dict)
    ways: Mapping[str, str] = field(default_factory=dict)
    """Choice -> the way that was taken."""
    absent: frozenset[str] = frozenset()
    kinds: Mapping[str, str] = field(default_factory=dict)
    adds: Mapping[str, Insert] = field(default_factory=dict)
    legs: Mapping[str, Mapping[int, str]] = field(default_factory=dict)

    def part(self, place: str) -> str:
        """The part at a place of the topology; empty where the design has none."""
        for name, fact in self.nominal.parts.items():
            if fact.place == place and name not in self.absent:
                return name
        return ""

    def number(self, key: str) -> float:
        """The number of a key, as listed where the design leaves it out. KeyError for none."""
        if key in self.numbers:
            return self.numbers[key]
        part, _, parameter = key.partition(".")
        if part not in self.nominal.parts:
            raise KeyError(key)
        if parameter == "count":
            return float(self.nominal.parts[part].count)
        if not parameter:
            return listed_value(self.nominal, part)
        element = self.nominal.netlist.of(part)[0]
        return element.number(parameter, self.nominal.netlist.defaults[element.model])

    @property
    def values(self) -> dict[str, float]:
        """The values that the parts of this design are marked with."""
        return {
            part: self.number(part)
            for part, fact in self.nominal.parts.items()
            if fact.value and part not in self.absent
        }


def unit_of(design: Design) -> Unit:
    """The design's unit, every part at its marking. O(elements)."""
    base = design.nominal
    parts = dict(base.parts)
    for part, fact in base.parts.items():
        if fact.count > 1:
            value, count = design.number(part), round(design.number(f"{part}.count"))
            parts[part] = fact.model_copy(update={"value": f"{value:g} V", "count": count})
    base = replace(
        base, parts=parts, values=design.values, absent=design.absent, other_kinds=design.kinds
    )
    netlist = rewire(base.netlist, design.legs)
    netlist = netlist.with_elements(
        [
            _of_kind(element, netlist, base.device(element.part).model)
            for element in netlist.elements
            if element.part in design.kinds
        ]
    )
    base = with_values(replace(base, netlist=netlist), design.values)
    netlist = base.netlist.with_elements(
        [_with_numbers(design, base, element) for element in base.netlist.elements]
    )
    for part in sorted(design.absent):
        netlist = _without(netlist, part, base.data.absent_as[part])
    for name, insert in design.adds.items():
        device = base.devices[insert.kind] if insert.kind else None
        netlist = _with_insert(netlist, name, insert, design.number(name), device)
    return replace(base, netlist=netlist)


def _of_kind(element: Element, netlist: Netlist, model: str) -> Element:
    kept = {n: v for n, v in element.parameters.items() if n in netlist.defaults[model]}
    return Element(element.name, element.nodes, model, kept)


def _with_numbers(design: Design, base: Unit, element: Element) -> Element:
    values = {
        key.partition(".")[2]: number
        for key, number in design.numbers.items()
        if key.startswith(f"{element.part}.") and not key.endswith(".count")
    }
    if element.part in base.parts and base.parts[element.part].count > 1:
        pieces = base.netlist.of(element.part)
        rest = base.parts[element.part].count - len(pieces) + 1
        values["n"] = rest if element is pieces[-1] else 1
        if "dies" in base.netlist.defaults[element.model]:
            values["dies"] = round(design.number(element.part) / DIE_VOLTS)
    return element.with_parameters(values)


def _without(netlist: Netlist, part: str, left: str) -> Netlist:
    """The netlist without a part; a wire in a fusible resistor's place burns through as well."""
    elements, wires = [], []
    for element in netlist.elements:
        if element.part != part:
            elements.append(element)
        elif left == "wire":
            ends = element.nodes[:2]
            model = "fusible" if element.model in BURNS_THROUGH else ""
            name = f"{'X' if model else 'R'}wire_{part}"
            parameter = "r" if model else "value"
            wires.append(Element(name, ends, model, {parameter: f"{WIRE_OHMS:g}"}))
    return replace(netlist, elements=(*elements, *wires))


def _with_insert(
    netlist: Netlist, name: str, insert: Insert, number: float, device: Device | None
) -> Netlist:
    value = f"{number:.6g}"
    if insert.between is not None and device is not None:
        new = Element(f"X{name}", insert.between, device.model, {device.value: value})
        return netlist.with_elements([], [new])
    if insert.between is not None:
        return netlist.with_elements([], [Element(name, insert.between, "", {"value": value})])
    piece = netlist.of(insert.behind)[-1]
    middle = f"{piece.name}_behind"
    nodes = (piece.nodes[0], middle, *piece.nodes[2:])
    new = Element(name, (middle, piece.nodes[1]), "", {"value": value})
    return netlist.with_elements([replace(piece, nodes=nodes)], [new])
