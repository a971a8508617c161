"""How Alembic meets the register: the caller's connection, one transaction, batch mode."""

from __future__ import annotations

from alembic import context

from recall.records.tables import Base
from recall.records.tables.base import UtcDateTime, Words

# A column's own type would need an import in the script; a migration must not import the app.
PLAIN = {UtcDateTime: "sa.DateTime()", Words: "sa.Text()"}


def render_item(kind: str, item: object, _autogen: object) -> str | bool:
    if kind == "type" and type(item) in PLAIN:
        return PLAIN[type(item)]
    return False


def run() -> None:
    connection = context.config.attributes.get("connection")
    if connection is None:
        raise SystemExit(
            "Run migrations through recall/records/database/upgrade.py: it backs up first."
        )
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        render_item=render_item,
        compare_type=True,
        transactional_ddl=True,
    )
    with context.begin_transaction():
        context.run_migrations()


run()
