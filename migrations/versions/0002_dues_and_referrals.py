"""Tables of dues, follow-ups, referrals and bookings."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

EARS = ["right", "left"]
TRACKS = [
    "wax",
    "fluid",
    "retraction",
    "perforation",
    "canal_skin",
    "grommet",
    "cavity",
    "hearing",
    "drum",
    "view",
    "surveillance",
]
URGENCIES = ["emergency", "urgent", "high", "medium", "low"]
SERVICES = ["ent", "emergency", "stroke", "audiology", "paediatric_audiology", "gp", "dentist"]
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
        "decision",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("decision", "person_id", "person", nullable=False),
        sa.Column("ear", sa.String(), nullable=False),
        sa.Column("track", sa.String()),
        sa.Column("to", sa.String()),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("asked_on", sa.Date()),
        sa.Column("action", sa.String(), nullable=False),
        sa.Column("category", sa.String()),
        sa.Column("urgency", sa.String()),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("earliest", sa.Date()),
        sa.Column("target", sa.Date()),
        sa.Column("latest", sa.Date()),
        sa.Column("why", sa.String(), nullable=False),
        *_fact("decision"),
        _one_of("decision", "action", ["close", "move", "ask"]),
        _one_of("decision", "ear", EARS),
        _one_of("decision", "kind", ["recheck", "retry", "loop"]),
        sa.CheckConstraint(
            "action <> 'move' OR COALESCE(earliest <= target AND target <= latest, false)",
            name=op.f("ck_decision_moved_to_a_window"),
        ),
        _one_of("decision", "reason", REASONS),
        _one_of("decision", "to", SERVICES),
        _one_of("decision", "track", TRACKS),
        _one_of("decision", "urgency", URGENCIES),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decision")),
    )
    op.create_index(op.f("ix_decision_person_id"), "decision", ["person_id"])

    op.create_table(
        "due",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("due", "person_id", "person", nullable=False),
        sa.Column("ear", sa.String(), nullable=False),
        sa.Column("track", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("category", sa.String(), nullable=False),
        sa.Column("rule", sa.String(), nullable=False),
        sa.Column("rule_version", sa.Integer(), nullable=False),
        sa.Column("earliest", sa.Date(), nullable=False),
        sa.Column("target", sa.Date(), nullable=False),
        sa.Column("latest", sa.Date(), nullable=False),
        sa.Column("urgency", sa.String(), nullable=False),
        sa.Column("do", sa.Text(), nullable=False),
        sa.Column("says", sa.String(), nullable=False),
        sa.Column("says_aloud", sa.String(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("known_by", sa.String(), nullable=False),
        sa.Column("needs", sa.Text(), nullable=False),
        sa.Column("beaten", sa.Text(), nullable=False),
        sa.Column("cycle", sa.String(), nullable=False),
        sa.Column("asked_on", sa.Date(), nullable=False),
        _link("due", "visit_id", "visit"),
        _link("due", "protocol_id", "protocol"),
        sa.Column("is_open", sa.Boolean(), nullable=False),
        *_fact("due"),
        _one_of("due", "ear", EARS),
        _one_of("due", "kind", ["recheck", "retry", "loop"]),
        _one_of("due", "track", TRACKS),
        _one_of("due", "urgency", URGENCIES),
        sa.CheckConstraint("earliest <= target AND target <= latest", name=op.f("ck_due_window")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_due")),
    )
    op.create_index(op.f("ix_due_person_id"), "due", ["person_id"])

    op.create_table(
        "due_event",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("due_event", "due_id", "due", nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("reason", sa.String()),
        _link("due_event", "visit_id", "visit"),
        _link("due_event", "decision_id", "decision"),
        sa.Column("why", sa.String(), nullable=False),
        *_fact("due_event"),
        sa.CheckConstraint(
            "what <> 'closed' OR reason IS NOT NULL", name=op.f("ck_due_event_closed_has_reason")
        ),
        _one_of("due_event", "reason", REASONS),
        _one_of("due_event", "what", ["closed", "reopened"]),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_due_event")),
    )
    op.create_index(op.f("ix_due_event_due_id"), "due_event", ["due_id"])

    op.create_table(
        "proposal",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("proposal", "person_id", "person", nullable=False),
        _link("proposal", "due_id", "due", nullable=False),
        _link("proposal", "protocol_id", "protocol", nullable=False),
        sa.Column("earliest", sa.Date(), nullable=False),
        sa.Column("target", sa.Date(), nullable=False),
        sa.Column("latest", sa.Date(), nullable=False),
        sa.Column("answer", sa.String()),
        sa.Column("answered_at", sa.DateTime()),
        _link("proposal", "answered_by_id", "staff"),
        sa.Column("why", sa.String(), nullable=False),
        *_fact("proposal"),
        _one_of("proposal", "answer", ["brought_forward", "left"]),
        sa.CheckConstraint(
            "earliest <= target AND target <= latest", name=op.f("ck_proposal_window")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_proposal")),
    )
    op.create_index(op.f("ix_proposal_person_id"), "proposal", ["person_id"])

    op.create_table(
        "follow_up",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("follow_up", "person_id", "person", nullable=False),
        sa.Column("earliest", sa.Date(), nullable=False),
        sa.Column("target", sa.Date(), nullable=False),
        sa.Column("latest", sa.Date(), nullable=False),
        sa.Column("urgency", sa.String(), nullable=False),
        sa.Column("urgency_rank", sa.Integer(), nullable=False),
        sa.Column("tracks", sa.Text(), nullable=False),
        sa.Column("ears", sa.Text(), nullable=False),
        sa.Column("do", sa.Text(), nullable=False),
        sa.Column("reasons", sa.Text(), nullable=False),
        sa.Column("is_open", sa.Boolean(), nullable=False),
        sa.Column("step", sa.String(), nullable=False),
        sa.Column("step_no", sa.Integer(), nullable=False),
        sa.Column("round", sa.Integer(), nullable=False),
        sa.Column("next_step_on", sa.Date()),
        sa.Column("offer_on", sa.Date()),
        _link("follow_up", "claim_by_id", "staff"),
        sa.Column("claim_until", sa.DateTime()),
        sa.Column("closed_on", sa.Date()),
        sa.Column("close_reason", sa.String()),
        sa.Column("version", sa.Integer(), nullable=False),
        *_fact("follow_up"),
        _one_of("follow_up", "close_reason", REASONS),
        sa.CheckConstraint(
            "is_open OR close_reason IS NOT NULL", name=op.f("ck_follow_up_closed_has_reason")
        ),
        sa.CheckConstraint(
            "NOT is_open OR next_step_on IS NOT NULL", name=op.f("ck_follow_up_open_has_next_step")
        ),
        _one_of("follow_up", "urgency", URGENCIES),
        sa.CheckConstraint(
            "earliest <= target AND target <= latest", name=op.f("ck_follow_up_window")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_follow_up")),
    )
    op.create_index(
        op.f("ix_follow_up_late"),
        "follow_up",
        ["latest", "urgency_rank", "id"],
        sqlite_where=sa.text("is_open = 1"),
        postgresql_where=sa.text("is_open"),
    )
    op.create_index(op.f("ix_follow_up_person_id"), "follow_up", ["person_id"])
    op.create_index(
        op.f("ix_follow_up_queue"),
        "follow_up",
        ["next_step_on", "urgency_rank", "latest", "id"],
        sqlite_where=sa.text("is_open = 1"),
        postgresql_where=sa.text("is_open"),
    )
    op.create_index(
        op.f("ix_follow_up_step"),
        "follow_up",
        ["step", "next_step_on", "id"],
        sqlite_where=sa.text("is_open = 1"),
        postgresql_where=sa.text("is_open"),
    )

    op.create_table(
        "follow_up_due",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("follow_up_due", "follow_up_id", "follow_up", nullable=False),
        _link("follow_up_due", "due_id", "due", nullable=False),
        sa.Column("left_at", sa.DateTime()),
        *_recorded("follow_up_due"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_follow_up_due")),
    )
    op.create_index(op.f("ix_follow_up_due_follow_up_id"), "follow_up_due", ["follow_up_id"])
    op.create_index(
        op.f("ix_follow_up_due_standing"),
        "follow_up_due",
        ["due_id"],
        unique=True,
        sqlite_where=sa.text("left_at IS NULL"),
        postgresql_where=sa.text("left_at IS NULL"),
    )

    op.create_table(
        "follow_up_event",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("follow_up_event", "follow_up_id", "follow_up", nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("until", sa.Date()),
        sa.Column("why", sa.String(), nullable=False),
        *_fact("follow_up_event"),
        sa.CheckConstraint(
            "what <> 'held' OR until IS NOT NULL", name=op.f("ck_follow_up_event_held_until_a_day")
        ),
        _one_of(
            "follow_up_event",
            "what",
            ["looked", "address_checked", "gp_told", "held", "carry_on", "keep_trying"],
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_follow_up_event")),
    )
    op.create_index(op.f("ix_follow_up_event_follow_up_id"), "follow_up_event", ["follow_up_id"])

    op.create_table(
        "referral",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("referral", "person_id", "person", nullable=False),
        sa.Column("to", sa.String(), nullable=False),
        sa.Column("ears", sa.Text(), nullable=False),
        sa.Column("urgency", sa.String(), nullable=False),
        sa.Column("urgency_rank", sa.Integer(), nullable=False),
        sa.Column("within_days", sa.Integer(), nullable=False),
        sa.Column("sent_by", sa.Date(), nullable=False),
        sa.Column("accepted_by", sa.Date(), nullable=False),
        sa.Column("seen_by", sa.Date(), nullable=False),
        sa.Column("result_by", sa.Date(), nullable=False),
        sa.Column("reasons", sa.String(), nullable=False),
        sa.Column("asked_on", sa.Date(), nullable=False),
        _link("referral", "visit_id", "visit"),
        _link("referral", "protocol_id", "protocol"),
        sa.Column("route", sa.String(), nullable=False),
        sa.Column("is_open", sa.Boolean(), nullable=False),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("chase_on", sa.Date()),
        sa.Column("ended_on", sa.Date()),
        sa.Column("end_reason", sa.String()),
        sa.Column("version", sa.Integer(), nullable=False),
        *_fact("referral"),
        sa.CheckConstraint(
            "is_open OR end_reason IS NOT NULL", name=op.f("ck_referral_ended_has_reason")
        ),
        sa.CheckConstraint(
            "NOT is_open OR chase_on IS NOT NULL", name=op.f("ck_referral_open_has_chase_day")
        ),
        _one_of("referral", "to", SERVICES),
        _one_of("referral", "urgency", URGENCIES),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_referral")),
    )
    op.create_index(
        op.f("ix_referral_chase"),
        "referral",
        ["chase_on", "urgency_rank", "id"],
        sqlite_where=sa.text("is_open = 1"),
        postgresql_where=sa.text("is_open"),
    )
    op.create_index(op.f("ix_referral_person_id"), "referral", ["person_id"])

    op.create_table(
        "referral_event",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("referral_event", "referral_id", "referral", nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("day", sa.Date()),
        sa.Column("spoke_with", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        _link("referral_event", "visit_id", "visit"),
        sa.Column("note", sa.String(), nullable=False),
        *_fact("referral_event"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_referral_event")),
    )
    op.create_index(op.f("ix_referral_event_referral_id"), "referral_event", ["referral_id"])

    op.create_table(
        "booking",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("booking", "person_id", "person", nullable=False),
        _link("booking", "follow_up_id", "follow_up"),
        sa.Column("ref", sa.String()),
        sa.Column("starts_local", sa.DateTime(), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        _link("booking", "staff_id", "staff"),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("late_why", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        *_fact("booking"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_booking")),
    )
    op.create_index(op.f("ix_booking_follow_up_id"), "booking", ["follow_up_id"])
    op.create_index(op.f("ix_booking_person_id"), "booking", ["person_id"])
    op.create_index(op.f("ix_booking_starts_local"), "booking", ["starts_local"])

    op.create_table(
        "booking_event",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("booking_event", "booking_id", "booking", nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        _link("booking_event", "visit_id", "visit"),
        sa.Column("why", sa.String(), nullable=False),
        *_fact("booking_event"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_booking_event")),
    )
    op.create_index(op.f("ix_booking_event_booking_id"), "booking_event", ["booking_id"])


def downgrade() -> None:
    for table in (
        "booking_event",
        "booking",
        "referral_event",
        "referral",
        "follow_up_event",
        "follow_up_due",
        "follow_up",
        "proposal",
        "due_event",
        "due",
        "decision",
    ):
        op.drop_table(table)
