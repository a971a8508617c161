"""An answer to pass on and a visit to type are matters of a kind of their own."""

from datetime import date

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None

TABLE = "matter"
OLD_KINDS = ("interpreter", "complaint", "incident", "message", "errand")
NEW_KINDS = (*OLD_KINDS, "answer", "untyped_visit")
OLD_CLOSES = (
    *("booked", "none_to_be_had", "not_needed", "answered", "settled", "withdrawn", "passed_on"),
    *("looked_into", "tell_them", "done"),
)
NEW_CLOSES = (*OLD_CLOSES, "none_to_type")
TELLS, TYPES = "Tell them: ", "Type the visit of "
"""How the errands began that were these."""
MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July", "August", "September"),
    *("October", "November", "December"),
)
MATTER = sa.table(
    TABLE,
    sa.column("id", sa.Integer),
    sa.column("kind", sa.String),
    sa.column("text", sa.String),
    sa.column("closed_how", sa.String),
    sa.column("visit_on", sa.Date),
)


def upgrade() -> None:
    """Let both be written, and say of what stands which it is."""
    with op.batch_alter_table(TABLE) as batch:
        batch.add_column(sa.Column("visit_on", sa.Date()))
    allow("kind", NEW_KINDS)
    allow("closed_how", NEW_CLOSES)
    errands = sa.select(MATTER.c.id, MATTER.c.text).where(MATTER.c.kind == "errand")
    for number, text in op.get_bind().execute(errands).all():
        if text.startswith(TELLS):
            rename(number, kind="answer", text=text.removeprefix(TELLS))
        elif text.startswith(TYPES) and (day := day_in(text.removeprefix(TYPES))):
            rename(number, kind="untyped_visit", visit_on=day)


def downgrade() -> None:
    """Make errands of them again."""
    c = MATTER.c
    for new, was in (("answer", {"text": TELLS + c.text}), ("untyped_visit", {})):
        op.execute(MATTER.update().where(c.kind == new).values(kind="errand", **was))
    none_typed = MATTER.update().where(c.closed_how == "none_to_type")
    op.execute(none_typed.values(closed_how="not_needed"))
    allow("kind", OLD_KINDS)
    allow("closed_how", OLD_CLOSES)
    with op.batch_alter_table(TABLE) as batch:
        batch.drop_column("visit_on")


def rename(number: int, **values: object) -> None:
    """Say of an errand what it is."""
    op.execute(MATTER.update().where(MATTER.c.id == number).values(**values))


def day_in(words: str) -> date | None:
    """Return the day with which some words begin; None where it is no day."""
    day, month, year = (*words.partition(":")[0].split(), "", "", "")[:3]
    if not (day.isdecimal() and year.isdecimal() and month in MONTHS):
        return None
    return date(int(year), MONTHS.index(month) + 1, int(day))


def allow(column: str, words: tuple[str, ...]) -> None:
    """Let a column hold only these words."""
    listed, name = ", ".join(f"'{word}'" for word in words), op.f(f"ck_{TABLE}_{column}")
    with op.batch_alter_table(TABLE) as batch:
        batch.drop_constraint(name, type_="check")
    with op.batch_alter_table(TABLE) as batch:
        batch.create_check_constraint(name, f'"{column}" IN ({listed})')
