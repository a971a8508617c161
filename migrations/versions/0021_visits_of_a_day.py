"""Who was seen on a day is found by the day, whatever was taken in since."""

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None
_STANDS = "void_at IS NULL"


def upgrade() -> None:
    """Make the index over the visits that stand."""
    where = sa.text(_STANDS)
    op.create_index(
        "ix_visit_on_standing", "visit", ["on"], sqlite_where=where, postgresql_where=where
    )


def downgrade() -> None:
    """Drop it."""
    op.drop_index("ix_visit_on_standing", "visit")
