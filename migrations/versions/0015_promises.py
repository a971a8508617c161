"""The hour that was agreed for a call, the best time to ring a number, and numbers by value."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

INDEX = "ix_contact_point_value"


def upgrade() -> None:
    """Add the columns and the index."""
    with op.batch_alter_table("contact") as contact:
        contact.add_column(sa.Column("until_at", sa.String()))
    with op.batch_alter_table("contact_point") as point:
        point.add_column(sa.Column("best_time", sa.String(), nullable=False, server_default=""))
    with op.batch_alter_table("contact_point") as point:
        point.alter_column("best_time", server_default=None)
    op.create_index(INDEX, "contact_point", ["value"])


def downgrade() -> None:
    """Drop them."""
    op.drop_index(INDEX, "contact_point")
    with op.batch_alter_table("contact_point") as point:
        point.drop_column("best_time")
    with op.batch_alter_table("contact") as contact:
        contact.drop_column("until_at")
