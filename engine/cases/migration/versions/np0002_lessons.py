"""Counts of other shops' cases, merged by weight."""

import sqlalchemy as sa
from alembic import op

revision = "np0002"
down_revision = "np0001"


def upgrade() -> None:
    """Make their table."""
    op.create_table(
        "lessons",
        sa.Column("id", sa.Integer, autoincrement=True, nullable=False),
        sa.Column("origin", sa.String(64), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("weight", sa.Float, nullable=False),
        sa.Column("topology", sa.Text, nullable=False),
        sa.Column("complaint", sa.Text, nullable=False),
        sa.Column("fault", sa.Text, nullable=False),
        sa.Column("cases", sa.Float, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_lessons"),
        sa.CheckConstraint("weight > 0 and cases > 0", name="ck_lessons_positive"),
    )
    op.create_index("ix_lessons_origin", "lessons", ["origin"])
