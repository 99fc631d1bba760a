"""The tables of a shop, for SQLite and PostgreSQL alike; `migration` makes them.

Times are text, ISO 8601 in UTC with a Z, which both databases keep and sort the same. An event that
is taken back stays, with when and by whom: a case's trail only ever grows.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from kb import signs

STATES = ("open", "verdict", "closed")
OUTCOMES = ("mended", "unmended", "scrapped", "no-fault")

METADATA = sa.MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)


class Words(sa.types.TypeDecorator[str]):
    """Text of people: neither kept nor handed out with signs that a terminal would obey."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Any) -> str | None:
        """Into the database, and out of it, whoever wrote it."""
        return None if value is None else signs.plain(value)

    process_result_value = process_bind_param


class Tree(sa.types.TypeDecorator[Any]):
    """A JSON value whose texts are such words."""

    impl = sa.JSON
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Any) -> Any:
        """Into the database, and out of it, whoever wrote it."""
        return signs.plain_tree(value)

    process_result_value = process_bind_param


def _among(column: str, words: tuple[str, ...]) -> str:
    return f"{column} in ({', '.join(repr(word) for word in words)})"


CASES = sa.Table(
    "cases", METADATA,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("uid", sa.String(32), nullable=False, unique=True),
    sa.Column("version", sa.Integer, nullable=False),
    sa.Column("state", sa.String(16), nullable=False),
    sa.Column("unit", Words, nullable=False),
    sa.Column("label", Tree, nullable=False),
    sa.Column("words", Words, nullable=False),
    sa.Column("topology", Words, nullable=False),
    sa.Column("volts", sa.Float, nullable=False),
    sa.Column("hertz", sa.Float, nullable=False),
    sa.Column("depth", sa.String(16), nullable=False),
    sa.Column("complaint", Words),
    sa.Column("options", Tree, nullable=False),
    sa.Column("entry", Tree, nullable=False),
    sa.Column("knowledge", Words, nullable=False),
    sa.Column("model_sha256", Words, nullable=False),
    sa.Column("minutes", sa.Float, nullable=False),
    sa.Column("verdict", Tree(none_as_null=True)),
    sa.Column("opened_at", sa.String(27), nullable=False),
    sa.Column("opened_by", Words, nullable=False),
    sa.Column("changed_at", sa.String(27), nullable=False, index=True),
    sa.Column("changed_by", Words, nullable=False),
    sa.Column("closed_at", sa.String(27)),
    sa.Column("closed_by", Words),
    sa.Column("faults", Tree, nullable=False),
    sa.Column("done", Words, nullable=False),
    sa.Column("outcome", sa.String(16)),
    sa.Column("cost", sa.Float),
    sa.Column("currency", Words, nullable=False),
    sa.CheckConstraint("version > 0", name="version"),
    sa.CheckConstraint(_among("state", STATES), name="state"),
    sa.CheckConstraint(f"outcome is null or {_among('outcome', OUTCOMES)}", name="outcome"),
    sa.CheckConstraint("(state = 'closed') = (closed_at is not null)", name="closed"),
    sqlite_autoincrement=True,  # a number is never given twice, though its case be deleted
)  # fmt: skip

EVENTS = sa.Table(
    "events", METADATA,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("case_number", sa.ForeignKey("cases.number"), nullable=False, index=True),
    sa.Column("position", sa.Integer, nullable=False),
    sa.Column("at", sa.String(27), nullable=False),
    sa.Column("who", Words, nullable=False),
    sa.Column("body", Tree, nullable=False),
    sa.Column("withdrawn_at", sa.String(27)),
    sa.Column("withdrawn_by", Words),
)  # fmt: skip
# At each place of the walk stands one event; those taken back may have stood there before.
sa.Index(
    "uq_events_standing", EVENTS.c.case_number, EVENTS.c.position, unique=True,
    sqlite_where=EVENTS.c.withdrawn_at.is_(None), postgresql_where=EVENTS.c.withdrawn_at.is_(None),
)  # fmt: skip

NOTES = sa.Table(
    "notes", METADATA,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("case_number", sa.ForeignKey("cases.number"), nullable=False, index=True),
    sa.Column("at", sa.String(27), nullable=False),
    sa.Column("who", Words, nullable=False),
    sa.Column("says", Words, nullable=False),
)  # fmt: skip

PHOTOGRAPHS = sa.Table(
    "photographs", METADATA,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("case_number", sa.ForeignKey("cases.number"), nullable=False, index=True),
    sa.Column("at", sa.String(27), nullable=False),
    sa.Column("who", Words, nullable=False),
    sa.Column("says", Words, nullable=False),
    sa.Column("kind", sa.String(32), nullable=False),
    sa.Column("size", sa.Integer, nullable=False),
    sa.Column("sha256", sa.String(64), nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
    sa.CheckConstraint("size > 0", name="size"),
)  # fmt: skip

PROOFS = sa.Table(
    "proofs", METADATA,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("case_number", sa.ForeignKey("cases.number"), nullable=False, index=True),
    sa.Column("at", sa.String(27), nullable=False),
    sa.Column("who", Words, nullable=False),
    sa.Column("proof", Words, nullable=False),
    sa.Column("says", Words, nullable=False),
    sa.Column("limit", Words, nullable=False),
    sa.Column("reading", Words, nullable=False),
    sa.Column("passed", sa.Boolean, nullable=False),
)  # fmt: skip

LESSONS = sa.Table(
    "lessons", METADATA,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("origin", sa.String(64), nullable=False, index=True),
    sa.Column("at", sa.String(27), nullable=False),
    sa.Column("who", Words, nullable=False),
    sa.Column("weight", sa.Float, nullable=False),
    sa.Column("topology", Words, nullable=False),
    sa.Column("complaint", Words, nullable=False),
    sa.Column("fault", Words, nullable=False),
    sa.Column("cases", sa.Float, nullable=False),
    sa.CheckConstraint("weight > 0 and cases > 0", name="positive"),
)  # fmt: skip
