"""What somebody with an appointment said about coming earlier, if a time falls free."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; nobody was asked so far."""
    with op.batch_alter_table("booking") as batch:
        batch.add_column(sa.Column("earlier", sa.String(), nullable=False, server_default=""))
    with op.batch_alter_table("booking") as batch:
        batch.alter_column("earlier", server_default=None)


def downgrade() -> None:
    """Drop it."""
    with op.batch_alter_table("booking") as batch:
        batch.drop_column("earlier")
