"""Several units taken in at one sitting: a line for each, what is meant by it, the cases begun."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from engine.cases.mishaps import trouble
from engine.cases.shop import Shop
from render.station.desk import Desk
from render.station.rounds import MOST
from render.station.seats import Seats
from render.station.turns import AmissError, Form

PARTING = ";"
"""What parts a unit from its owner's words on a line."""


@dataclass(frozen=True, slots=True)
class Line:
    """One unit: what it is called, what its owner says."""

    unit: str
    words: str


def read(text: str) -> tuple[Line, ...]:
    """The units of a text, a line each. AmissError for none, and for more than a round has."""
    rows = [row for row in text.splitlines() if row.strip()]
    if not rows:
        raise AmissError(units="Write a line for each unit.")
    if len(rows) > MOST:
        raise AmissError(units=f"A round has {MOST} units at most; take the rest in after it.")
    return tuple(Line(*_parts(row)) for row in rows)


def _parts(row: str) -> tuple[str, str]:
    unit, _, words = row.partition(PARTING)
    return " ".join(unit.split()), " ".join(words.split())


def meanings(desk: Desk, form: Form) -> dict[str, Any]:
    """Each unit with what its owner's words may mean. AmissError as `read`."""
    desk.check_topology(form.one("topology"))
    entries = [(line, desk.likely(line.words)) for line in read(form.one("units"))]
    return {
        "entries": entries, "topology": form.one("topology"), "mains": form.one("mains"),
    }  # fmt: skip


def take_in(
    desk: Desk, seats: Seats, shop: Shop, text: str, topology: str, source: str
) -> list[int]:
    """Begin a case for each line of a text: the unit, its owner's words, its complaint where that
    is clear. The numbers. TroubleError CL153 for what can't be taken in: nothing is begun then."""
    forms = []
    try:
        for line in read(text):
            words, _, complaint = line.words.partition(PARTING)
            fields = {"unit": line.unit, "words": words.strip(), "topology": topology,
                      "complaint": complaint.strip()}  # fmt: skip
            forms.append(Form({name: (value,) for name, value in fields.items()}))
        briefs = [desk.begin(shop, form)[0] for form in forms]
    except AmissError as wrong:
        raise trouble(
            "CL153", source, str(wrong).rstrip("."),
            "Write what you call it; what its owner says; its complaint, a line for each unit",
        ) from wrong  # fmt: skip
    models = [seats.model_of(brief) for brief in briefs]
    return [
        desk.keep(shop, brief, model, "") for brief, model in zip(briefs, models, strict=True)
    ]


def forms(form: Form) -> Iterator[tuple[str, Form]]:
    """The form of each unit as `Desk.begin` takes one; each with a name of its own, so that a round
    sent twice begins each case once."""
    once, count = form.one("once"), form.number("count", MOST + 1)
    for number in range(count):
        fields = {
            "unit": (form.one(f"unit-{number}"),), "words": (form.one(f"words-{number}"),),
            "complaint": (form.one(f"complaint-{number}"),),
            "topology": (form.one("topology"),), "mains": (form.one("mains"),),
        }  # fmt: skip
        yield f"{once}-{number}" if once else "", Form(fields)
