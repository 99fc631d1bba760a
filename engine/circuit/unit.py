"""A topology's circuit with the values of one mains, one design and one unit's tolerances.

Faults alter elements only: a leg is cut (what is left is `LIFTED_OHMS`) or its joint comes and
goes, legs are joined by a low resistance, or a documented physical parameter is changed; see
`kb/circuits/devices.yml`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from engine.circuit.netlist import Element, Netlist, parse, spice_number
from engine.circuit.rigging import LIFTED_OHMS, cut, loosen
from engine.model.records import Fault, Mains
from kb.language.circuit import SHIPPED, Act, CircuitData, Device, netlist_text
from kb.language.knowledge import Knowledge
from kb.language.schema import PartFact
from kb.quantities import read_quantity
from kb.trouble import Place, Trouble, TroubleError


@dataclass(frozen=True, slots=True)
class Unit:
    """A circuit, its data, and the parts of the topology it stands for."""

    topology: str
    mains: Mains
    data: CircuitData
    netlist: Netlist
    parts: Mapping[str, PartFact]
    kinds: Mapping[str, Mapping[str, str]]
    """Part -> mode (variants joined by a hyphen) -> how it acts."""
    devices: Mapping[str, Device]
    tolerance: Mapping[str, float]
    severity: float | None = None
    """How far faults of degree have gone, from 0 (mild) to 1 (grave); None: as is typical."""
    supply: float = 1.0
    """The mains there are over the nominal."""
    values: Mapping[str, float] = field(default_factory=dict)
    """What the parts are marked with, in base units; the elements are within tolerance of it."""
    absent: frozenset[str] = frozenset()
    """Parts of the topology that this unit lacks."""
    other_kinds: Mapping[str, str] = field(default_factory=dict)
    """Parts of another kind than the topology lists."""
    kind_tolerance: Mapping[str, float] = field(default_factory=dict)

    def device(self, part: str) -> Device:
        """How the part stands in the circuit."""
        return self.devices[self.other_kinds.get(part, self.parts[part].kind)]

    def within(self, part: str) -> float:
        """The part's tolerance as a fraction: its own, or that of the kind that this unit has."""
        kind = self.other_kinds.get(part)
        return self.tolerance[part] if kind is None else self.kind_tolerance[kind]


def unit(
    knowledge: Knowledge,
    topology: str,
    mains: Mains,
    data: CircuitData,
    devices: Mapping[str, Device],
    folder: Path = SHIPPED,
) -> Unit:
    """The nominal unit; its netlist lies in `folder`.

    TroubleError CI201 where netlist and topology name different parts, CI204 for a part of a kind
    that no circuit knows.
    """
    netlist = _at_mains(parse(netlist_text(data.netlist, folder)), data, mains)
    parts = {
        name: part
        for stage in knowledge.topologies[topology].stages.values()
        for name, part in stage.parts.items()
    }
    _check_parts(topology, netlist, parts, devices)
    _check_kinds(netlist, parts, devices, knowledge)
    nominal = Unit(
        topology, mains, data, netlist, parts,
        {name: _modes(knowledge, part.kind) for name, part in parts.items()},
        devices,
        {
            name: knowledge.parts[part.kind].tolerance if part.tolerance is None else part.tolerance
            for name, part in parts.items()
        },
        kind_tolerance={name: kind.tolerance for name, kind in knowledge.parts.items()},
    )  # fmt: skip
    values = {name: listed_value(nominal, name) for name, part in parts.items() if part.value}
    return with_values(replace(nominal, values=values), values)


def _at_mains(netlist: Netlist, data: CircuitData, mains: Mains) -> Netlist:
    """The netlist with parameters put to what they are at a mains."""
    numbers = data.when_mains.get(f"{mains.volts:g}", {})
    elements = [
        element.with_parameters(
            {
                key.partition(".")[2]: number
                for key, number in numbers.items()
                if key.partition(".")[0] == element.part
            }
        )
        for element in netlist.elements
    ]
    return netlist.with_elements(elements)


def _check_kinds(
    netlist: Netlist,
    parts: Mapping[str, PartFact],
    devices: Mapping[str, Device],
    knowledge: Knowledge,
) -> None:
    """Every part of the netlist is of a kind that a device tells of."""
    troubles = [
        Trouble(
            "CI204", knowledge.place("parts", part.kind),
            f"{name} stands in the netlist, but nothing says how a '{part.kind}' stands in a "
            "circuit",
            f"Add '{part.kind}' under `devices` to devices.yml in the folder circuits of your "
            "knowledge",
        )
        for name, part in parts.items() if part.kind not in devices and netlist.of(name)
    ]  # fmt: skip
    if troubles:
        raise TroubleError(troubles)


def listed_value(base: Unit, part: str) -> float:
    """The value that the topology lists for a part at the unit's mains, in its base unit."""
    fact = base.parts[part]
    return read_quantity(fact.when_mains.get(f"{base.mains.volts:g}", fact.value)).value


