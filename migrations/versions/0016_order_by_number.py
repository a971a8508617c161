"""The history's number beside the instant, and a row that tells one register from another."""

import secrets

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

NUMBERED = (
    *("adult_for", "also_about", "batch", "booking", "booking_event", "contact", "contact_point"),
    *("decision", "due", "due_event", "failsafe_run", "follow_up", "follow_up_due"),
    *("follow_up_event", "import_run", "job_run", "letter", "loosened_line", "loss_treated"),
    *("matter", "milder_line", "person", "person_risk", "population", "proposal", "protocol"),
    *("referral", "referral_event", "told_by_others", "under_care", "visit"),
)


def upgrade() -> None:
    """Add the numbers, 0 for what is there, and the register's row."""
    for name in NUMBERED:
        number = sa.Column("recorded_no", sa.Integer(), nullable=False, server_default=sa.text("0"))
        op.add_column(name, number)
    op.create_table(
        "register",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("invented", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_register")),
    )
    register = sa.table(
        "register", sa.column("id"), sa.column("mark"), sa.column("invented", sa.Boolean())
    )
    row = {"id": 1, "mark": secrets.token_hex(8), "invented": False}
    op.bulk_insert(register, [row])


def downgrade() -> None:
    """Drop them."""
    op.drop_table("register")
    for name in NUMBERED:
        with op.batch_alter_table(name) as table:
            table.drop_column("recorded_no")
