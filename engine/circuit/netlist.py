"""A plain SPICE netlist as records: elements that can be altered, and everything else as it stands.

Only elements at the top level count; subcircuits are kept as text. An element stands for the part
of the same designator; where SPICE wants another first letter, X stands before it (`XBR1`), and the
pieces of a part made of several in series are numbered (`XLED_1`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

_SCALE = {
    "t": 1e12, "g": 1e9, "meg": 1e6, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12,
}  # fmt: skip
"""Suffixes of SPICE netlists: m is a thousandth, meg a million, in either case of letters."""
_NUMBER = re.compile(r"([+-]?[0-9.]+(?:e[+-]?[0-9]+)?)(meg|[tgkmunp])?[a-z]*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Element:
    """One element: its name, its legs' nodes, its subcircuit (empty if plain), its parameters.

    A plain element keeps its value under the parameter `value`.
    """

    name: str
    nodes: tuple[str, ...]
    model: str
    parameters: Mapping[str, str]

    @property
    def part(self) -> str:
        """The designator of the part it stands for."""
        name = self.name[1:] if self.name[:1] in "Xx" else self.name
        return name.split("_")[0]

    def line(self) -> str:
        """The element as SPICE text."""
        if not self.model:
            return f"{self.name} {' '.join(self.nodes)} {self.parameters['value']}"
        parameters = "".join(f" {name}={value}" for name, value in self.parameters.items())
        return f"{self.name} {' '.join(self.nodes)} {self.model}{parameters}"

    def number(self, parameter: str, defaults: Mapping[str, str]) -> float:
        """A parameter's value, from the subcircuit's defaults where it is not given."""
        return spice_number(self.parameters.get(parameter) or defaults[parameter])

    def with_parameters(self, values: Mapping[str, float | str]) -> Element:
        """The element with some parameters put to other values."""
        texts = {n: v if isinstance(v, str) else f"{v:.6g}" for n, v in values.items()}
        return replace(self, parameters={**self.parameters, **texts})


@dataclass(frozen=True, slots=True)
class Netlist:
    """The elements of a circuit and the rest of its text: comments gone, subcircuits whole."""

    elements: tuple[Element, ...]
    rest: tuple[str, ...]
    defaults: Mapping[str, Mapping[str, str]]

    def of(self, part: str) -> tuple[Element, ...]:
        """The elements that stand for a part, in order; empty if the circuit has none."""
        return tuple(element for element in self.elements if element.part == part)

    @property
    def nodes(self) -> tuple[str, ...]:
        """All nodes that elements meet at, in order, ground aside."""
        names = dict.fromkeys(node for element in self.elements for node in element.nodes)
        names.pop("0", None)
        return tuple(names)

    def with_elements(
        self, replacements: Iterable[Element], extra: Iterable[Element] = ()
    ) -> Netlist:
        """The netlist with elements of the same names replaced and others added."""
        by_name = {element.name: element for element in replacements}
        elements = tuple(by_name.get(element.name, element) for element in self.elements)
        return replace(self, elements=(*elements, *extra))

    def text(self) -> str:
        """The circuit as SPICE text, without title and end."""
        return "\n".join((*self.rest, *(element.line() for element in self.elements))) + "\n"


def parse(text: str) -> Netlist:
    """The netlist of a SPICE text; continuation lines are joined, comment lines dropped."""
    parameters: dict[str, str] = {}
    elements: list[Element] = []
    rest: list[str] = []
    defaults: dict[str, dict[str, str]] = {}
    inside = False
    for line in _whole_lines(text):
        words = line.split()
        first = words[0].lower()
        if first == ".param":
            parameters.update(_assignments(words[1:]))
        elif first == ".subckt":
            inside = True
            defaults[words[1]] = _assignments(words[2:])
            rest.append(line)
        elif inside or first.startswith("."):
            inside = inside and first != ".ends"
            rest.append(line)
        else:
            elements.append(_element(words, parameters))
    return Netlist(tuple(elements), tuple(rest), defaults)


def spice_number(text: str) -> float:
    """The number that SPICE reads from `470k` or `1Meg`. ValueError if it is none."""
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        raise ValueError(text)
    return float(match[1]) * _SCALE.get((match[2] or "").lower(), 1.0)


def _whole_lines(text: str) -> list[str]:
    lines: list[str] = []
    for line in text.splitlines():
        if line.startswith("+") and lines:
            lines[-1] += " " + line[1:]
        elif line.strip() and not line.startswith("*"):
            lines.append(line)
    return lines


def _assignments(words: Iterable[str]) -> dict[str, str]:
    return {word.split("=", 1)[0]: word.split("=", 1)[1] for word in words if "=" in word}


def _element(words: list[str], parameters: Mapping[str, str]) -> Element:
    name, rest = words[0], words[1:]
    assignments = _assignments(rest)
    plain = [word for word in rest if "=" not in word]
    if name[:1] in "Xx":
        return Element(name, tuple(plain[:-1]), plain[-1], assignments)
    value = plain[2].strip("{}")
    return Element(name, tuple(plain[:2]), "", {"value": parameters.get(value, value)})
