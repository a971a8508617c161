"""How many appointments the practice's own diary has for a day; an index of promised hours."""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None

TABLE = "diary_count"


def staff(column: str, nullable: bool) -> sa.Column[int]:
    """Return a column that points to a member of staff, whose row then cannot be removed."""
    name = op.f(f"fk_{TABLE}_{column}_staff")
    key = sa.ForeignKey("staff.id", name=name, ondelete="RESTRICT")
    return sa.Column(column, sa.Integer(), key, nullable=nullable)


def upgrade() -> None:
    """Make the table and the two indexes."""
    op.create_index(op.f("ix_contact_until_at"), "contact", ["until_at"])
    op.create_index(op.f("ix_also_about_contact_id"), "also_about", ["contact_id"])
    op.create_table(
        TABLE,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("appointments", sa.Integer(), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("void_at", sa.DateTime()),
        sa.Column("void_why", sa.String()),
        staff("void_by_id", nullable=True),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        sa.Column("recorded_no", sa.Integer(), nullable=False, server_default=sa.text("0")),
        staff("by_id", nullable=False),
        sa.CheckConstraint("appointments >= 0", name=op.f(f"ck_{TABLE}_not_negative")),
        sa.CheckConstraint(
            "(void_at IS NULL) = (void_by_id IS NULL) AND (void_at IS NULL) = (void_why IS NULL)",
            name=op.f(f"ck_{TABLE}_void_is_whole"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{TABLE}")),
    )
    op.create_index(op.f(f"ix_{TABLE}_on"), TABLE, ["on"])


def downgrade() -> None:
    """Drop them."""
    op.drop_index(op.f("ix_also_about_contact_id"), "also_about")
    op.drop_index(op.f("ix_contact_until_at"), "contact")
    op.drop_index(op.f(f"ix_{TABLE}_on"), TABLE)
    op.drop_table(TABLE)
