"""How much a check is expected to tell: bits about the fault, by the simulated densities.

The usual check on a starved rail is the volts across its dropper over the dropper's marking. It is
no test of ours, so its readings are made up from two that are: each sibling's volts at the feeding
point less those at the rail, under each fault. Beside it stand the checks that pull apart what the
drop can't. Bits are the mutual information of fault and reading (C. E. Shannon, Bell System
Technical Journal 27, 1948), over a grid of the reading's scale.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from engine.circuit.netlist import Element
from engine.circuit.unit import Unit, unit
from engine.evidence.density import Density, around
from engine.evidence.make import values
from engine.evidence.scale import Scale
from engine.evidence.witness import SOUND, Witness
from engine.model.records import Test
from engine.readings.bands import bands
from engine.readings.belief import entropy
from kb.language import loader
from kb.language.circuit import circuit_of, devices
from kb.quantities import VOLT

CELLS = 80
"""Cells of a reading's scale when bits are summed; of the algorithm."""
WORTH = 1e-3
"""Odds of a fault under which it adds nothing to speak of to a sum of bits."""
FITTING = 0.05
"""Faults that fit a reading this much worse than the best are no explanations to be told apart."""
BESIDE = 2
"""How many other checks are told beside a usual one; for reading alone."""
RARE = 0.05
"""Odds at either end of what a drop may be that are left out when its span is told. Our choice."""


@dataclass(frozen=True, slots=True)
class Drop:
    """Volts across a resistor that feeds the point read: `due`, and the span over nine tenths of
    the odds in question; `tolerance` of the resistor as a share; `bits` it tells of `open_bits`
    that are open, and what other checks tell, best first."""

    part: str
    due: float
    low: float
    high: float
    tolerance: float
    bits: float
    open_bits: float
    others: tuple[tuple[str, float], ...]


def drop(
    witness: Witness, test: Test, posterior: Mapping[str, float], fits: Mapping[str, float]
) -> Drop | None:
    """The drop across the resistor that feeds a test's point; None where there is no such one.

    O(faults x samples x cells).
    """
    circuit = _unit(witness)
    if circuit is None or witness.dictionary is None:
        return None
    weights = {f: p for f, p in posterior.items() if p >= WORTH and fits[f] >= FITTING}
    for element, feeding in _feeds(circuit, witness, test):
        read = _across(witness, feeding, test, tuple(weights))
        sound = _across(witness, feeding, test, (SOUND,)).get(SOUND)
        if not read or not sound:
            continue
        odds = {f: weights[f] for f in read}
        densities = {f: _density(volts) for f, volts in read.items()}
        low, high = _most({sum(volts) / len(volts): odds[f] for f, volts in read.items()})
        others = sorted(
            ((t.id, expected_bits(witness, t, odds)) for t in witness.model.tests
             if t.id not in (test.id, feeding.id) and bands(t) and witness.speaks(t)),
            key=lambda pair: -pair[1],
        )  # fmt: skip
        return Drop(
            element.part, sum(sound) / len(sound), low, high,
            circuit.tolerance[element.part], _bits(densities, odds), _open(odds),
            tuple(others[:BESIDE]),
        )  # fmt: skip
    return None


def _most(odds: Mapping[float, float]) -> tuple[float, float]:
    """The span that holds nine tenths of the odds, a twentieth left out at each end."""
    span, run, total = [], 0.0, sum(odds.values())
    for value in sorted(odds):
        before, run = run, run + odds[value]
        if run > RARE * total and before < (1.0 - RARE) * total:
            span.append(value)
    return span[0], span[-1]


def expected_bits(witness: Witness, test: Test, odds: Mapping[str, float]) -> float:
    """Bits that a measured test's reading is expected to tell about faults with these odds."""
    return _bits({f: witness.density(test, f) for f in odds}, odds)


def _unit(witness: Witness) -> Unit | None:
    model = witness.model
    data = circuit_of(model.topology)
    if data is None:
        return None
    return unit(loader.as_shipped(), model.topology, model.mains, data, devices())


def _feeds(circuit: Unit, witness: Witness, test: Test) -> Iterator[tuple[Element, Test]]:
    """Plain resistors from the point read to another point with the same foot, and its test."""
    ends = circuit.data.points.get(test.point)
    if ends is None:
        return
    for other in witness.model.tests:
        there = circuit.data.points.get(other.point)
        same = other.instrument == test.instrument and witness.speaks(other)
        if there is None or other.id == test.id or there[1] != ends[1] or not same:
            continue
        for element in circuit.netlist.elements:
            joins = set(element.nodes) == {ends[0], there[0]}
            if joins and not element.model and element.part in circuit.parts:
                yield element, other


def _across(
    witness: Witness, feeding: Test, test: Test, faults: tuple[str, ...]
) -> dict[str, list[float]]:
    """Each fault's volts across the resistor, a sibling's each."""
    dictionary = witness.dictionary
    assert dictionary is not None
    drops = {}
    for fault in faults:
        pair = dictionary.cell(feeding.id, fault), dictionary.cell(test.id, fault)
        if pair[0] is None or pair[1] is None:
            continue
        volts = [
            above - below
            for above, below in zip(values(pair[0]), values(pair[1]), strict=False)
            if above is not None and below is not None
        ]
        if volts:
            drops[fault] = volts
    return drops


def _density(drops: list[float]) -> Density:
    most = 2.0 * max(1.0, *(abs(volts) for volts in drops))
    on = Scale(VOLT, 1.0, 0.0, max(800.0, most), False)
    return around(on, drops, [1.0] * len(drops))


def _bits(densities: Mapping[str, Density], odds: Mapping[str, float]) -> float:
    """Mutual information of fault and reading, over even cells of the scale and over range."""
    first = next(iter(densities.values())).scale
    edges = np.linspace(first.at(first.low), first.at(first.high), CELLS + 1)
    rows = np.array([densities[f].cells(edges) for f in odds])
    weights = np.array(list(odds.values()))
    joint = rows * (weights / weights.sum())[:, None]
    reading, fault = joint.sum(axis=0), joint.sum(axis=1)
    return max(0.0, entropy(fault) + entropy(reading) - entropy(joint.ravel()))


def _open(odds: Mapping[str, float]) -> float:
    weights = np.array(list(odds.values()))
    return entropy(weights / weights.sum())
