"""Which protocols the register has been planned by: one row for each exact content."""

from __future__ import annotations

from typing import Any

import msgspec
from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from recall.desk.session import Desk
from recall.records import tables

_protocol: Any = tables.Protocol.__table__


def protocol_row(desk: Desk, session: Session) -> int:
    """Return the number of the row for the desk's protocol, made where it is new."""
    c = _protocol.c
    known: int | None = session.scalar(select(c.id).where(c.digest == desk.protocol.digest))
    if known is not None:
        return known
    content = msgspec.json.encode((desk.protocol.file, desk.protocol.contact), order="sorted")
    values = {
        "name": desk.protocol.name,
        "version": desk.protocol.version,
        "digest": desk.protocol.digest,
        "content": content.decode(),
        "on": desk.today,
        "recorded_at": desk.now,
        "by_id": desk.by.id,
    }
    made: int = session.execute(insert(_protocol).returning(c.id), values).scalar_one()
    return made
