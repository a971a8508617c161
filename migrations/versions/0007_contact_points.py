"""Numbers and addresses are contact points: the table, what links to it, and file digests.

The history is not touched: its lines are chained, so that the old name stays in the old ones,
and whoever reads them takes one name for the other. After a step back, lines written meanwhile
keep the new name.
"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

OLD, NEW = "reach", "contact_point"
LINKED = ("letter", "contact")
seen = sa.table("import_seen", sa.column("fields", sa.Text))


def upgrade() -> None:
    """Give the table, its links and the digests' prefix the new name."""
    rename(OLD, NEW)


def downgrade() -> None:
    """Give them the old one."""
    rename(NEW, OLD)


def rename(was: str, now: str) -> None:
    """Make the table anew, for its constraints carry its name; then move what points to it."""
    new = made(now)
    columns = [column.name for column in new.columns]
    old = sa.table(was, *map(sa.column, columns))
    op.execute(sa.insert(new).from_select(columns, sa.select(*old.c)))
    for table in LINKED:
        with op.batch_alter_table(table) as batch:
            batch.drop_constraint(op.f(f"fk_{table}_{was}_id_{was}"), type_="foreignkey")
            batch.alter_column(f"{was}_id", new_column_name=f"{now}_id")
        with op.batch_alter_table(table) as batch:  # one batch would miss the new name
            batch.create_foreign_key(
                op.f(f"fk_{table}_{now}_id_{now}"), now, [f"{now}_id"], ["id"], ondelete="RESTRICT"
            )
    op.drop_table(was)
    op.create_index(op.f(f"ix_{now}_person_id"), now, ["person_id"])
    # An item of a file is known by its table and a digest; the digests hold no quote.
    renamed = sa.func.replace(seen.c.fields, f'"{was}/', f'"{now}/')
    op.execute(seen.update().values(fields=renamed))


def made(name: str) -> sa.Table:
    """Make the table of contact points under a name."""

    def link(column: str, target: str, *, nullable: bool = True) -> sa.Column:
        key = sa.ForeignKey(
            f"{target}.id", name=op.f(f"fk_{name}_{column}_{target}"), ondelete="RESTRICT"
        )
        return sa.Column(column, sa.Integer(), key, nullable=nullable)

    def check(of: str, holds: str) -> sa.CheckConstraint:
        return sa.CheckConstraint(holds, name=op.f(f"ck_{name}_{of}"))

    return op.create_table(
        name,
        sa.Column("id", sa.Integer(), nullable=False),
        link("person_id", "person", nullable=False),
        link("adult_id", "adult_for"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("rank", sa.Integer(), nullable=False),
        sa.Column("raw", sa.String(), nullable=False),
        sa.Column("value", sa.String()),
        sa.Column("postcode", sa.String()),
        sa.Column("problem", sa.String()),
        sa.Column("safe", sa.String(), nullable=False),
        sa.Column("checked_on", sa.Date()),
        sa.Column("until", sa.Date()),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        link("by_id", "staff", nullable=False),
        sa.Column("void_at", sa.DateTime()),
        link("void_by_id", "staff"),
        sa.Column("void_why", sa.String()),
        check("kind", """"kind" IN ('phone', 'address', 'email')"""),
        check("safe", """"safe" IN ('yes', 'only_this', 'no')"""),
        check("value_or_problem", "value IS NOT NULL OR problem IS NOT NULL"),
        check(
            "void_is_whole",
            "(void_at IS NULL) = (void_by_id IS NULL) AND (void_at IS NULL) = (void_why IS NULL)",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{name}")),
    )
