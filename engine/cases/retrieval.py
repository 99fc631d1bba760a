"""From rows of the database to the records of a case, and which cases hold certain words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, TypeVar

import sqlalchemy as sa

from engine.cases.records import (
    Case,
    Closing,
    Happening,
    Intake,
    Note,
    Photograph,
    ProofReading,
    Row,
    Standing,
)
from engine.cases.tables import CASES, EVENTS, NOTES, PHOTOGRAPHS, PROOFS

_Record = TypeVar("_Record", Happening, Note, Photograph, ProofReading)
_ROW = tuple(CASES.c[name] for name in Row.__dataclass_fields__)
_TEXTS = ("unit", "words", "topology", "complaint", "done", "label", "faults")


def newest_first(now: str) -> tuple[sa.ColumnElement[Any], ...]:
    """The order of cases, the last changed first. What bears a time that is still to come was
    written before the clock was set back, and comes after all that was written since."""
    return CASES.c.changed_at > now, CASES.c.changed_at.desc(), CASES.c.number.desc()


def rows(
    connection: sa.Connection, words: Sequence[str], states: Sequence[str], now: str
) -> tuple[Row, ...]:
    """Cases in one of the states (any, where none is named) that hold every word, the last changed
    first."""
    query = sa.select(*_ROW).order_by(*newest_first(now))
    if states:
        query = query.where(CASES.c.state.in_(states))
    for word in words:
        query = query.where(_holds(word))
    hits = connection.execute(query).mappings().all()
    return tuple(Row(**{**row, "faults": tuple(row["faults"])}) for row in hits)


def case(connection: sa.Connection, row: sa.RowMapping) -> Case:
    """A case with all that hangs on it; photographs without their content."""
    number = row["number"]
    happenings = tuple(_all(connection, EVENTS, number, Happening))
    proofs = tuple(_all(connection, PROOFS, number, ProofReading))
    return Case(
        number=number, uid=row["uid"], version=row["version"], state=row["state"],
        intake=_intake(row), standing=_standing(row, happenings), happenings=happenings,
        notes=tuple(_all(connection, NOTES, number, Note)),
        photographs=tuple(_all(connection, PHOTOGRAPHS, number, Photograph)),
        opened_at=row["opened_at"], opened_by=row["opened_by"], changed_at=row["changed_at"],
        changed_by=row["changed_by"], closed_at=row["closed_at"], closed_by=row["closed_by"],
        closing=_closing(row, proofs),
    )  # fmt: skip


def _holds(word: str) -> sa.ColumnElement[bool]:
    """Whether a case holds the word, small and capital letters alike."""
    own = [_has(sa.cast(CASES.c[name], sa.Text), word) for name in _TEXTS]
    in_notes = sa.exists().where(NOTES.c.case_number == CASES.c.number, _has(NOTES.c.says, word))
    return sa.or_(*own, in_notes)


def _has(column: sa.ColumnElement[Any], word: str) -> sa.ColumnElement[bool]:
    return sa.func.lower(column).contains(word.lower(), autoescape=True)


def _all(
    connection: sa.Connection, table: sa.Table, number: int, kind: type[_Record]
) -> Iterator[_Record]:
    names = [name for name in kind.__dataclass_fields__ if name != "content"]
    query = sa.select(*(table.c[name] for name in names)).where(table.c.case_number == number)
    for row in connection.execute(query.order_by(table.c.id)).mappings():
        yield kind(**row)


def _intake(row: sa.RowMapping) -> Intake:
    return Intake(
        topology=row["topology"], mains=(row["volts"], row["hertz"]), depth=row["depth"],
        complaint=row["complaint"], unit=row["unit"], words=row["words"], label=row["label"],
        options=row["options"], knowledge=row["knowledge"], model_sha256=row["model_sha256"],
    )  # fmt: skip


def _standing(row: sa.RowMapping, happenings: Sequence[Happening]) -> Standing:
    return Standing(
        events=tuple(h.body for h in happenings if h.withdrawn_at is None), entry=row["entry"],
        options=row["options"], complaint=row["complaint"], knowledge=row["knowledge"],
        model_sha256=row["model_sha256"], minutes=row["minutes"], verdict=row["verdict"],
    )  # fmt: skip


def _closing(row: sa.RowMapping, proofs: tuple[ProofReading, ...]) -> Closing | None:
    if row["outcome"] is None:
        return None
    return Closing(
        outcome=row["outcome"], faults=tuple(row["faults"]), done=row["done"], proofs=proofs,
        cost=row["cost"], currency=row["currency"],
    )  # fmt: skip
