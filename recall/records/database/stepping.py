"""From one revision to another, on a connection and in its transaction."""

from __future__ import annotations

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection

from recall.records.database import where
from recall.records.database.store import revision


def alembic_config(connection: Connection | None = None) -> Config:
    """Return Alembic's configuration, built here so that no ini file is needed."""
    config = Config()
    config.set_main_option("script_location", str(where.migrations()).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def step(connection: Connection, to: str) -> None:
    """Bring the database of a connection to a revision, in its transaction."""
    config = alembic_config(connection)
    at = revision(connection) or "base"
    order = ("base", *where.REVISIONS)
    if order.index(to) < order.index(at):
        command.downgrade(config, to)
    else:
        command.upgrade(config, to)
