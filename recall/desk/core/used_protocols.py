"""Which protocols the register has been planned by: one row for each exact content."""

from __future__ import annotations

import hashlib

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.protocol.loading import Protocol, content_of
from recall.records import tables
from recall.records.journal.history import Change, append_all
from recall.records.tables.statements import table_of


def protocol_row(desk: Desk, session: Session, protocol: Protocol | None = None) -> int:
    """Return the number of a protocol's row, made where it is new; the first one is adopted."""
    protocol = protocol or desk.protocol
    c = tables.Protocol
    known = session.scalar(select(c.id).where(c.digest == protocol.digest))
    if known is not None:
        return known
    is_first = session.scalar(select(c.id).limit(1)) is None
    values = {
        "name": protocol.name,
        "version": protocol.version,
        "digest": protocol.digest,
        "content": content_of(protocol).decode(),
        "adopted_on": desk.today if is_first else None,
        "adopted_by_id": desk.by.id if is_first else None,
        "on": desk.today,
        "recorded_at": desk.now,
        "by_id": desk.by.id,
    }
    number = session.scalars(insert(table_of(tables.Protocol)).returning(c.id), values).one()
    if is_first and _has_own_days(protocol):
        now = {"digest": protocol.digest, "counts_from": desk.today}
        change = Change("adopted", "protocol", number, None, now)
        append_all(session, desk.by.id, desk.now, [change])
    return number


def _has_own_days(protocol: Protocol) -> bool:
    """Return whether its rules count from other days here than in its file: a line seals it."""
    return hashlib.sha256(content_of(protocol)).hexdigest() != protocol.digest
