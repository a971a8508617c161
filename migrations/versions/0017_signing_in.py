"""Signing in: passwords, accounts of the operating system, sessions, and who looked at whom."""

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def link(table: str, column: str, target: str, nullable: bool = True) -> sa.Column[int]:
    """Return a column that points to another table's row, which then cannot be removed."""
    name = op.f(f"fk_{table}_{column}_{target}")
    key = sa.ForeignKey(f"{target}.id", name=name, ondelete="RESTRICT")
    return sa.Column(column, sa.Integer(), key, nullable=nullable)


def upgrade() -> None:
    """Make the tables."""
    table = "staff_password"
    op.create_table(
        table,
        link(table, "staff_id", "staff", nullable=False),
        sa.Column("hash", sa.String()),
        sa.Column("set_at", sa.DateTime()),
        link(table, "set_by_id", "staff"),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("wait_until", sa.DateTime()),
        sa.Column("asked_at", sa.DateTime()),
        link(table, "asked_by_id", "staff"),
        sa.Column("code_digest", sa.String()),
        sa.Column("code_until", sa.DateTime()),
        link(table, "code_by_id", "staff"),
        sa.PrimaryKeyConstraint("staff_id", name=op.f(f"pk_{table}")),
    )
    table = "staff_account"
    op.create_table(
        table,
        link(table, "staff_id", "staff", nullable=False),
        sa.Column("account", sa.String(), nullable=False),
        sa.Column("bound_at", sa.DateTime(), nullable=False),
        link(table, "bound_by_id", "staff", nullable=False),
        sa.PrimaryKeyConstraint("staff_id", name=op.f(f"pk_{table}")),
    )
    table = "signed_in"
    op.create_table(
        table,
        sa.Column("id", sa.Integer(), nullable=False),
        link(table, "staff_id", "staff", nullable=False),
        sa.Column("token_digest", sa.String(), nullable=False),
        sa.Column("began_at", sa.DateTime(), nullable=False),
        sa.Column("seen_at", sa.DateTime(), nullable=False),
        sa.Column("ended_at", sa.DateTime()),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        sa.UniqueConstraint("token_digest", name=op.f(f"uq_{table}_token_digest")),
    )
    table = "looked"
    op.create_table(
        table,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        link(table, "by_id", "staff", nullable=False),
        link(table, "person_id", "person", nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
    )
    op.create_index(op.f("ix_looked_person_id_at"), table, ["person_id", "at"])


def downgrade() -> None:
    """Drop them."""
    op.drop_index(op.f("ix_looked_person_id_at"), "looked")
    for table in ("looked", "signed_in", "staff_account", "staff_password"):
        op.drop_table(table)