def with_values(base: Unit, values: Mapping[str, float]) -> Unit:
    """The unit with some parts of other values, in base units."""
    elements = []
    for part, value in values.items():
        for element in base.netlist.of(part):
            parameter = base.device(part).value if element.model else "value"
            defaults = base.netlist.defaults.get(element.model, {})
            values_of: dict[str, float | str] = {}
            if parameter and (not element.model or parameter in defaults):
                values_of[parameter] = value
            rating = base.device(part).rated
            if rating and base.parts[part].volts:
                values_of[rating] = read_quantity(base.parts[part].volts).value
            elements.append(element.with_parameters(values_of))
    return replace(base, netlist=base.netlist.with_elements(elements))


def with_fault(base: Unit, fault: Fault) -> Unit:
    """The unit with a fault. TroubleError CI202 where a mode has no act in a circuit."""
    for faulty in fault.parts:
        act = at_severity(acts_of(base, faulty.part, faulty.mode), base.severity)
        pieces = base.netlist.of(faulty.part)
        for element in pieces if act.pieces == "all" else pieces[:1]:
            base = replace(base, netlist=_alter(base, element, act))
    return base


def at_severity(act: Act, severity: float | None) -> Act:
    """An act at some severity: its ranged numbers, even on a scale of ratios; None as it stands."""
    if severity is None or not act.range:
        return act
    far = {name: mild * (grave / mild) ** severity for name, (mild, grave) in act.range.items()}
    return act.model_copy(
        update={
            "scale": {name: far.get(name, factor) for name, factor in act.scale.items()},
            "put": {name: far.get(name, value) for name, value in act.put.items()},
            "ohms": far.get("ohms", act.ohms),
            "leak": f"{far['leak']:.4g}" if act.leak and "leak" in far else act.leak,
        }
    )


def acts_of(base: Unit, part: str, mode: str) -> Act:
    """What a part's failure mode does in the circuit. TroubleError CI202 where nothing says."""
    kind = base.parts[part].kind
    acts = base.kinds[part].get(mode, mode)
    # a part of another kind in this unit does what its own kind does, where that has such a mode
    other = base.other_kinds.get(part, kind)
    table = {
        **(base.devices[kind].acts if kind in base.devices else {}),
        **(base.devices[other].acts if other in base.devices else {}),
    }
    if acts not in table:
        raise TroubleError(
            Trouble(
                "CI202",
                Place("kb/circuits/devices.yml"),
                f"Nothing says what '{acts}' does to a '{kind}' in a circuit",
                f"Add it under acts of '{kind}'",
            )
        )
    for degree in base.data.degrees:
        if degree.part == part and mode.startswith(degree.mode):
            overrides = {"scale": degree.scale, "range": degree.range, "leak": degree.leak}
            return table[acts].model_copy(update=overrides)
    return table[acts]


def _alter(base: Unit, element: Element, act: Act) -> Netlist:
    defaults = base.netlist.defaults.get(element.model, {})
    values: dict[str, float | str] = {
        name: element.number(name, defaults) * factor for name, factor in act.scale.items()
    }
    values.update(act.put)
    if act.leak:
        rating = element.number(base.device(element.part).rated, defaults)
        values["leak"] = rating / spice_number(act.leak)
    piece = element.with_parameters(values) if values else element
    netlist = base.netlist.with_elements([piece])
    if act.across:
        first, second = (element.nodes[leg - 1] for leg in act.across)
        short = Element(f"Rshort_{element.name}", (first, second), "", {"value": f"{act.ohms:g}"})
        netlist = netlist.with_elements([], [short])
    netlist = cut(netlist, piece, act.cut, LIFTED_OHMS)
    return loosen(netlist, piece, act.loose)


def _modes(knowledge: Knowledge, kind: str) -> dict[str, str]:
    acts: dict[str, str] = {}
    for name, mode in knowledge.parts[kind].modes.items():
        variants = {f"{name}-{v}": variant.acts for v, variant in mode.variants.items()}
        acts.update(variants or {name: mode.acts})
    return acts


def _check_parts(
    topology: str, netlist: Netlist, parts: Mapping[str, PartFact], devices: Mapping[str, Device]
) -> None:
    in_netlist = {element.part for element in netlist.elements}
    in_topology = {name for name, part in parts.items() if _in_circuit(devices, part)}
    place = Place(f"kb/circuits/{topology}.cir")
    for name in sorted(in_netlist ^ in_topology):
        where = "the netlist" if name in in_netlist else "the topology"
        raise TroubleError(
            Trouble(
                "CI201",
                place,
                f"Part {name} stands in {where} only",
                "Give both the same designators",
            )
        )


def _in_circuit(devices: Mapping[str, Device], part: PartFact) -> bool:
    """Whether any mode of the part's kind does something to a circuit."""
    device = devices.get(part.kind)
    return device is None or any(act != Act() for act in device.acts.values())
