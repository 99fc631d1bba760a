"""Legs cut by a fault and legs lifted by a rig, bridges, feeds: what is done to a netlist by hand.

A cut lies inside a part: a meter still sits on the outer side of it. A lifted leg lies outside: the
meter goes with the part.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from engine.circuit.netlist import Element, Netlist
from kb.language.circuit import Bench

LIFTED_OHMS = 1e10
"""What is left of a cut leg: board and air."""
METER_OHMS = 1e7
"""What a digital meter's volt ranges load a point with (IDEAL and PeakTech manuals: 10 Mohm)."""


def cut(netlist: Netlist, element: Element, legs: Iterable[int], ohms: float) -> Netlist:
    """The netlist with legs of an element cut inside the part; what is left of each is `ohms`."""
    nodes, left = list(element.nodes), []
    for leg in legs:
        inner = f"{element.name}_leg{leg}"
        left.append(Element(f"Rcut_{inner}", (nodes[leg - 1], inner), "", {"value": f"{ohms:.6g}"}))
        nodes[leg - 1] = inner
    return netlist.with_elements([replace(element, nodes=tuple(nodes))], left)


def loosen(netlist: Netlist, element: Element, legs: Iterable[int]) -> Netlist:
    """The netlist with a contact that comes and goes in series with legs of an element."""
    nodes, joints = list(element.nodes), []
    for leg in legs:
        inner = f"{element.name}_pad{leg}"
        ends = (nodes[leg - 1], inner)
        joints.append(Element(f"Xloose_{inner}", ends, "contact", {"shaky": "1"}))
        nodes[leg - 1] = inner
    return netlist.with_elements([replace(element, nodes=tuple(nodes))] if joints else [], joints)


def rewire(netlist: Netlist, legs: Mapping[str, Mapping[int, str]]) -> Netlist:
    """The netlist with legs of parts on other nodes: part -> leg (from 1) -> node."""
    elements = []
    for element in netlist.elements:
        nodes = list(element.nodes)
        for leg, node in legs.get(element.part, {}).items():
            nodes[leg - 1] = node
        elements.append(replace(element, nodes=tuple(nodes)))
    return netlist.with_elements(elements)


def outer(netlist: Netlist, element: Element) -> tuple[str, ...]:
    """The nodes of an element's legs as a meter meets them: outside any cut or bad joint."""
    left = ("Rcut_", "Xloose_")
    across = {e.nodes[1]: e.nodes[0] for e in netlist.elements if e.name.startswith(left)}
    return tuple(across.get(node, node) for node in element.nodes)


def legs_of(netlist: Netlist, part: str) -> dict[str, str]:
    """Leg number -> node, from the first piece; leg 2 is that of the last of several in series."""
    pieces = netlist.of(part)
    if not pieces:
        return {}
    legs = {str(number): node for number, node in enumerate(outer(netlist, pieces[0]), 1)}
    legs["2"] = outer(netlist, pieces[-1])[1]
    return legs


def fit_rig(
    netlist: Netlist,
    bench: Bench,
    rig: str,
    part: str,
    frees: bool,
    points: Sequence[tuple[str, str]] = (),
) -> tuple[Netlist, list[str]]:
    """The netlist with a rig fitted, and the lines the rig adds. KeyError for an unknown rig.

    `part` is the part tested, where the rig names none; `frees` says that it is taken out whole;
    `points` are the node pairs of test points, where meters go.
    """
    for entry in bench.rigs:
        match = re.fullmatch(entry.rig, rig)
        if match is None:
            continue
        tested_part = match.groupdict().get("part") or part
        if frees or entry.frees:
            netlist = _free(netlist, tested_part)
        else:
            for leg in entry.lifts:
                netlist = _lift_leg(netlist, tested_part, leg)
        legs = legs_of(netlist, tested_part)
        lines = [_fill(line, legs) for line in entry.lines]
        if entry.meters:
            ends = [*points, (legs["1"], legs["2"])] if legs else points
            lines += [f"Rmeter{n} {a} {b} {METER_OHMS:g}" for n, (a, b) in enumerate(ends)]
        return netlist, lines
    raise KeyError(rig)


def _lift_leg(netlist: Netlist, part: str, leg: int) -> Netlist:
    piece = netlist.of(part)[0]
    node = outer(netlist, piece)[leg - 1]
    end = f"{piece.name}_lift{leg}"
    others = _rename(netlist, (piece,), {node: end})
    left = Element(f"Rlift_{end}", (node, end), "", {"value": f"{LIFTED_OHMS:g}"})
    return others.with_elements([], [left])


def _free(netlist: Netlist, part: str) -> Netlist:
    """The netlist with a part taken out of it, its pieces still joined to each other.

    Nodes that carry light stay: light needs no leg.
    """
    pieces = netlist.of(part)
    nodes = {n for piece in pieces for n in outer(netlist, piece) if not n.startswith("glow")}
    return _rename(netlist, pieces, {node: f"free_{node}" for node in nodes})


def _rename(netlist: Netlist, pieces: tuple[Element, ...], names: Mapping[str, str]) -> Netlist:
    """The netlist with nodes renamed at some pieces and at what faults left on them."""
    own = {piece.name for piece in pieces}
    elements = [
        replace(element, nodes=tuple(names.get(node, node) for node in element.nodes))
        for element in netlist.elements
        if element.name in own
        or any(
            element.name == f"Rshort_{name}"
            or element.name.startswith((f"Rcut_{name}_", f"Xloose_{name}_"))
            for name in own
        )
    ]
    return netlist.with_elements(elements)


def _fill(line: str, legs: Mapping[str, str]) -> str:
    for number, node in legs.items():
        line = line.replace("{" + number + "}", node)
    return line
