"""A batch of sibling units: what of a make nobody knows, sampled with a seed.

Each unit draws a whole design of the topology's family (`engine.circuit.family`). The coordinates
of sixteen units in a row lie one in each sixteenth of every choice and draw (Latin hypercube
sampling: M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21, 1979), those of the next
sixteen a part of a sixteenth further on, so that few units cover the family well. What is drawn
again, because it would not work, is drawn by chance. Severities follow the multiples of the golden
section modulo one, which spread evenly however many there are (Kronecker sequence; Knuth, The Art
of Computer Programming 3, 6.4). Values and parameters are even within their tolerance: makers
select, so nothing is known of the middle. Unit n is the same however many there are, so that a
longer batch extends a shorter one; each figure has a chance of its own, so that one more that
varies leaves the others as they were.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from random import Random

from engine.circuit.design import Design, unit_of
from engine.circuit.dictionary import Sibling
from engine.circuit.family import draw_sound
from engine.circuit.netlist import spice_number
from engine.circuit.unit import Unit

GOLDEN = (5**0.5 - 1) / 2
"""The golden ratio's fractional part: multiples of it, less their whole parts, fill [0, 1)
evenly."""
SUPPLY = (0.95, 1.05)
"""What a socket gives over its nominal volts: within IEC 60038's 10 %, mostly within half of it."""
BLOCK = 16
"""Units in a row that lie in different parts of every choice. Our choice."""
INSERT_TOLERANCE = 0.05
"""Of resistors that the topology doesn't list."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Sampled units with their designs and with what is known of each, in the same order."""

    siblings: tuple[Sibling, ...]
    units: tuple[Unit, ...]
    designs: tuple[Design, ...]
    failures: int
    """Designs that were drawn and would not have worked."""


def batch(nominal: Unit, count: int, seed: int) -> Batch:
    """Siblings of a nominal unit, all of the same weight. O(count x draws).

    TroubleError CI203 where a family can't be drawn from.
    """
    siblings, units, designs, failures = [], [], [], 0
    for number in range(1, count + 1):
        name = f"{seed} {nominal.topology} {nominal.mains.volts:g}"
        coordinates = functools.partial(_coordinates, name, number)
        design, failed = draw_sound(nominal, coordinates)
        name = f"{name} {number}"
        sibling = Sibling(
            design.values, design.absent, design.kinds,
            ((number + seed - 1) * GOLDEN) % 1.0, Random(name).uniform(*SUPPLY), 1.0 / count,
        )  # fmt: skip
        failures += failed
        siblings.append(sibling)
        designs.append(design)
        units.append(_vary(unit_of(design), sibling, name))
    return Batch(tuple(siblings), tuple(units), tuple(designs), failures)


def _coordinates(name: str, number: int, attempt: int) -> _Coordinates:
    return _Coordinates(name, number, attempt)


@dataclass(frozen=True, slots=True)
class _Coordinates:
    """The coordinates of one attempt to draw a unit, by what is drawn."""

    name: str
    number: int
    attempt: int

    def __call__(self, what: str) -> float:
        """A number of [0, 1)."""
        if self.attempt:
            return Random(f"{self.name} {self.number} {self.attempt} {what}").random()
        block, place = divmod(self.number - 1, BLOCK)
        order = Random(f"{self.name} {block} {what}").sample(range(BLOCK), BLOCK)
        within = (Random(f"{self.name} {what}").random() + block * GOLDEN) % 1.0
        return (order[place] + within) / BLOCK


def _vary(base: Unit, sibling: Sibling, unit: str) -> Unit:
    elements = []
    for element in base.netlist.elements:
        if element.part in base.parts:
            device = base.device(element.part)
            spread, within = dict(device.vary), base.within(element.part)
            parameter = device.value
        else:
            spread, within, parameter = {}, INSERT_TOLERANCE, ""
        if element.part in base.parts or not element.model:
            spread["value" if not element.model else parameter] = (1 - within, 1 + within)
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
