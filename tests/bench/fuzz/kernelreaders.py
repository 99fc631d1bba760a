"""What the compiled solver is fed: decks solved to their end, and bare arrays at its border.

A fault there ends the process or never comes back, so that whoever runs these looks from outside:
`timeout` around the command, and the last input in `FOLDER`.
"""

from __future__ import annotations

import functools
import json
import struct
from array import array
from typing import Any

from engine.solver import _kernel
from engine.solver.network import Network, network
from engine.solver.solution import (
    AT_REST,
    OVER_TIME,
    Unsolved,
    drops,
    flattened,
    impedance,
    transient,
)
from kb.trouble import Place, Trouble, TroubleError
from tests.bench.fuzz.readers import decks, put
from tests.bench.fuzz.trial import Reader

_FIELDS = 5
"""Whole numbers of an element: kind, two ends, branch, place."""
_SMALL = (
    "V1 in 0 SIN(0 325 50)\nR1 in a 47\nD1 a b one\nC1 b 0 4.7u IC=1\nL1 b c 1m\nR2 c 0 10k\n"
    ".model one D(IS=1n N=1.8 RS=0.1 BV=600 CJO=10p)\n",
    "V1 p 0 PULSE(0 3 0.1m 1u 1u 1m 2m)\nV2 q p PWL(0 0 3.3m 4 7m -1)\nR1 q r 1k\n"
    "B1 r 0 I={1m*tanh(v(r))+v(r)/1e4}\nE1 e 0 r 0 2\nR3 e 0 1k\nI1 0 r 1m\n",
    "B2 k 0 V={(v(a)>1 ? 2 : exp(-v(a)))*min(i(V1),3)}\nV1 a 0 2\nR1 a k 10\n",
)


def _solved(text: str) -> None:
    """A deck as a circuit's own job has it: over time, at rest, to a small signal."""
    nodes = ("0", "a", "b", "in", "out")
    try:
        circuit = flattened(text, nodes)
        transient(circuit, 2e-3, 4e-4, nodes[1:])
        drops(circuit, "a", "0", 1.0, (1e2, 1e4, 1e6), 0.5)
        impedance(circuit, "a", "b", 1e3)
    except Unsolved as why:
        raise _told(why) from None


def _told(why: object) -> TroubleError:
    return TroubleError(Trouble("FUZZ", Place("input"), str(why), ""))


def _as_text(circuit: Network) -> str:
    numbers = array("i", circuit.elements).tolist()
    return json.dumps({
        "elements": [numbers[at : at + _FIELDS] for at in range(0, len(numbers), _FIELDS)],
        "figures": array("d", circuit.figures).tolist(),
        "programs": array("i", circuit.programs).tolist(),
        "branches": list(circuit.branches),
        "ends": [1, 2], "picks": [1, 2], "seconds": 2e-3, "step": 4e-4, "order": 2,
        "volts": 1.0, "ohms": [1e3, 1e6], "enough": 0.5,
    })  # fmt: skip


@functools.cache
def arrays() -> tuple[str, ...]:
    """The arrays of small networks, as numbers."""
    return tuple(_as_text(network(text, ())) for text in _SMALL)


def _border(text: str) -> None:
    """Arrays that no reader of ours made: refused by the border, or solved, or not solvable."""
    put("border.json", text)
    try:
        plain: dict[str, Any] = json.loads(text)
        elements = array("i", [n for one in plain["elements"] for n in one]).tobytes()
        four = (
            elements, array("d", plain["figures"]).tobytes(),
            array("i", plain["programs"]).tobytes(), bytes(plain["branches"]),
        )  # fmt: skip
        ends, care = plain["ends"], (OVER_TIME, AT_REST)
        jobs = (
            lambda: _kernel.transient(*four, plain["seconds"], plain["step"], plain["order"],
                                      plain["picks"], care[0]),
            lambda: _kernel.drops(*four, *ends, plain["volts"], plain["ohms"], plain["enough"],
                                  care[1]),
            lambda: _kernel.linear(*four, *ends, care[1]),
        )  # fmt: skip
    except (ValueError, TypeError, KeyError, OverflowError, struct.error) as wrong:
        raise _told("no arrays") from wrong
    for job in jobs:
        try:
            job()
        except (_kernel.Unsolved, TypeError, KeyError, OverflowError):
            continue


READERS = (
    Reader("solved", lambda: (*_SMALL, *decks()), _solved, 60.0),
    Reader("border", arrays, _border, 60.0),
)
