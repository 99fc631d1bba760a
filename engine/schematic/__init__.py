"""Netlists of SPICE and KiCad: what components they hold, what these are, how they form stages."""

from __future__ import annotations

from engine.schematic.guesses import Guess, guess
from engine.schematic.sheet import Component, Sheet
from engine.schematic.staging import Group, candidates, likeness, order_parts, places, propose

__all__ = [
    "Component",
    "Group",
    "Guess",
    "Sheet",
    "candidates",
    "guess",
    "likeness",
    "order_parts",
    "places",
    "propose",
    "read_sheet",
]


def read_sheet(text: str, source: str) -> Sheet:
    """The netlist in a text: a KiCad schematic or netlist by its brackets, else SPICE.

    NL102 to NL105 for what can't be read; `source` names the file in messages.
    """
    begin = text.lstrip()[:200]
    if not begin.startswith("("):
        from engine.schematic import spicecards

        return spicecards.read(text, source)
    from engine.schematic import kicad

    if begin.startswith("(kicad_sch"):
        return kicad.read_schematic(text, source)
    return kicad.read_netlist(text, source)
