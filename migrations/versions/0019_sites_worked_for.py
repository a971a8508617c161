"""For which sites of a practice somebody works; until it is said, for their own."""

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; nothing is said of anybody yet."""
    column = sa.Column("sites", sa.String(), nullable=False, server_default="")
    with op.batch_alter_table("staff") as batch:
        batch.add_column(column)
    with op.batch_alter_table("staff") as batch:
        batch.alter_column("sites", server_default=None)


def downgrade() -> None:
    """Drop it."""
    with op.batch_alter_table("staff") as batch:
        batch.drop_column("sites")
