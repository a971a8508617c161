"""Roles instead of one flag, what somebody signs with, and sites of staff and people."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

ROLES = """"role" IN ('reception', 'practitioner', 'clinical_lead', 'manager', 'jobs')"""
staff = sa.table(
    "staff",
    sa.column("id", sa.Integer),
    sa.column("role", sa.Text),
    sa.column("title", sa.Text),
    sa.column("may_decide", sa.Boolean),
    sa.column("is_job", sa.Boolean),
)
KNOWN = {"reception", "practitioner", "clinical_lead", "manager"}


def role_of(row: sa.Row) -> str:
    """Return the role that gives somebody what the flag gave."""
    if row.is_job:
        return "jobs"
    if row.may_decide:
        return "manager" if row.role == "manager" else "practitioner"
    return "manager" if row.role == "manager" else "reception"


def upgrade() -> None:
    """Add the columns, turn each free role into one of the table, and drop the flag."""
    for table, names in {"staff": ("title", "registration", "site"), "person": ("site",)}.items():
        with op.batch_alter_table(table) as batch:
            for name in names:
                batch.add_column(sa.Column(name, sa.String(), nullable=False, server_default=""))
    bind = op.get_bind()
    everybody = bind.execute(sa.select(staff).order_by(staff.c.id)).all()
    deciding = [row for row in everybody if row.may_decide and not row.is_job]
    clinical = [row for row in deciding if role_of(row) == "practitioner"]
    # Somebody must be able to decide: where only a manager could, they go on doing so.
    lead = next(iter(clinical or deciding), None)
    for row in everybody:
        role = "clinical_lead" if row is lead else role_of(row)
        title = "" if row.role in KNOWN or row.is_job else row.role
        bind.execute(staff.update().where(staff.c.id == row.id).values(role=role, title=title))
    with op.batch_alter_table("staff") as batch:
        batch.drop_column("may_decide")
        batch.create_check_constraint(op.f("ck_staff_role"), ROLES)
        for name in ("title", "registration", "site"):
            batch.alter_column(name, server_default=None)
    with op.batch_alter_table("person") as batch:
        batch.alter_column("site", server_default=None)


def downgrade() -> None:
    """Bring the flag back from the roles; a title is the role again."""
    with op.batch_alter_table("staff") as batch:
        batch.drop_constraint(op.f("ck_staff_role"), type_="check")
        batch.add_column(
            sa.Column("may_decide", sa.Boolean(), nullable=False, server_default=sa.false())
        )
    bind = op.get_bind()
    deciding = staff.c.role.in_(("practitioner", "clinical_lead", "manager"))
    bind.execute(staff.update().where(deciding).values(may_decide=True))
    bind.execute(staff.update().where(staff.c.title != "").values(role=staff.c.title))
    with op.batch_alter_table("staff") as batch:
        batch.alter_column("may_decide", server_default=None)
        for name in ("title", "registration", "site"):
            batch.drop_column(name)
    with op.batch_alter_table("person") as batch:
        batch.drop_column("site")
