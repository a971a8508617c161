"""Matters: what somebody sees to that is no recall; the incidents that nothing wrote make room."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

TABLE = "matter"
WHOLE = "(void_at IS NULL) = (void_by_id IS NULL) AND (void_at IS NULL) = (void_why IS NULL)"
CLOSED = (
    "is_open = (closed_on IS NULL) AND (closed_on IS NULL) = (closed_by_id IS NULL) "
    "AND (closed_on IS NULL) = (closed_how IS NULL)"
)
OWNERS = "'reception', 'practitioner', 'clinical_lead', 'manager'"
KINDS = "'interpreter', 'complaint', 'incident', 'message', 'errand'"
CLOSES = (
    "'booked', 'none_to_be_had', 'not_needed', 'answered', 'settled', 'withdrawn', 'passed_on', "
    "'looked_into', 'tell_them', 'done'"
)


def link(table: str, column: str, target: str, nullable: bool = True) -> sa.Column[int]:
    """Return a column that points to another table's row, which then cannot be removed."""
    name = op.f(f"fk_{table}_{column}_{target}")
    key = sa.ForeignKey(f"{target}.id", name=name, ondelete="RESTRICT")
    return sa.Column(column, sa.Integer(), key, nullable=nullable)


def check(table: str, condition: str, name: str) -> sa.CheckConstraint:
    """Return a named condition of a table."""
    return sa.CheckConstraint(condition, name=op.f(f"ck_{table}_{name}"))


def facts(table: str) -> list[sa.Column[object]]:
    """Return the columns that every table of facts has, each time anew."""
    return [
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("void_at", sa.DateTime()),
        sa.Column("void_why", sa.String()),
        link(table, "void_by_id", "staff"),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        link(table, "by_id", "staff", nullable=False),
    ]


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        TABLE,
        sa.Column("id", sa.Integer(), nullable=False),
        link(TABLE, "person_id", "person"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        link(TABLE, "owner_id", "staff"),
        sa.Column("owner_role", sa.String()),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("is_open", sa.Boolean(), nullable=False),
        sa.Column("closed_on", sa.Date()),
        sa.Column("closed_at", sa.DateTime()),
        link(TABLE, "closed_by_id", "staff"),
        sa.Column("closed_how", sa.String()),
        sa.Column("closed_text", sa.String(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        *facts(TABLE),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{TABLE}")),
        check(TABLE, f'"kind" IN ({KINDS})', "kind"),
        check(TABLE, f'"owner_role" IN ({OWNERS})', "owner_role"),
        check(TABLE, f'"closed_how" IN ({CLOSES})', "closed_how"),
        check(TABLE, "(owner_id IS NULL) <> (owner_role IS NULL)", "one_owner"),
        check(TABLE, CLOSED, "close_is_whole"),
        check(TABLE, WHOLE, "void_is_whole"),
    )
    op.create_index(op.f("ix_matter_person_id"), TABLE, ["person_id"])
    is_open = sa.text("is_open = 1")
    op.create_index(
        "ix_matter_open",
        TABLE,
        ["due_on", "id"],
        sqlite_where=is_open,
        postgresql_where=sa.text("is_open"),
    )
    op.drop_table("incident")


def downgrade() -> None:
    """Drop it, and make the table of incidents again."""
    table = "incident"
    op.create_table(
        table,
        sa.Column("id", sa.Integer(), nullable=False),
        link(table, "person_id", "person"),
        link(table, "run_id", "failsafe_run"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("says", sa.String(), nullable=False),
        sa.Column("closed_on", sa.Date()),
        link(table, "closed_by_id", "staff"),
        sa.Column("closed_why", sa.String()),
        *facts(table),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        check(table, WHOLE, "void_is_whole"),
    )
    op.create_index(op.f("ix_incident_person_id"), table, ["person_id"])
    op.drop_table(TABLE)
