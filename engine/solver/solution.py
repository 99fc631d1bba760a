"""Solves networks: waves over time, drops across a meter, the answer to a small signal."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from engine.solver import _kernel
from engine.solver.expressions import ReadingError
from engine.solver.network import Network, network

Floats = NDArray[np.float64]


class Unsolved(Exception):
    """The solver has no reading of a circuit, or found no solution."""


Care = tuple[float, float, float, float, float, int]
OVER_TIME: Care = (5e-3, 1e-4, 1e-7, 1e-12, 1e-12, 30)
AT_REST: Care = (1e-5, 1e-7, 1e-13, 1e-13, 1e-13, 100)
STUBBORN: Care = (1e-3, 1e-5, 1e-9, 1e-12, 1e-12, 100)
"""How near is near enough: a share, volts, amperes; siemens from each node to ground and across
each junction; rounds of Newton. Of the algorithm. Where currents of picoamperes never settle to
`AT_REST`, `STUBBORN` will do: a meter shows three digits.
"""
EDITION = f"solver 2 {OVER_TIME} {AT_REST} {STUBBORN}"
"""Names what decides the last digits: another edition gives others. Raise it with the kernel."""


def flattened(text: str, nodes: Iterable[str] = ()) -> Network:
    """The network of a netlist; it has the given nodes, too, be it that nothing reaches them.

    Unsolved where the solver has no reading of it.
    """
    try:
        return network(text, nodes)
    except ReadingError as why:
        raise Unsolved(str(why)) from None


def transient(
    circuit: Network, seconds: float, step: float, nodes: Sequence[str], order: int = 2
) -> Mapping[str, Floats]:
    """Volts of each node (`time` in seconds beside them), from everything empty at time zero.

    `step` is the longest time step. Unsolved where no step leads on.
    """
    picks = [circuit.node_of[node.lower()] for node in nodes]
    try:
        rows, _, _ = _kernel.transient(*_arrays(circuit), seconds, step, order, picks, OVER_TIME)
    except _kernel.Unsolved as why:
        raise Unsolved(str(why)) from None
    table = np.frombuffer(rows, dtype=np.float64).reshape(-1, len(picks) + 1)
    return dict(zip(("time", *nodes), table.T, strict=True))


def drops(
    circuit: Network, a: str, b: str, volts: float, ohms: Sequence[float], enough: float
) -> tuple[Sequence[float], Sequence[float]]:
    """Volts between two nodes with `volts` behind each resistance put across, then with `-volts`.

    Each row ends with the first drop of no more than `enough`. Unsolved where there is no rest.
    """
    ends = _ends(circuit, a, b)
    for care in (AT_REST, STUBBORN):
        try:
            forth, back = _kernel.drops(*_arrays(circuit), *ends, volts, ohms, enough, care)
        except _kernel.Unsolved as why:
            reason = str(why)
        else:
            return np.frombuffer(forth).tolist(), np.frombuffer(back).tolist()
    raise Unsolved(reason)


def impedance(circuit: Network, a: str, b: str, hertz: float) -> complex:
    """Ohms between two nodes at a frequency, the circuit at rest. Unsolved where it has none."""
    ends = _ends(circuit, a, b)
    try:
        flat, n, row_a, row_b = _kernel.linear(*_arrays(circuit), *ends, AT_REST)
    except _kernel.Unsolved as why:
        raise Unsolved(str(why)) from None
    still, both = np.frombuffer(flat).reshape(2, n, n)
    right = np.zeros(n)
    for row, amperes in ((row_a, 1.0), (row_b, -1.0)):
        if row >= 0:
            right[row] += amperes
    try:
        volts = np.linalg.solve(still + 2j * math.pi * hertz * (both - still), right)
    except np.linalg.LinAlgError as why:
        raise Unsolved(str(why)) from None
    return complex(volts @ right)


def _arrays(circuit: Network) -> tuple[bytes, bytes, bytes, bytes]:
    return circuit.elements, circuit.figures, circuit.programs, circuit.branches


def _ends(circuit: Network, a: str, b: str) -> tuple[int, int]:
    return circuit.node_of[a.lower()], circuit.node_of[b.lower()]
