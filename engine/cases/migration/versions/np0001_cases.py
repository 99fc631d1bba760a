"""The first tables: cases with their events, notes, photographs and proofs."""

import sqlalchemy as sa
from alembic import op

revision = "np0001"
down_revision = None


def upgrade() -> None:
    """Make them."""
    op.create_table(
        "cases",
        sa.Column("number", sa.Integer, autoincrement=True, nullable=False),
        *_texts("uid", length=32),
        sa.Column("version", sa.Integer, nullable=False),
        *_texts("state", length=16),
        *_texts("unit"),
        sa.Column("label", sa.JSON, nullable=False),
        *_texts("words", "topology"),
        sa.Column("volts", sa.Float, nullable=False),
        sa.Column("hertz", sa.Float, nullable=False),
        *_texts("depth", length=16),
        sa.Column("complaint", sa.Text),
        sa.Column("options", sa.JSON, nullable=False),
        sa.Column("entry", sa.JSON, nullable=False),
        *_texts("knowledge", "model_sha256"),
        sa.Column("minutes", sa.Float, nullable=False),
        sa.Column("verdict", sa.JSON),
        *_texts("opened_at", length=27),
        *_texts("opened_by"),
        *_texts("changed_at", length=27),
        *_texts("changed_by"),
        sa.Column("closed_at", sa.String(27)),
        sa.Column("closed_by", sa.Text),
        sa.Column("faults", sa.JSON, nullable=False),
        *_texts("done"),
        sa.Column("outcome", sa.String(16)),
        sa.Column("cost", sa.Float),
        *_texts("currency"),
        sa.PrimaryKeyConstraint("number", name="pk_cases"),
        sa.UniqueConstraint("uid", name="uq_cases_uid"),
        sa.CheckConstraint("version > 0", name="ck_cases_version"),
        sa.CheckConstraint("state in ('open', 'verdict', 'closed')", name="ck_cases_state"),
        sa.CheckConstraint(
            "outcome is null or outcome in ('mended', 'unmended', 'scrapped', 'no-fault')",
            name="ck_cases_outcome",
        ),
        sa.CheckConstraint("(state = 'closed') = (closed_at is not null)", name="ck_cases_closed"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_cases_changed_at", "cases", ["changed_at"])
    op.create_table(
        "events",
        sa.Column("id", sa.Integer, autoincrement=True, nullable=False),
        _of_case(),
        sa.Column("position", sa.Integer, nullable=False),
        *_texts("at", length=27),
        *_texts("who"),
        sa.Column("body", sa.JSON, nullable=False),
        sa.Column("withdrawn_at", sa.String(27)),
        sa.Column("withdrawn_by", sa.Text),
        sa.PrimaryKeyConstraint("id", name="pk_events"),
    )
    op.create_index(
        "uq_events_standing", "events", ["case_number", "position"], unique=True,
        sqlite_where=sa.text("withdrawn_at is null"),
        postgresql_where=sa.text("withdrawn_at is null"),
    )  # fmt: skip
    op.create_table(
        "notes",
        sa.Column("id", sa.Integer, autoincrement=True, nullable=False),
        _of_case(),
        *_texts("at", length=27),
        *_texts("who", "says"),
        sa.PrimaryKeyConstraint("id", name="pk_notes"),
    )
    op.create_table(
        "photographs",
        sa.Column("id", sa.Integer, autoincrement=True, nullable=False),
        _of_case(),
        *_texts("at", length=27),
        *_texts("who", "says"),
        *_texts("kind", length=32),
        sa.Column("size", sa.Integer, nullable=False),
        *_texts("sha256", length=64),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_photographs"),
        sa.CheckConstraint("size > 0", name="ck_photographs_size"),
    )
    op.create_table(
        "proofs",
        sa.Column("id", sa.Integer, autoincrement=True, nullable=False),
        _of_case(),
        *_texts("at", length=27),
        *_texts("who", "proof", "says", "limit", "reading"),
        sa.Column("passed", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_proofs"),
    )
    for table in ("events", "notes", "photographs", "proofs"):
        op.create_index(f"ix_{table}_case_number", table, ["case_number"])


def _texts(*names: str, length: int | None = None) -> list[sa.Column[str]]:
    kind: sa.types.TypeEngine[str] = sa.String(length) if length else sa.Text()
    return [sa.Column(name, kind, nullable=False) for name in names]


def _of_case() -> sa.Column[int]:
    return sa.Column("case_number", sa.Integer, sa.ForeignKey("cases.number"), nullable=False)
