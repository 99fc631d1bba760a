"""A topology's circuit with the values of one mains, one design and one unit's tolerances.

Faults alter elements only: a leg is cut (what is left is `LIFTED_OHMS`), legs are joined by a low
resistance, or a documented physical parameter is changed; see `kb/circuits/devices.yml`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from engine.circuit.netlist import Element, Netlist, parse, spice_number
from engine.circuit.rigging import LIFTED_OHMS, cut
from engine.model.records import Fault, Mains
from kb.language.circuit import Act, CircuitData, Device, netlist_text
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

    def device(self, part: str) -> Device:
        """How the part stands in the circuit."""
        return self.devices[self.parts[part].kind]


def unit(
    knowledge: Knowledge,
    topology: str,
    mains: Mains,
    data: CircuitData,
    devices: Mapping[str, Device],
) -> Unit:
    """The nominal unit. TroubleError CI201 where netlist and topology name different parts."""
    netlist = parse(netlist_text(data.netlist))
    parts = {
        name: part
        for stage in knowledge.topologies[topology].stages.values()
        for name, part in stage.parts.items()
    }
    _tied(topology, netlist, parts, devices)
    made = Unit(
        topology, mains, data, netlist, parts,
        {name: _modes(knowledge, part.kind) for name, part in parts.items()},
        devices,
        {
            name: knowledge.parts[part.kind].tolerance if part.tolerance is None else part.tolerance
            for name, part in parts.items()
        },
    )  # fmt: skip
    return valued(made, {name: listed(made, name) for name, part in parts.items() if part.value})


def listed(made: Unit, part: str) -> float:
    """The value that the topology lists for a part at the unit's mains, in its base unit."""
    known = made.parts[part]
    return read_quantity(known.when_mains.get(f"{made.mains.volts:g}", known.value)).value


def valued(made: Unit, values: Mapping[str, float]) -> Unit:
    """The unit with some parts of other values, in base units."""
    changed = []
    for part, value in values.items():
        for element in made.netlist.of(part):
            parameter = made.device(part).value if element.model else "value"
            known = made.netlist.defaults.get(element.model, {})
            given: dict[str, float | str] = {}
            if parameter and (not element.model or parameter in known):
                given[parameter] = value
            rated = made.device(part).rated
            if rated and made.parts[part].volts:
                given[rated] = read_quantity(made.parts[part].volts).value
            changed.append(element.with_parameters(given))
    return replace(made, netlist=made.netlist.put(changed))


def broken(made: Unit, fault: Fault) -> Unit:
    """The unit with a fault. TroubleError CI202 where a mode has no act in a circuit."""
    for faulty in fault.parts:
        act = gone(acts_of(made, faulty.part, faulty.mode), made.severity)
        pieces = made.netlist.of(faulty.part)
        for element in pieces if act.pieces == "all" else pieces[:1]:
            made = replace(made, netlist=_alter(made, element, act))
    return made


def gone(act: Act, severity: float | None) -> Act:
    """An act at some severity: its ranged numbers, even on a scale of ratios; None as it stands."""
    if severity is None or not act.range:
        return act
    far = {name: mild * (grave / mild) ** severity for name, (mild, grave) in act.range.items()}
    return act.model_copy(
        update={
            "scale": {name: far.get(name, factor) for name, factor in act.scale.items()},
            "put": {name: far.get(name, value) for name, value in act.put.items()},
            "leak": f"{far['leak']:.4g}" if act.leak and "leak" in far else act.leak,
        }
    )


def acts_of(made: Unit, part: str, mode: str) -> Act:
    """What a part's failure mode does in the circuit. TroubleError CI202 where nothing says."""
    kind = made.parts[part].kind
    acts = made.kinds[part].get(mode, mode)
    known = made.devices[kind].acts if kind in made.devices else {}
    if acts not in known:
        raise TroubleError(
            Trouble(
                "CI202",
                Place("kb/circuits/devices.yml"),
                f"Nothing says what '{acts}' does to a '{kind}' in a circuit",
                f"Add it under acts of '{kind}'",
            )
        )
    for degree in made.data.degrees:
        if degree.part == part and mode.startswith(degree.mode):
            return known[acts].model_copy(update={"scale": degree.scale, "range": degree.range})
    return known[acts]


def _alter(made: Unit, element: Element, act: Act) -> Netlist:
    known = made.netlist.defaults.get(element.model, {})
    given: dict[str, float | str] = {
        name: element.number(name, known) * factor for name, factor in act.scale.items()
    }
    given.update(act.put)
    if act.leak:
        rated = element.number(made.device(element.part).rated, known)
        given["leak"] = rated / spice_number(act.leak)
    altered = element.with_parameters(given) if given else element
    netlist = made.netlist.put([altered])
    if act.across:
        first, second = (element.nodes[leg - 1] for leg in act.across)
        short = Element(f"Rshort_{element.name}", (first, second), "", {"value": f"{act.ohms:g}"})
        netlist = netlist.put([], [short])
    return cut(netlist, altered, act.cut, LIFTED_OHMS)


def _modes(knowledge: Knowledge, kind: str) -> dict[str, str]:
    acts: dict[str, str] = {}
    for name, mode in knowledge.parts[kind].modes.items():
        variants = {f"{name}-{v}": variant.acts for v, variant in mode.variants.items()}
        acts.update(variants or {name: mode.acts})
    return acts


def _tied(
    topology: str, netlist: Netlist, parts: Mapping[str, PartFact], devices: Mapping[str, Device]
) -> None:
    drawn = {element.part for element in netlist.elements}
    listed = {name for name, part in parts.items() if _in_circuit(devices, part)}
    place = Place(f"kb/circuits/{topology}.cir")
    for name in sorted(drawn ^ listed):
        where = "the netlist" if name in drawn else "the topology"
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
