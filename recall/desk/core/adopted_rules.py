"""The rules that the register has adopted: read from it, and refused where they were changed."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import msgspec
from sqlalchemy import select

from recall.config import Files
from recall.errors import StorageError
from recall.protocol.loading import Protocol, content_of, from_content, short_digest
from recall.protocol.own_days import taken_up_first
from recall.protocol.signing import beside
from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal import seals
from recall.records.journal.history import last_seal
from recall.records.tables.statements import whole
from recall.schedule.calendar import say_day


def adopted(
    store: Store, in_file: Protocol, sign_offs: Sequence[Path | None], today: date
) -> Protocol:
    """Return the protocol that the register has adopted; before the first, the file's.

    Those of a file are as a register takes them up today. One that was edited by mistake, or came
    with a newer program, changes nothing until somebody adopts it by name.

    Raises:
        StorageError: the adopted rules cannot be read, or are not as they were adopted.
        ProtocolError: this version of the program cannot read them.
    """
    row = adopted_row(store)
    if row is None:
        return taken_up_first(in_file, today)
    if row.content.encode() == content_of(in_file):
        return in_file
    if not _is_as_adopted(store, row):
        raise _changed(row)
    try:
        return from_content(row.content.encode(), sign_offs, row.digest)
    except msgspec.DecodeError:
        raise _changed(row) from None


def sign_offs(files: Files) -> Sequence[Path | None]:
    """Return where the sign-off of the rules in use may lie: where the settings say, or beside."""
    return files.sign_off, beside(files.protocol)


def adopted_row(store: Store) -> tables.Protocol | None:
    """Return the protocol that was adopted last, or None."""
    c = tables.Protocol
    wanted = (
        select(whole(c))
        .where(c.adopted_on.is_not(None), c.void_at.is_(None))
        .order_by(c.adopted_on.desc(), c.id.desc())
        .limit(1)
    )
    with store.read() as session:
        return session.scalars(wanted).first()


def _is_as_adopted(store: Store, row: tables.Protocol) -> bool:
    """Return whether rules are as they were adopted, as their digest or the history has them.

    Rules that were adopted with other first days than their file's, before lines of the history
    held seals of them, are taken as they are.
    """
    if hashlib.sha256(row.content.encode()).hexdigest() == row.digest:
        return True
    named = ("protocol", row.id)
    with store.read() as session:
        return last_seal(session, named) in ("", seals.seals(session, [named]).get(named))


def _changed(row: tables.Protocol) -> StorageError:
    on = f" on {say_day(row.adopted_on)}" if row.adopted_on else ""
    return StorageError(
        f"The rules that were adopted{on} ({short_digest(row.digest)}) are not as they were "
        "adopted: they were changed past the program, or damaged.",
        hint="Nobody can be planned by them: bring back a backup with recall restore.",
    )
