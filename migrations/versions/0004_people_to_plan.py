"""The people whose plan has to be worked out again: the restartable phase after an import."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the list of people to plan."""
    name = op.f("fk_to_plan_person_id_person")
    key = sa.ForeignKey("person.id", name=name, ondelete="RESTRICT")
    op.create_table(
        "to_plan",
        sa.Column("person_id", sa.Integer(), key, nullable=False),
        sa.PrimaryKeyConstraint("person_id", name=op.f("pk_to_plan")),
    )


def downgrade() -> None:
    """Remove the list."""
    op.drop_table("to_plan")
