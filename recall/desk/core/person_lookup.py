"""Finding a person's row by the practice's own reference."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.errors import Conflict, NotFound
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.search_keys import ref_key

_person: Any = tables.Person.__table__
_key: Any = tables.PersonKey.__table__


def person_row(session: Session, ref: str, version: int | None = None) -> Any:
    """Return a person's row.

    Raises:
        NotFound: no such reference.
        Conflict: changed since the version that was looked at.
    """
    found = _by_ref(session, ref.strip())
    if found is None:
        raise NotFound(f"There is no person {ref!r}.", hint="Find them by name or birth date.")
    if version is not None and found["version"] != version:
        raise Conflict(
            f"Somebody else changed person {found['ref']} meanwhile.",
            hint="Look at it again, then repeat.",
        )
    return found


def _by_ref(session: Session, ref: str) -> Any:
    exact = select(_person).where(_person.c.ref == ref, stands(_person))
    found = session.execute(exact).mappings().one_or_none()
    if found is not None:
        return found
    folded = select(_key.c.person_id).where(_key.c.kind == "ref", _key.c.key == ref_key(ref))
    like = select(_person).where(_person.c.id.in_(folded), stands(_person))
    rows = session.execute(like).mappings().all()
    return rows[0] if len(rows) == 1 else None
