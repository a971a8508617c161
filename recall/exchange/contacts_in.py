"""Contacts from a file: what was tried so far to reach people, and what came of it."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path
from typing import Any, get_args

import msgspec

from recall.config import Import
from recall.exchange.cells import Cells, choice
from recall.exchange.problem import Wrong
from recall.exchange.rows_in import HERE, Column, FileKind, Here, Reading, open_rows
from recall.exchange.visits_in import PERSON
from recall.loop.outcomes import DONE, Channel, Done, OutcomeId


class ContactRow(msgspec.Struct, frozen=True, kw_only=True):
    """One attempt to reach a person as the file tells."""

    person: str
    on: date
    at: time | None = None
    channel: Channel
    outcome: OutcomeId | Done
    call_on: date | None = None
    """The day they asked to be called again."""
    by: str = ""
    note: str = ""


COLUMNS: tuple[Column, ...] = (
    PERSON,
    Column("on", "day of the contact", Cells.past_day, True),
    Column("at", "time of the contact", Cells.clock),
    Column("channel", "how it was tried", choice(get_args(Channel)), True),
    Column("outcome", "what came of it", choice((*get_args(OutcomeId), *DONE)), True),
    Column("call_on", "day on which they asked to be called again", Cells.day),
    Column("by", "who tried", Cells.text),
    Column("note", "note", Cells.note),
)


def _build(values: dict[str, Any]) -> ContactRow:
    """Make the row from its values by column."""
    row = ContactRow(**values)
    if row.call_on is not None and row.call_on < row.on:
        raise Wrong("is before the contact itself", "the day they asked to be called", "call_on")
    return row


CONTACTS: FileKind[ContactRow] = FileKind("contacts", COLUMNS, _build)


def read_contacts(
    path: Path, imports: Import, *, today: date, here: Here = HERE
) -> Reading[ContactRow]:
    """Return the contacts of a file, good and bad rows, one by one."""
    return open_rows(path, CONTACTS, imports, today=today, here=here)
