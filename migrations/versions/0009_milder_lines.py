"""Corrections that made a plan milder, which wait for a second named person to see them."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

TABLE = "milder_line"
URGENCIES = "('emergency', 'urgent', 'high', 'medium', 'low')"
WHOLE = "(void_at IS NULL) = (void_by_id IS NULL) AND (void_at IS NULL) = (void_why IS NULL)"
SEEN = "(seen_at IS NULL) = (seen_by_id IS NULL)"


def link(column: str, target: str, nullable: bool = True) -> sa.Column[int]:
    """Return a column that points to another table's row, which then cannot be removed."""
    name = op.f(f"fk_{TABLE}_{column}_{target}")
    key = sa.ForeignKey(f"{target}.id", name=name, ondelete="RESTRICT")
    return sa.Column(column, sa.Integer(), key, nullable=nullable)


def check(condition: str, name: str) -> sa.CheckConstraint:
    """Return a named condition of the table."""
    return sa.CheckConstraint(condition, name=op.f(f"ck_{TABLE}_{name}"))


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        TABLE,
        sa.Column("id", sa.Integer(), nullable=False),
        link("person_id", "person", nullable=False),
        link("visit_id", "visit", nullable=False),
        sa.Column("ear", sa.String(), nullable=False),
        sa.Column("about", sa.String(), nullable=False),
        sa.Column("was", sa.String(), nullable=False),
        sa.Column("now", sa.String()),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("seen_at", sa.DateTime()),
        link("seen_by_id", "staff"),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("void_at", sa.DateTime()),
        sa.Column("void_why", sa.String()),
        link("void_by_id", "staff"),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        link("by_id", "staff", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{TABLE}")),
        check("\"ear\" IN ('right', 'left')", "ear"),
        check(f'"was" IN {URGENCIES}', "was"),
        check(f'"now" IN {URGENCIES}', "now"),
        check(SEEN, "seen_is_whole"),
        check(WHOLE, "void_is_whole"),
    )
    op.create_index(op.f("ix_milder_line_person_id"), TABLE, ["person_id"])
    op.create_index(
        "ix_milder_line_waiting",
        TABLE,
        ["on", "id"],
        sqlite_where=sa.text("seen_at IS NULL AND void_at IS NULL"),
        postgresql_where=sa.text("seen_at IS NULL AND void_at IS NULL"),
    )


def downgrade() -> None:
    """Drop it."""
    op.drop_table(TABLE)
