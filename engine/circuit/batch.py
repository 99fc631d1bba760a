"""A batch of sibling units: what of a make nobody knows, sampled with a seed.

Designs are drawn by quota, not by chance: each typical set of values gets its share of the batch
and at least one unit, and weights put the odds right. Severities follow the multiples of the golden
section modulo one, which spread evenly however many there are (Kronecker sequence; Knuth, The Art
of Computer Programming 3, 6.4). Values and parameters are even within their tolerance: makers
select, so nothing is known of the middle. A larger batch begins with the units of a smaller one,
so that a derivation can be extended; each figure has a chance of its own, so that one more that
varies leaves the others as they were.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random

from engine.circuit.dictionary import Sibling, Variety
from engine.circuit.netlist import spice_number
from engine.circuit.unit import Unit, listed_value, with_values
from kb.quantities import read_quantity

GOLDEN = (5**0.5 - 1) / 2
"""The golden ratio's fractional part: multiples of it, less their whole parts, fill [0, 1)
evenly."""
SUPPLY = (0.95, 1.05)
"""What a socket gives over its nominal volts: within IEC 60038's 10 %, mostly within half of it."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Typical designs, and sampled units with what is known of each, in the same order."""

    designs: tuple[Variety, ...]
    siblings: tuple[Sibling, ...]
    units: tuple[Unit, ...]


def batch(nominal: Unit, count: int, seed: int) -> Batch:
    """Siblings of a nominal unit; at least one for each design where there are any. O(count)."""
    designs = varieties(nominal)
    design_of = _quota([design.odds for design in designs], count) if count else []
    siblings, units = [], []
    for number, design in enumerate(design_of, 1):
        name = f"{seed} {nominal.topology} {nominal.mains.volts:g} {number}"
        weight = designs[design].odds / design_of.count(design)
        severity = ((number + seed - 1) * GOLDEN) % 1.0
        sibling = Sibling(design, weight, severity, Random(name).uniform(*SUPPLY))
        siblings.append(sibling)
        units.append(_vary(with_values(nominal, designs[design].values), sibling, name))
    return Batch(designs, tuple(siblings), tuple(units))


def varieties(nominal: Unit) -> tuple[Variety, ...]:
    """The make's designs with the value of every part that differs between them; odds sum to 1."""
    volts = f"{nominal.mains.volts:g}"
    values_of = [
        {**design.values, **design.when_mains.get(volts, {})} for design in nominal.data.designs
    ]
    parts = sorted({part for values in values_of for part in values})
    total = sum(design.odds for design in nominal.data.designs)
    return tuple(
        Variety(
            design.says, design.odds / total,
            {part: _value(nominal, part, values.get(part)) for part in parts},
        )
        for design, values in zip(nominal.data.designs, values_of, strict=True)
    ) or (Variety("as listed", 1.0, {}),)  # fmt: skip


def _value(nominal: Unit, part: str, text: str | None) -> float:
    return listed_value(nominal, part) if text is None else read_quantity(text).value


def _quota(odds: Sequence[float], count: int) -> list[int]:
    """A design's index for each of at least `count` units: one each, then the most wanting."""
    designs = list(range(len(odds)))
    while len(designs) < count:
        designs.append(max(range(len(odds)), key=lambda one: odds[one] / designs.count(one)))
    return designs


def _vary(base: Unit, sibling: Sibling, unit: str) -> Unit:
    elements = []
    for element in base.netlist.elements:
        if element.part not in base.parts:
            continue
        device = base.device(element.part)
        spread = dict(device.vary)
        within = base.tolerance[element.part]
        spread["value" if not element.model else device.value] = (1 - within, 1 + within)
        defaults = {**base.netlist.defaults.get(element.model, {}), **element.parameters}
        figures = {
            name: spice_number(defaults[name])
            * Random(f"{unit} {element.name} {name}").uniform(least, most)
            for name, (least, most) in sorted(spread.items())
            if name in defaults
        }
        elements.append(element.with_parameters(figures))
    netlist = base.netlist.with_elements(elements)
    return replace(base, netlist=netlist, severity=sibling.severity, supply=sibling.supply)
