"""What puts the calls in order is read from the indexes alone, and so is what else is open."""

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None
_TABLE = "follow_up"
_KNOWN = ("person_id", "void_at", "is_open")
"""What is asked of each row beside the order: with these no row is looked up."""
_NOW = {
    "ix_follow_up_queue": ("next_step_on", "urgency_rank", "latest", *_KNOWN),
    "ix_follow_up_step": ("step", "next_step_on", "latest", "urgency_rank", *_KNOWN),
    "ix_follow_up_of_one": ("person_id", "latest", "step", "void_at", "is_open"),
}
_BEFORE = {
    "ix_follow_up_queue": ("next_step_on", "urgency_rank", "latest", "id"),
    "ix_follow_up_step": ("step", "next_step_on", "id"),
}


def upgrade() -> None:
    """Let the indexes hold all that the order of the calls asks for."""
    _replace(_BEFORE, _NOW)


def downgrade() -> None:
    """Let them hold the order alone."""
    _replace(_NOW, _BEFORE)


def _replace(old: dict[str, tuple[str, ...]], new: dict[str, tuple[str, ...]]) -> None:
    on_sqlite = op.get_bind().dialect.name == "sqlite"
    where = sa.text("is_open = 1" if on_sqlite else "is_open")
    for name in old:
        op.drop_index(name, _TABLE)
    for name, columns in new.items():
        op.create_index(name, _TABLE, [*columns], sqlite_where=where, postgresql_where=where)
