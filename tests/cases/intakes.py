"""Cases to try a shop with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from engine.cases.records import Intake, Standing

JPEG = b"\xff\xd8\xff\xe0" + b"a picture of a board" * 40
PNG = b"\x89PNG\r\n\x1a\n" + b"another" * 9


def intake(**told: Any) -> Intake:
    """A porch lamp of a made-up owner."""
    usual = {
        "topology": "buck-lamp", "mains": (230.0, 50.0), "unit": "grey porch lamp",
        "words": "It WON'T come on", "label": {"power": "8 W"}, "options": {"mains": "230/50"},
        "knowledge": "abc", "model_sha256": "0" * 64,
    }  # fmt: skip
    return Intake(**{**usual, **told})


def standing(
    events: Sequence[Mapping[str, Any]] = (), verdict: Mapping[str, Any] | None = None, **told: Any
) -> Standing:
    """A walk after these events."""
    usual = {
        "entry": {"whole": "yes"}, "options": {"mains": "230/50"}, "complaint": None,
        "knowledge": "abc", "model_sha256": "0" * 64, "minutes": 3.5,
    }  # fmt: skip
    return Standing(events=tuple(events), verdict=verdict, **{**usual, **told})


def answer(test: str, reading: str | None = None) -> dict[str, Any]:
    """An answered test, as walk documents have it."""
    return {"event": "answered", "test": test, "answer": "low", "reading": reading}


VERDICT = {
    "remedy": "renew-C1", "kind": "repair", "confidence": 0.9, "faults": [], "proofs": [],
}  # fmt: skip
