"""The words by which accounts can be narrowed: one that nobody knows is refused, never counted."""

from __future__ import annotations

from typing import get_args

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from recall.accounts.cohort import AXES, BANDS, OLDEST, By, Only
from recall.care.case import URGENCIES, Category, To
from recall.desk.core.session import Desk
from recall.errors import InputError
from recall.records import tables
from recall.records.facts.cases import stands


def refuse_unknown(desk: Desk, session: Session, only: Only) -> None:
    """Refuse to narrow by a word that nothing and nobody here has.

    Raises:
        InputError: a kind, urgency, practitioner, site or age that is not known; names those that
            are.
    """
    for axis in AXES:
        word = getattr(only, axis)
        known = _known(desk, session, axis) if word else []
        if word and word not in known:
            hint = f"It may be: {', '.join(known)}." if known else "None is known here."
            raise InputError(f"The {axis} {word!r} is not known here.", hint=hint)


def _known(desk: Desk, session: Session, axis: By) -> list[str]:
    """Return the words of one axis, in order."""
    if axis == "kind":
        return [*get_args(Category), *get_args(To)]
    if axis == "urgency":
        return list(URGENCIES)
    if axis == "age":
        return [words for _least, words in (*BANDS, OLDEST)]
    if axis == "site":
        p = tables.Person
        told = session.scalars(select(p.site).where(stands(p), p.site != "").distinct())
        return sorted({*told, *(one.handle for one in desk.config.sites)})
    return _practitioners(session)


def _practitioners(session: Session) -> list[str]:
    """Return who examined at a visit, by handle or as a file says it, and who may."""
    v, s = tables.Visit, aliased(tables.Staff)
    examined = select(func.coalesce(s.handle, v.examiner, "")).select_from(v)
    told = session.scalars(examined.outerjoin(s, s.id == v.examiner_id).distinct())
    may = select(tables.Staff.handle).where(tables.Staff.role.in_(_EXAMINE))
    return sorted({name for name in (*told, *session.scalars(may)) if name})


_EXAMINE = ("practitioner", "clinical_lead")
