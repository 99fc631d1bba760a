"""Units built from the shipped circuits, without any deduction."""

import functools

from engine.circuit.unit import unit
from engine.model.records import Fault, FaultyPart, Mains
from kb.language import circuit, loader

MAINS = (Mains(230, 50), Mains(120, 60))


@functools.cache
def knowledge():
    """The shipped knowledge, read once."""
    return loader.read()


@functools.cache
def shipped(topology, volts):
    """The nominal unit of a shipped topology at one mains."""
    mains = next(mains for mains in MAINS if mains.volts == volts)
    data = circuit.circuit(topology)
    return unit(knowledge(), topology, mains, data, circuit.devices())


def single_faults(made):
    """One fault for each mode and variant of each part of a unit."""
    for part, modes in made.kinds.items():
        for mode in modes:
            yield Fault(f"{part}-{mode}", "", "", 0.0, (FaultyPart(part, mode),))
