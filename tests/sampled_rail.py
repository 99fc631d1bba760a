"""An invented rail with simulated readings: sound, with a weak feed, two loads, an open feed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from engine.circuit.dictionary import Cell, Dictionary, Sibling
from engine.model.records import Model, Outcome, Test
from tests.models import tiny_model

READINGS: Mapping[str, Sequence[float]] = {
    "no-fault": (4.8, 4.7, 4.9, 4.75, 4.4),
    "feed-weak": (3.4, 3.0, 3.8, 4.2, 2.6),
    "load-heavy": (2.4, 2.2, 2.9, 1.6, 2.0),
    "load-short": (0.1, 0.05, 0.12, 0.2, 0.08),
    "feed-open": (0.0, 0.0, 0.0, 0.0, 0.0),
}
OHMS: Mapping[str, Sequence[float]] = {
    "no-fault": (465e3, 450e3, 480e3, 470e3, 330e3),
    "feed-weak": (1.2e6, 0.9e6, 1.5e6, 2.2e6, 1.1e6),
    "load-heavy": (464e3, 451e3, 479e3, 470e3, 329e3),
    "load-short": (464e3, 451e3, 479e3, 470e3, 329e3),
    "feed-open": (math.inf,) * 5,
}
_NAMES = ("dead", "low", "as-due", "high")
_SLIP = {name: {other: 0.005 for other in _NAMES if other != name} for name in _NAMES}
_ANY = dict.fromkeys(_NAMES, 0.25)
RAIL = Test(
    "rail", "What does the rail read?", 2.0, (), "bench", "none", True,
    (
        Outcome("dead", "dead", None, 0.5, "V"),
        Outcome("low", "low", 0.5, 4.0, "V"),
        Outcome("as-due", "as due", 4.0, 6.0, "V"),
        Outcome("high", "high", 6.0, None, "V"),
    ),
    misread=_SLIP, instrument="DC volts", point="TP",
)  # fmt: skip
FEED = Test(
    "feed", "What does the feed read?", 1.0, (), "dead", "none", True,
    (
        Outcome("at-or-below", "at its marking or below", None, 503e3, "Ω"),
        Outcome("above", "above its marking or open", 503e3, None, "Ω"),
    ),
    misread={"above": {"at-or-below": 0.01}, "at-or-below": {"above": 0.01}},
    instrument="ohm range",
)  # fmt: skip
ROWS: Mapping[str, Mapping[str, str | Mapping[str, float]]] = {
    "rail": {
        "no-fault": "as-due", "feed-weak": "low", "load-heavy": "low", "load-short": "dead",
        "feed-open": "dead", "other": _ANY,
    },
    "feed": {
        "no-fault": "at-or-below", "feed-weak": "above", "load-heavy": "at-or-below",
        "load-short": "at-or-below", "feed-open": "above", "other": "at-or-below",
    },
}  # fmt: skip


def rail_model() -> Model:
    """Five faults of a rail and one not listed, told by its volts and its feed's ohms."""
    priors = dict.fromkeys([*READINGS, "other"], 1.0)
    return tiny_model(priors, [RAIL, FEED], ROWS)


def rail_readings() -> Dictionary:
    """A nominal unit and four siblings of two designs; the second has a feed of 330 kΩ."""
    model = rail_model()
    return Dictionary(
        model.topology, model.mains, {},
        {"R2": 470e3},
        (
            *(Sibling({"R2": 470e3}, weight=0.25) for _ in range(3)),
            Sibling({"R2": 330e3}, weight=0.25),
        ),
        {
            test: {
                fault: Cell(None, values[0], tuple((None, value) for value in values[1:]))
                for fault, values in table.items()
            }
            for test, table in (("rail", READINGS), ("feed", OHMS))
        },
        {"rail": "V", "feed": "Ω"},
    )  # fmt: skip
