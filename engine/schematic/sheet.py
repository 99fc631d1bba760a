"""What a netlist of any format comes to: components with their legs on named nets."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

_LETTERS = re.compile(r"[A-Za-z]+")
_GROUNDS = ("0", "gnd", "/gnd", "earth", "agnd", "dgnd")


@dataclass(frozen=True, slots=True)
class Component:
    """One component: its designator, the nets of its legs in order, and what is written on it.

    `value` is as marked (`10k`, `100n`), `model` the model, library symbol or subcircuit it names;
    `line` is where it stands in its file, counted from 1.
    """

    name: str
    nets: tuple[str, ...]
    value: str = ""
    model: str = ""
    line: int = 0

    @property
    def letters(self) -> str:
        """The letters its designator begins with; the first alone where it has no number."""
        match = _LETTERS.match(self.name)
        letters = match.group().upper() if match else ""
        return letters if letters != self.name.upper() else letters[:1]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole netlist: where it came from, its title, its components in the order written.

    `cards` is its text where it was SPICE already, models and subcircuits included.
    """

    source: str
    title: str
    components: tuple[Component, ...]
    cards: str = ""

    @property
    def common(self) -> str:
        """The net that all else returns to: a ground by name, else the one with the most legs."""
        legs = Counter(net for part in self.components for net in set(part.nets))
        grounds = [net for net in legs if net.lower() in _GROUNDS]
        return max(grounds or legs, key=lambda net: legs[net], default="")
