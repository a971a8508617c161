"""Which protocols the register has been planned by: one row for each exact content."""

from __future__ import annotations

from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.protocol.loading import Protocol, content_of
from recall.records import tables

_protocol: Any = tables.Protocol.__table__


def protocol_row(desk: Desk, session: Session, protocol: Protocol | None = None) -> int:
    """Return the number of a protocol's row, made where it is new; the first one is adopted."""
    protocol = protocol or desk.protocol
    c = _protocol.c
    known: int | None = session.scalar(select(c.id).where(c.digest == protocol.digest))
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
    made: int = session.execute(insert(_protocol).returning(c.id), values).scalar_one()
    return made
