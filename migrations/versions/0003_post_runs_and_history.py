"""Tables of the post, contacts, runs, the failsafe and the history of changes."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def _link(table: str, column: str, target: str, nullable: bool = True) -> sa.Column[int]:
    """Return a column that points to another table's row, which then cannot be removed."""
    name = op.f(f"fk_{table}_{column}_{target}")
    key = sa.ForeignKey(f"{target}.id", name=name, ondelete="RESTRICT")
    return sa.Column(column, sa.Integer(), key, nullable=nullable)


def _recorded(table: str) -> list[SchemaItem]:
    """Return the columns that say who recorded a row, and when."""
    return [
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        _link(table, "by_id", "staff", nullable=False),
    ]


def _fact(table: str) -> list[SchemaItem]:
    """Return what every fact table ends with: its day, its void, who and when."""
    whole = "(void_at IS NULL) = (void_by_id IS NULL) AND (void_at IS NULL) = (void_why IS NULL)"
    return [
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("void_at", sa.DateTime()),
        sa.Column("void_why", sa.String()),
        _link(table, "void_by_id", "staff"),
        *_recorded(table),
        sa.CheckConstraint(whole, name=op.f(f"ck_{table}_void_is_whole")),
    ]


def _one_of(table: str, column: str, words: list[str]) -> sa.CheckConstraint:
    """Return the constraint that lets a column hold only these words (or nothing)."""
    listed = ", ".join(f"'{word}'" for word in words)
    return sa.CheckConstraint(f'"{column}" IN ({listed})', name=op.f(f"ck_{table}_{column}"))


