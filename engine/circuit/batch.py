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
from engine.circuit.unit import Unit, listed, valued
from kb.quantities import read_quantity

GOLDEN = (5**0.5 - 1) / 2
SUPPLY = (0.95, 1.05)
"""What a socket gives over its nominal volts: within IEC 60038's 10 %, mostly within half of it."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Typical designs, and sampled units with what is known of each, in the same order."""

    designs: tuple[Variety, ...]
    siblings: tuple[Sibling, ...]
    units: tuple[Unit, ...]


def batch(made: Unit, count: int, seed: int) -> Batch:
    """Siblings of a nominal unit; at least one for each design where there are any. O(count)."""
    designs = varieties(made)
    drawn = _quota([design.odds for design in designs], count) if count else []
    siblings, units = [], []
    for number, design in enumerate(drawn, 1):
        name = f"{seed} {made.topology} {made.mains.volts:g} {number}"
        weight = designs[design].odds / drawn.count(design)
        severity = ((number + seed - 1) * GOLDEN) % 1.0
        sibling = Sibling(design, weight, severity, Random(name).uniform(*SUPPLY))
        siblings.append(sibling)
        units.append(_varied(valued(made, designs[design].values), sibling, name))
    return Batch(designs, tuple(siblings), tuple(units))


def varieties(made: Unit) -> tuple[Variety, ...]:
    """The make's designs with the value of every part that differs between them; odds sum to 1."""
    volts = f"{made.mains.volts:g}"
    given = [{**known.values, **known.when_mains.get(volts, {})} for known in made.data.designs]
    parts = sorted({part for values in given for part in values})
    total = sum(known.odds for known in made.data.designs)
    return tuple(
        Variety(
            known.says, known.odds / total,
            {part: _value(made, part, values.get(part)) for part in parts},
        )
        for known, values in zip(made.data.designs, given, strict=True)
    ) or (Variety("as listed", 1.0, {}),)  # fmt: skip


def _value(made: Unit, part: str, text: str | None) -> float:
    return listed(made, part) if text is None else read_quantity(text).value


def _quota(odds: Sequence[float], count: int) -> list[int]:
    """A design's index for each of at least `count` units: one each, then the most wanting."""
    drawn = list(range(len(odds)))
    while len(drawn) < count:
        drawn.append(max(range(len(odds)), key=lambda one: odds[one] / drawn.count(one)))
    return drawn


def _varied(made: Unit, sibling: Sibling, unit: str) -> Unit:
    changed = []
    for element in made.netlist.elements:
        if element.part not in made.parts:
            continue
        device = made.device(element.part)
        spread = dict(device.vary)
        within = made.tolerance[element.part]
        spread["value" if not element.model else device.value] = (1 - within, 1 + within)
        known = {**made.netlist.defaults.get(element.model, {}), **element.parameters}
        given = {
            name: spice_number(known[name])
            * Random(f"{unit} {element.name} {name}").uniform(least, most)
            for name, (least, most) in sorted(spread.items())
            if name in known
        }
        changed.append(element.with_parameters(given))
    netlist = made.netlist.put(changed)
    return replace(made, netlist=netlist, severity=sibling.severity, supply=sibling.supply)
