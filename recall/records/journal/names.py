"""What tables and columns were called when older lines of the history were written.

The lines are chained by their digests, so that a new name never reaches an old one: whoever
reads the history takes one name for the other here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

TABLES_BEFORE = {"reach": "contact_point"}
"""Old name to new, for each table that was renamed."""
COLUMNS_BEFORE = {"reach_id": "contact_point_id"}
"""The same for columns."""


def table_now(name: str) -> str:
    """Return what a table of the history is called now.

    >>> table_now("reach"), table_now("person")
    ('contact_point', 'person')
    """
    return TABLES_BEFORE.get(name, name)


def tables_ever(names: Iterable[str]) -> tuple[str, ...]:
    """Return some tables' names with every name that they had before.

    >>> tables_ever(["person", "contact_point"])
    ('person', 'contact_point', 'reach')
    """
    wanted = tuple(names)
    return (*wanted, *(old for old, new in TABLES_BEFORE.items() if new in wanted))


def columns_now(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values by column, each column under the name that it has now.

    >>> columns_now({"reach_id": 7, "note": ""})
    {'contact_point_id': 7, 'note': ''}
    """
    return {COLUMNS_BEFORE.get(name, name): value for name, value in values.items()}