def upgrade() -> None:
    op.create_table(
        "batch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("week_on", sa.Date(), nullable=False),
        sa.Column("printed_at", sa.DateTime()),
        sa.Column("posted_on", sa.Date()),
        _link("batch", "posted_by_id", "staff"),
        sa.Column("text_digest", sa.String()),
        sa.Column("file_name", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        *_fact("batch"),
        sa.UniqueConstraint("number", name=op.f("uq_batch_number")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
    )

    op.create_table(
        "letter",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("letter", "person_id", "person", nullable=False),
        _link("letter", "follow_up_id", "follow_up"),
        _link("letter", "referral_id", "referral"),
        _link("letter", "batch_id", "batch"),
        sa.Column("round", sa.Integer(), nullable=False),
        sa.Column("step", sa.String(), nullable=False),
        sa.Column("home", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("format", sa.String(), nullable=False),
        _link("letter", "adult_id", "adult_for"),
        _link("letter", "reach_id", "reach"),
        sa.Column("to_name", sa.String(), nullable=False),
        sa.Column("to_lines", sa.Text(), nullable=False),
        sa.Column("body", sa.String(), nullable=False),
        sa.Column("fields", sa.String(), nullable=False),
        sa.Column("held_why", sa.String()),
        sa.Column("printed_at", sa.DateTime()),
        sa.Column("posted_on", sa.Date()),
        sa.Column("pulled_why", sa.String()),
        sa.Column("returned_on", sa.Date()),
        *_fact("letter"),
        sa.UniqueConstraint(
            "follow_up_id",
            "round",
            "step",
            "home",
            name=op.f("uq_letter_follow_up_id_round_step_home"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_letter")),
    )
    op.create_index(op.f("ix_letter_batch_id"), "letter", ["batch_id"])
    op.create_index(op.f("ix_letter_person_id"), "letter", ["person_id"])
    op.create_index(
        op.f("ix_letter_waiting"),
        "letter",
        ["on", "id"],
        sqlite_where=sa.text("batch_id IS NULL AND void_at IS NULL"),
        postgresql_where=sa.text("batch_id IS NULL AND void_at IS NULL"),
    )

    op.create_table(
        "contact",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("contact", "person_id", "person", nullable=False),
        _link("contact", "follow_up_id", "follow_up"),
        _link("contact", "referral_id", "referral"),
        _link("contact", "letter_id", "letter"),
        sa.Column("ref", sa.String()),
        sa.Column("round", sa.Integer(), nullable=False),
        sa.Column("step", sa.String(), nullable=False),
        sa.Column("step_no", sa.Integer(), nullable=False),
        sa.Column("channel", sa.String(), nullable=False),
        sa.Column("outcome", sa.String(), nullable=False),
        _link("contact", "adult_id", "adult_for"),
        _link("contact", "reach_id", "reach"),
        sa.Column("spoke_with", sa.String(), nullable=False),
        sa.Column("until", sa.Date()),
        sa.Column("by_them", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        *_fact("contact"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_contact")),
    )
    op.create_index(op.f("ix_contact_follow_up_id"), "contact", ["follow_up_id"])
    op.create_index(op.f("ix_contact_person_id"), "contact", ["person_id"])
    op.create_index(op.f("ix_contact_referral_id"), "contact", ["referral_id"])

    op.create_table(
        "job_run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job", sa.String(), nullable=False),
        sa.Column("for_day", sa.Date(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("started_at", sa.DateTime(), nullable=False),
        sa.Column("alive_at", sa.DateTime(), nullable=False),
        sa.Column("finished_at", sa.DateTime()),
        sa.Column("runner", sa.String(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("counts", sa.String(), nullable=False),
        sa.Column("error", sa.String(), nullable=False),
        *_recorded("job_run"),
        _one_of("job_run", "state", ["running", "done", "failed"]),
        sa.UniqueConstraint("job", "for_day", name=op.f("uq_job_run_job_for_day")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_run")),
    )

    op.create_table(
        "failsafe_run",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("failsafe_run", "job_run_id", "job_run"),
        sa.Column("people", sa.Integer(), nullable=False),
        sa.Column("found", sa.Integer(), nullable=False),
        *_fact("failsafe_run"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_failsafe_run")),
    )

    op.create_table(
        "failsafe_finding",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("failsafe_finding", "run_id", "failsafe_run", nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        _link("failsafe_finding", "person_id", "person"),
        sa.Column("entity", sa.String(), nullable=False),
        sa.Column("entity_id", sa.Integer(), nullable=False),
        sa.Column("since_on", sa.Date()),
        sa.Column("says", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_failsafe_finding")),
    )
    op.create_index(op.f("ix_failsafe_finding_person_id"), "failsafe_finding", ["person_id"])
    op.create_index(op.f("ix_failsafe_finding_run_id"), "failsafe_finding", ["run_id"])

    op.create_table(
        "incident",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("incident", "person_id", "person"),
        _link("incident", "run_id", "failsafe_run"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("says", sa.String(), nullable=False),
        sa.Column("closed_on", sa.Date()),
        _link("incident", "closed_by_id", "staff"),
        sa.Column("closed_why", sa.String()),
        *_fact("incident"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_incident")),
    )
    op.create_index(op.f("ix_incident_person_id"), "incident", ["person_id"])

    op.create_table(
        "history",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        _link("history", "by_id", "staff", nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("entity", sa.String(), nullable=False),
        sa.Column("entity_id", sa.Integer(), nullable=False),
        _link("history", "person_id", "person"),
        sa.Column("payload_digest", sa.String(), nullable=False),
        sa.Column("previous", sa.String(), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.UniqueConstraint("digest", name=op.f("uq_history_digest")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_history")),
    )
    op.create_index(op.f("ix_history_entity_entity_id"), "history", ["entity", "entity_id"])
    op.create_index(op.f("ix_history_person_id"), "history", ["person_id"])

    op.create_table(
        "history_payload",
        _link("history_payload", "history_id", "history", nullable=False),
        sa.Column("salt", sa.String()),
        sa.Column("content", sa.String()),
        sa.Column("erased_at", sa.DateTime()),
        _link("history_payload", "erased_by_id", "staff"),
        sa.Column("erased_why", sa.String()),
        sa.PrimaryKeyConstraint("history_id", name=op.f("pk_history_payload")),
    )

    op.create_table(
        "history_head",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_history_head")),
    )


def downgrade() -> None:
    for table in (
        "history_head",
        "history_payload",
        "history",
        "incident",
        "failsafe_finding",
        "failsafe_run",
        "job_run",
        "contact",
        "letter",
        "batch",
    ):
        op.drop_table(table)
