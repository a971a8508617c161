"""Who opened whose record: written down for each look, where everybody signs in.

Rows of a table of their own, and no lines of the history: there are many more looks than
changes, and each line of the history makes its chain longer to check and holds up whoever
writes. A list of people and a card on the list of calls are no look at one person's record.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any, TypeVar, cast

from sqlalchemy import insert, select

from recall.clock import Clock
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_id
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import StorageError
from recall.records import tables
from recall.records.database.store import Store
from recall.records.tables.statements import table_of

F = TypeVar("F", bound=Callable[..., Any])
L = tables.Looked
SAME = timedelta(minutes=10)
"""Within it, the same person at the same place opened by the same one is one look."""
LOOKS = "__looks__"
"""The attribute of a function that shows the record of one person."""


def looks(function: F) -> F:
    """Write down whose record a function of the desk shows; it takes the reference second."""

    @functools.wraps(function)
    def looking(desk: Desk, ref: str, *more: Any, **named: Any) -> Any:
        found = function(desk, ref, *more, **named)
        if desk.is_signed:
            with desk.store.read() as session:
                number = person_id(session, ref)
            note_look(desk, number)
        return found

    setattr(looking, LOOKS, True)
    return cast(F, looking)


@needs(Right.LOOK)
def note_look(desk: Desk, person: int) -> None:
    """Write down that whoever acts looked at somebody, where everybody signs in.

    A register that cannot be written is still read: whoever needs to know what an ear is like
    is not kept from it by a full disk.
    """
    if not desk.is_signed:
        return
    now = Clock(desk.clock.zone).now().astimezone(UTC)
    with suppress(StorageError):
        _write(replace(desk.store, ahead=""), desk, person, now)


def _write(store: Store, desk: Desk, person: int, now: datetime) -> None:
    same = (L.person_id == person) & (L.by_id == desk.by.id) & (L.place == desk.place)
    lately = select(L.id).where(same, L.at > now - SAME, L.at < now + SAME).limit(1)
    with store.read() as session:
        if session.scalar(lately) is not None:
            return
    values = {"at": now, "by_id": desk.by.id, "person_id": person, "place": desk.place}
    with store.write() as session:
        if session.scalar(lately) is not None:  # a screen asks for its parts all at once
            return
        session.execute(insert(table_of(L)).values(**values))
