"""A pharmacy and an ear-care service may be what somebody is referred to."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

OLD = ("ent", "emergency", "stroke", "audiology", "paediatric_audiology", "gp", "dentist")
NEW = (*OLD, "pharmacy", "ear_care")
TABLES = ("decision", "referral")
NEAREST = {"pharmacy": "gp", "ear_care": "ent"}
"""Who does the same, for a program that does not know the new ones."""


def upgrade() -> None:
    """Let both be written."""
    allow(NEW)


def downgrade() -> None:
    """Name the nearest service of the old ones, and refuse the new."""
    for name in TABLES:
        table = sa.table(name, sa.column("to", sa.String))
        for new, old in NEAREST.items():
            op.execute(table.update().where(table.c.to == new).values(to=old))
    allow(OLD)


def allow(services: tuple[str, ...]) -> None:
    """Let only these services be written."""
    listed = ", ".join(f"'{service}'" for service in services)
    for table in TABLES:
        name = op.f(f"ck_{table}_to")
        with op.batch_alter_table(table) as batch:
            batch.drop_constraint(name, type_="check")
        with op.batch_alter_table(table) as batch:
            batch.create_check_constraint(name, f'"to" IN ({listed})')
