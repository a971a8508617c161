"""Which protocols the register has been planned by: one row for each exact content."""

from __future__ import annotations

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.protocol.loading import Protocol, content_of
from recall.records import tables
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
    return session.scalars(insert(table_of(tables.Protocol)).returning(c.id), values).one()
