"""Tables of people and of what was seen."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

EARS = ["right", "left"]
CATEGORIES = [
    "fluid_recheck",
    "retraction_watch",
    "wax_routine",
    "wax_retry",
    "healing_check",
    "skin_check",
    "grommet_check",
    "cavity_care",
    "hearing_check",
    "view_retry",
    "refer",
    "come_back_if",
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
        "staff",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("handle", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("may_decide", sa.Boolean(), nullable=False),
        sa.Column("is_job", sa.Boolean(), nullable=False),
        sa.Column("left_on", sa.Date()),
        sa.UniqueConstraint("handle", name=op.f("uq_staff_handle")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staff")),
    )

    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("ref", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("given_names", sa.String(), nullable=False),
        sa.Column("family_name", sa.String(), nullable=False),
        sa.Column("known_as", sa.String(), nullable=False),
        sa.Column("born", sa.Date(), nullable=False),
        sa.Column("sex", sa.String()),
        sa.Column("nhs_number", sa.String()),
        sa.Column("nhs_number_raw", sa.String()),
        sa.Column("nhs_number_problem", sa.String()),
        sa.Column("gp", sa.String(), nullable=False),
        sa.Column("gp_may_be_told", sa.Boolean()),
        sa.Column("referrer", sa.String(), nullable=False),
        sa.Column("deceased_on", sa.Date()),
        sa.Column("objected_on", sa.Date()),
        sa.Column("unsafe_on", sa.Date()),
        sa.Column("moved_on", sa.Date()),
        sa.Column("dependent", sa.Boolean(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("format", sa.String(), nullable=False),
        sa.Column("needs", sa.Text(), nullable=False),
        sa.Column("caller_note", sa.String(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        *_fact("person"),
        sa.UniqueConstraint("ref", name=op.f("uq_person_ref")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
    )
    op.create_index(op.f("ix_person_twins"), "person", ["family_name", "born"])

    op.create_table(
        "person_risk",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("person_risk", "person_id", "person", nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("ear", sa.String()),
        sa.Column("since", sa.String()),
        sa.Column("until", sa.String()),
        *_fact("person_risk"),
        _one_of("person_risk", "ear", EARS),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person_risk")),
    )
    op.create_index(op.f("ix_person_risk_person_id"), "person_risk", ["person_id"])

    op.create_table(
        "adult_for",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("adult_for", "person_id", "person", nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("relation", sa.String(), nullable=False),
        sa.Column("instead", sa.Boolean(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("format", sa.String(), nullable=False),
        sa.Column("since", sa.Date()),
        sa.Column("until", sa.Date()),
        sa.Column("note", sa.String(), nullable=False),
        *_fact("adult_for"),
        _one_of("adult_for", "role", ["responsible_adult", "attorney", "carer", "care_home"]),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_adult_for")),
    )
    op.create_index(op.f("ix_adult_for_person_id"), "adult_for", ["person_id"])

    op.create_table(
        "reach",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("reach", "person_id", "person", nullable=False),
        _link("reach", "adult_id", "adult_for"),
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
        *_fact("reach"),
        _one_of("reach", "kind", ["phone", "address", "email"]),
        _one_of("reach", "safe", ["yes", "only_this", "no"]),
        sa.CheckConstraint(
            "value IS NOT NULL OR problem IS NOT NULL", name=op.f("ck_reach_value_or_problem")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reach")),
    )
    op.create_index(op.f("ix_reach_person_id"), "reach", ["person_id"])

    op.create_table(
        "person_key",
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        _link("person_key", "person_id", "person", nullable=False),
        sa.PrimaryKeyConstraint("kind", "key", "person_id", name=op.f("pk_person_key")),
        sqlite_with_rowid=False,
    )
    op.create_index(op.f("ix_person_key_person_id"), "person_key", ["person_id"])

    op.create_table(
        "import_run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("file_name", sa.String(), nullable=False),
        sa.Column("file_digest", sa.String(), nullable=False),
        sa.Column("counts", sa.String(), nullable=False),
        *_fact("import_run"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_import_run")),
    )

    op.create_table(
        "import_seen",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("ref", sa.String(), nullable=False),
        sa.Column("row_digest", sa.String(), nullable=False),
        sa.Column("fields", sa.String(), nullable=False),
        _link("import_seen", "import_run_id", "import_run", nullable=False),
        sa.UniqueConstraint("kind", "ref", name=op.f("uq_import_seen_kind_ref")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_import_seen")),
    )

    op.create_table(
        "protocol",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("version", sa.String(), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.Column("content", sa.String(), nullable=False),
        sa.Column("signed_by", sa.String()),
        sa.Column("signed_on", sa.Date()),
        sa.Column("adopted_on", sa.Date()),
        _link("protocol", "adopted_by_id", "staff"),
        *_fact("protocol"),
        sa.UniqueConstraint("digest", name=op.f("uq_protocol_digest")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_protocol")),
    )

    op.create_table(
        "population",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("content", sa.String(), nullable=False),
        *_fact("population"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_population")),
    )

    op.create_table(
        "visit",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("visit", "person_id", "person", nullable=False),
        sa.Column("ref", sa.String()),
        _link("visit", "examiner_id", "staff"),
        sa.Column("examiner", sa.String()),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("category", sa.String()),
        sa.Column("category_ears", sa.Text(), nullable=False),
        sa.Column("category_why", sa.String(), nullable=False),
        sa.Column("reported", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("confirmed_at", sa.DateTime()),
        _link("visit", "confirmed_by_id", "staff"),
        _link("visit", "corrects_id", "visit"),
        _link("visit", "protocol_id", "protocol"),
        sa.Column("version", sa.Integer(), nullable=False),
        *_fact("visit"),
        _one_of("visit", "category", CATEGORIES),
        sa.CheckConstraint(
            "(confirmed_at IS NULL) = (confirmed_by_id IS NULL)", name=op.f("ck_visit_confirmed")
        ),
        _one_of("visit", "source", ["entered", "imported"]),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit")),
    )
    op.create_index(op.f("ix_visit_person_id_on"), "visit", ["person_id", "on"])
    op.create_index(
        op.f("ix_visit_ref_standing"),
        "visit",
        ["ref"],
        unique=True,
        sqlite_where=sa.text("void_at IS NULL AND ref IS NOT NULL"),
        postgresql_where=sa.text("void_at IS NULL AND ref IS NOT NULL"),
    )
    op.create_index(
        op.f("ix_visit_unconfirmed"),
        "visit",
        ["on", "id"],
        sqlite_where=sa.text("confirmed_at IS NULL AND void_at IS NULL"),
        postgresql_where=sa.text("confirmed_at IS NULL AND void_at IS NULL"),
    )

    op.create_table(
        "findings",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("findings", "visit_id", "visit", nullable=False),
        sa.Column("ear", sa.String(), nullable=False),
        sa.Column("content", sa.String(), nullable=False),
        _one_of("findings", "ear", EARS),
        sa.UniqueConstraint("visit_id", "ear", name=op.f("uq_findings_visit_id_ear")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_findings")),
    )

    op.create_table(
        "under_care",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("under_care", "person_id", "person", nullable=False),
        sa.Column("content", sa.String(), nullable=False),
        *_fact("under_care"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_under_care")),
    )
    op.create_index(op.f("ix_under_care_person_id"), "under_care", ["person_id"])

    op.create_table(
        "told_by_others",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("told_by_others", "person_id", "person", nullable=False),
        sa.Column("content", sa.String(), nullable=False),
        *_fact("told_by_others"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_told_by_others")),
    )
    op.create_index(op.f("ix_told_by_others_person_id"), "told_by_others", ["person_id"])

    op.create_table(
        "loss_treated",
        sa.Column("id", sa.Integer(), nullable=False),
        _link("loss_treated", "person_id", "person", nullable=False),
        sa.Column("treated_on", sa.String(), nullable=False),
        *_fact("loss_treated"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loss_treated")),
    )
    op.create_index(op.f("ix_loss_treated_person_id"), "loss_treated", ["person_id"])


def downgrade() -> None:
    for table in (
        "loss_treated",
        "told_by_others",
        "under_care",
        "findings",
        "visit",
        "population",
        "protocol",
        "import_seen",
        "import_run",
        "person_key",
        "reach",
        "adult_for",
        "person_risk",
        "person",
        "staff",
    ):
        op.drop_table(table)
