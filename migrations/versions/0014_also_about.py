"""Acts are per person: what else a contact, an appointment or a letter was about.

What was recorded before stays about the one follow-up that it names: nobody's place in the
contact steps moves, and no letter is asked for again.
"""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

TABLE = "also_about"
WHOLE = "(void_at IS NULL) = (void_by_id IS NULL) AND (void_at IS NULL) = (void_why IS NULL)"
ACTS = ("contact", "booking", "letter")
ONE = " + ".join(f"CAST({act}_id IS NOT NULL AS INTEGER)" for act in ACTS) + " = 1"


def link(column: str, target: str, nullable: bool = True) -> sa.Column[int]:
    """Return a column that points to another table's row, which then cannot be removed."""
    name = op.f(f"fk_{TABLE}_{column}_{target}")
    key = sa.ForeignKey(f"{target}.id", name=name, ondelete="RESTRICT")
    return sa.Column(column, sa.Integer(), key, nullable=nullable)


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        TABLE,
        sa.Column("id", sa.Integer(), nullable=False),
        link("follow_up_id", "follow_up", nullable=False),
        *(link(f"{act}_id", act) for act in ACTS),
        sa.Column("round", sa.Integer(), nullable=False),
        sa.Column("step", sa.String(), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("void_at", sa.DateTime()),
        sa.Column("void_why", sa.String()),
        link("void_by_id", "staff"),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        link("by_id", "staff", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{TABLE}")),
        sa.CheckConstraint(ONE, name=op.f(f"ck_{TABLE}_one_act")),
        sa.CheckConstraint(WHOLE, name=op.f(f"ck_{TABLE}_void_is_whole")),
    )
    for column in ("follow_up_id", "booking_id", "letter_id"):
        op.create_index(op.f(f"ix_{TABLE}_{column}"), TABLE, [column])


def downgrade() -> None:
    """Drop it."""
    op.drop_table(TABLE)
