"""Everything held on one person: every row that is theirs, found from the tables themselves.

A table belongs to people when a row of it names one, or cannot be without a row of one that
does: a table that is added later is found, too.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

import msgspec
from sqlalchemy import Boolean, Column, Date, Integer, Select, Table, select
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.tables.base import UtcDateTime, Words
from recall.records.tables.statements import table_of

NOT_THEIRS: dict[str, str] = {
    "person_key": "what they are found by: made anew from the rest at each change",
    "to_plan": "a list of work: the row goes with the next plan",
}
"""Tables that name a person and are not handed over, with the reason."""
_JSON = {
    ("findings", "content"),
    ("history_payload", "content"),
    ("letter", "body"),
    ("letter", "fields"),
    ("referral", "reasons"),
    ("told_by_others", "content"),
    ("under_care", "content"),
    ("visit", "reported"),
}
"""Columns that hold JSON as text."""
Rows = dict[str, list[dict[str, Any]]]


def held_on(session: Session, person_id: int) -> Rows:
    """Return every row that is one person's, by table; staff by their handles."""
    handles = dict(session.execute(select(tables.Staff.id, tables.Staff.handle)).all())
    found: Rows = {}
    for table, wanted in theirs(person_id):
        rows = session.execute(wanted.order_by(*table.primary_key)).mappings()
        found[str(table.name)] = [
            {str(column.name): _plain(column, row[column.name], handles) for column in table.c}
            for row in rows
        ]
    return found


def theirs(person_id: int) -> Iterator[tuple[Table, Select[Any]]]:
    """Give each table with rows of people, and the statement that reads one person's."""
    for table, via in _belonging().items():
        if table.name not in NOT_THEIRS:
            yield table, select(table).where(_whose(table, via, person_id))


def _whose(table: Table, via: Column[Any] | None, person_id: int) -> Any:
    if via is None:
        return table.c["id" if table.name == "person" else "person_id"] == person_id
    above = next(iter(via.foreign_keys)).column.table
    return via.in_(select(above.c.id).where(_whose(above, _belonging()[above], person_id)))


@cache
def _belonging() -> dict[Table, Column[Any] | None]:
    """Return each table with rows of people, and through which column; None: by itself."""
    every = tables.Base.metadata.sorted_tables
    found: dict[Table, Column[Any] | None] = {
        table: None for table in every if table.name == "person" or "person_id" in table.c
    }
    for table in every:
        if table not in found:
            held = (c for c in table.c if not c.nullable and _above(c) in found)
            if (via := next(held, None)) is not None:
                found[table] = via
    return found


def _above(column: Column[Any]) -> Table | None:
    return next((key.column.table for key in column.foreign_keys), None)


def _is_staff(column: Column[Any]) -> bool:
    return _above(column) is table_of(tables.Staff)


def _plain(column: Column[Any], value: Any, handles: dict[int, str]) -> Any:
    if value is None:
        return None
    if _is_staff(column):
        return handles.get(value, "")
    if (column.table.name, column.name) in _JSON:
        return msgspec.json.decode(value) if value else None
    return value


def form() -> dict[str, Any]:
    """Return the form of `held_on` as a JSON Schema (draft 2020-12), with what each table is."""
    shapes = {str(table.name): _table_form(table) for table, _wanted in theirs(0)}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Everything held on one person",
        "type": "object",
        "required": ["form", "made_at", "made_by", "person", "held", "left_out"],
        "properties": {
            "form": {"const": 1},
            "made_at": {"type": "string", "format": "date-time"},
            "made_by": {"type": "string", "description": "The handle of whoever made it."},
            "person": {"type": "string", "description": "The practice's reference."},
            "left_out": {"type": "object", "description": "What is not here, and why."},
            "held": {"type": "object", "required": [*shapes], "properties": shapes},
        },
        "additionalProperties": False,
    }


def _table_form(table: Table) -> dict[str, Any]:
    columns = {str(column.name): _column_form(column) for column in table.c}
    row: dict[str, Any] = {"type": "object", "required": [*columns], "properties": columns}
    row["additionalProperties"] = False
    return {"type": "array", "description": _says(table), "items": row}


def _says(table: Table) -> str:
    made = (mapper.class_ for mapper in tables.Base.registry.mappers)
    doc = next(kind.__doc__ for kind in made if table_of(kind) is table)
    return " ".join((doc or "").split())


def _column_form(column: Column[Any]) -> dict[str, Any]:
    if (column.table.name, column.name) in _JSON:
        return {}
    shape: dict[str, Any] = {"type": _type_of(column)}
    if isinstance(column.type, Date):
        shape["format"] = "date"
    elif isinstance(column.type, UtcDateTime):
        shape["format"] = "date-time"
    elif _is_staff(column):
        shape["description"] = "The handle of a member of staff."
    elif (above := _above(column)) is not None:
        shape["description"] = f"The number of a row of {above.name}."
    if column.nullable:
        shape["type"] = [shape["type"], "null"]
    return shape


def _type_of(column: Column[Any]) -> str:
    if _is_staff(column):
        return "string"
    if isinstance(column.type, Boolean):
        return "boolean"
    if isinstance(column.type, Words):
        return "array"
    return "integer" if isinstance(column.type, Integer) else "string"
