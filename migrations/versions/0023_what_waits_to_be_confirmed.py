"""What waits to be confirmed is found by that alone, not among all visits that stand."""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None
_NAME, _TABLE = "ix_visit_unconfirmed", "visit"
_WHERE = "confirmed_at IS NULL AND void_at IS NULL"


def upgrade() -> None:
    """Let the index begin with what is asked for, so that it is the one that is chosen."""
    _make("confirmed_at", "on", "id")


def downgrade() -> None:
    """Order it by the day again."""
    _make("on", "id")


def _make(*columns: str) -> None:
    where = sa.text(_WHERE)
    op.drop_index(_NAME, _TABLE)
    op.create_index(_NAME, _TABLE, [*columns], sqlite_where=where, postgresql_where=where)
