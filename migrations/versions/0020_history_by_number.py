"""The history is kept by number alone: no index over its digests, which lie at random in it.

Each digest covers its line's number and the digest before it, so that no two can be alike, and
the chain is gone through by number. The index cost every line a page anywhere in the file.
"""

from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None
_NAME = "uq_history_digest"


def upgrade() -> None:
    """Drop the constraint, and its index with it."""
    with op.batch_alter_table("history") as batch:
        batch.drop_constraint(_NAME, type_="unique")


def downgrade() -> None:
    """Make it again."""
    with op.batch_alter_table("history") as batch:
        batch.create_unique_constraint(_NAME, ["digest"])
