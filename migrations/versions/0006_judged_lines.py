"""Lines of the plan that are struck out or weighed anew: rule, until and reason of a decision."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

REASONS = [
    "answered",
    "resolved",
    "superseded",
    "informed_decline",
    "died",
    "transferred",
    "handed_back",
    "clinician_decision",
    "entered_in_error",
]
ACTIONS = ["close", "move", "ask"]
BECAUSE = ["known_elsewhere", "declines", "explained", "judgement"]
REASONED = {"decision": "reason", "due_event": "reason", "follow_up": "close_reason"}
STRUCK = "action <> 'strike' OR (because IS NOT NULL AND rule <> '')"


def one_of(column: str, words: list[str]) -> str:
    """Return the condition that a column holds one of some words."""
    listed = ", ".join(f"'{word}'" for word in words)
    return f'"{column}" IN ({listed})'


def reasons(words: list[str]) -> None:
    """Let the columns of reasons hold these words."""
    for table, column in REASONED.items():
        with op.batch_alter_table(table) as batch:
            batch.drop_constraint(op.f(f"ck_{table}_{column}"), type_="check")
            batch.create_check_constraint(op.f(f"ck_{table}_{column}"), one_of(column, words))


def upgrade() -> None:
    """Add the columns and the words."""
    with op.batch_alter_table("decision") as batch:
        batch.add_column(sa.Column("rule", sa.String(), nullable=False, server_default=""))
        batch.add_column(sa.Column("until", sa.Date()))
        batch.add_column(sa.Column("because", sa.String()))
    with op.batch_alter_table("decision") as batch:
        batch.alter_column("rule", server_default=None)
        batch.drop_constraint(op.f("ck_decision_action"), type_="check")
        batch.create_check_constraint(
            op.f("ck_decision_action"), one_of("action", [*ACTIONS, "strike", "weigh"])
        )
        batch.create_check_constraint(op.f("ck_decision_because"), one_of("because", BECAUSE))
        batch.create_check_constraint(op.f("ck_decision_struck_for_a_reason"), STRUCK)
    reasons([*REASONS, "struck_out"])


def downgrade() -> None:
    """Drop them again; a struck line is a clinician's decision then."""
    bind = op.get_bind()
    for table, column in REASONED.items():
        rows = sa.table(table, sa.column(column, sa.String))
        struck = rows.c[column] == "struck_out"
        bind.execute(rows.update().where(struck).values({column: "clinician_decision"}))
    decision = sa.table("decision", sa.column("action", sa.String))
    bind.execute(
        decision.update().where(decision.c.action.in_(("strike", "weigh"))).values(action="close")
    )
    reasons(REASONS)
    with op.batch_alter_table("decision") as batch:
        batch.drop_constraint(op.f("ck_decision_struck_for_a_reason"), type_="check")
        batch.drop_constraint(op.f("ck_decision_because"), type_="check")
        batch.drop_constraint(op.f("ck_decision_action"), type_="check")
        batch.create_check_constraint(op.f("ck_decision_action"), one_of("action", ACTIONS))
        for name in ("rule", "until", "because"):
            batch.drop_column(name)
