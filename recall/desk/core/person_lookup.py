"""Looking people up by the practice's own reference, however it is typed: the one way to do it."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import last_done
from recall.desk.core.guarding import needs
from recall.desk.core.named import named
from recall.desk.core.references import person_id as person_id
from recall.desk.core.references import person_ids as person_ids
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import Conflict, NotFound
from recall.records.tables import Person
from recall.records.tables.statements import whole


def person_row(session: Session, ref: str, version: int | None = None) -> Person:
    """Return the row of the person whom a reference means.

    Raises:
        NotFound: no such reference.
        InputError: it may mean more than one person.
        Conflict: changed since the version that was looked at.
    """
    wanted = select(whole(Person)).where(Person.id == person_id(session, ref))
    found = session.scalars(wanted).one()
    if version is not None and found.version != version:
        raise Conflict(
            f"Somebody else changed {named(session, found.id)} meanwhile"
            f"{last_done(session, found.id)}.",
            hint="Look at it again, then repeat.",
            version=found.version,
        )
    return found


@needs(Right.LOOK)
def reference_of(desk: Desk, text: str) -> str | None:
    """Return the stored reference that a text means; None where it is no reference.

    Raises:
        InputError: it may mean more than one person.
    """
    with desk.store.read() as session:
        try:
            number = person_id(session, text)
        except NotFound:
            return None
        return session.scalars(select(Person.ref).where(Person.id == number)).one()
