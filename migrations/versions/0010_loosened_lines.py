"""What an adopted protocol no longer asks, or asks later: a list for the clinical lead."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

TABLE = "loosened_line"
WHOLE = "(void_at IS NULL) = (void_by_id IS NULL) AND (void_at IS NULL) = (void_why IS NULL)"
WINDOW = "earliest <= target AND target <= latest"


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
        link("protocol_id", "protocol", nullable=False),
        link("due_id", "due"),
        link("referral_id", "referral"),
        sa.Column("rule", sa.String(), nullable=False),
        sa.Column("earliest", sa.Date()),
        sa.Column("target", sa.Date()),
        sa.Column("latest", sa.Date()),
        sa.Column("answer", sa.String()),
        sa.Column("answered_at", sa.DateTime()),
        link("answered_by_id", "staff"),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("void_at", sa.DateTime()),
        sa.Column("void_why", sa.String()),
        link("void_by_id", "staff"),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        link("by_id", "staff", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{TABLE}")),
        check("\"answer\" IN ('taken', 'left')", "answer"),
        check("(due_id IS NULL) <> (referral_id IS NULL)", "one_line"),
        check(WINDOW, "window"),
        check(WHOLE, "void_is_whole"),
    )
    op.create_index(op.f("ix_loosened_line_person_id"), TABLE, ["person_id"])


def downgrade() -> None:
    """Drop it."""
    op.drop_table(TABLE)
