"""Writes a netlist as cards of SPICE, so that a circuit can be kept beside its topology."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from engine.schematic.guesses import plain
from engine.schematic.sheet import Component, Sheet

_PLAIN = frozenset("RCL")
_MODELLED = {"D": 2, "Q": 3, "M": 4, "J": 3}
"""How many legs stand before the model's name, by the letter of a SPICE card."""


def write(sheet: Sheet, title: str, without: Sequence[str] = ()) -> str:
    """The netlist's text: title, cards of known elements, the rest as comments.

    A SPICE netlist stays as it is, its sources commented out. Else nets get names without blanks
    or brackets, and the common one is 0. Components in `without` (sources that only a simulation
    had) are left to the bench.
    """
    if sheet.cards:
        return _without_sources(sheet, title, without)
    nets = _nets(sheet)
    lines = [
        f"* {title}",
        f"* Made from {sheet.source.rpartition('/')[2]}; node 0 is its common net",
    ]
    for component in sheet.components:
        if component.name not in without and component.nets:
            lines.extend(_card(component, [nets[net] for net in component.nets]))
    return "\n".join(lines) + "\n"


def net_name(sheet: Sheet, net: str) -> str:
    """What a net of the sheet is called in the written netlist."""
    return net if sheet.cards else _nets(sheet)[net]


def _without_sources(sheet: Sheet, title: str, without: Sequence[str]) -> str:
    lines = sheet.cards.splitlines()
    for component in sheet.components:
        if component.name in without:
            lines[component.line - 1] = f"* {lines[component.line - 1]}"
    first = [] if lines[0].startswith("*") else [f"* {title}"]
    return "\n".join([*first, *lines]) + "\n"


def _nets(sheet: Sheet) -> dict[str, str]:
    numbers: dict[str, str] = {sheet.common: "0"}
    for component in sheet.components:
        for net in component.nets:
            name = re.sub(r"\W+", "_", net).strip("_").lower() or "n"
            while net not in numbers and name in numbers.values():
                name += "_"
            numbers.setdefault(net, name)
    return numbers


def _card(component: Component, nets: Sequence[str]) -> Iterator[str]:
    letter = component.name[0].upper()
    value = plain(component.value)
    if letter in _PLAIN and len(nets) == 2 and value is not None:
        yield f"{component.name} {' '.join(nets)} {value:g}"
    elif _MODELLED.get(letter) == len(nets):
        model = re.sub(r"\W+", "_", component.model or component.value) or "unknown"
        yield f"{component.name} {' '.join(nets)} {model}"
    else:
        mark = " ".join(word for word in (component.value, component.model) if word)
        yield f"* {component.name} {' '.join(nets)} {mark}".rstrip()
