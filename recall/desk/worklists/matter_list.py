"""The list of matters: whose each is, by when, about whom; one's own, or everybody's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from typing import ClassVar

from sqlalchemy import ColumnElement, or_, select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.loop.matters import KIND, KINDS, OWNER_WORDS, OWNERS, TELL_THEM, close_words, seen_by
from recall.records import tables
from recall.records.facts.candidates import of_sites
from recall.records.facts.cases import stands
from recall.records.tables.statements import whole

_WORDS: dict[str, str] = {f"{role}": words for role, words in OWNER_WORDS.items()}


@dataclass(frozen=True)
class MatterLine:
    """One matter on a list."""

    number: int
    version: int
    kind: str
    due_on: date
    late_by_days: int
    owner: str
    """A handle, or a role in words."""
    text: str
    reference: str
    """Empty, as what follows, where it is about nobody in the register."""
    name: str
    born: date | None
    postcode: str
    ask_for: str
    ring: str
    contact_stopped: str
    """Why nobody may ring or write; empty where somebody may."""
    taken_by: str
    taken_on: date

    is_closed: ClassVar[bool] = False

    @property
    def title(self) -> str:
        """Return what it is, in words."""
        return KIND[self.kind].title


TOLD = timedelta(days=7)
"""So long whoever wrote something down sees what was answered; common practice, no source."""


@dataclass(frozen=True)
class Answered(MatterLine):
    """What somebody wrote down, as somebody else closed it."""

    closed_by: str
    closed_on: date
    closed: str
    """How, in words."""
    answer: str
    """What was said to it; empty where nothing was."""
    is_closed: ClassVar[bool] = True


@needs(Right.LOOK)
def matters(desk: Desk, *, everybody: bool = False) -> tuple[MatterLine, ...]:
    """Return the open matters of whoever acts, or everybody's: the ones longest due first."""
    with desk.store.read() as session:
        only_shown(desk, session)
        whose = [] if everybody else [_mine(desk, session)]
        return _lines(desk, session, *whose, *_of_sites(desk, session))


@needs(Right.LOOK)
def answered_lately(desk: Desk) -> tuple[Answered, ...]:
    """Return what whoever acts wrote down and somebody else closed in a week, the last one first.

    What comes back to be passed on is a matter of its own, and what was taken back is open again.
    """
    m = tables.Matter
    told = [kind.id for kind in KINDS if kind.says_how]
    wanted = select(whole(m)).where(stands(m), ~m.is_open, m.kind.in_(told))
    wanted = wanted.where(m.by_id == desk.by.id, m.closed_by_id != desk.by.id)
    wanted = wanted.where(m.closed_how != TELL_THEM, m.closed_on <= desk.today)
    wanted = wanted.where(m.closed_on >= desk.today - TOLD)
    with desk.store.read() as session:
        rows = session.scalars(wanted.order_by(m.closed_at.desc(), m.id.desc())).all()
        handles = _handles(session)
        lines = zip(rows, _of_rows(desk, session, rows), strict=True)
        return tuple(_answered(row, line, handles) for row, line in lines)


def _answered(row: tables.Matter, line: MatterLine, handles: dict[int, str]) -> Answered:
    assert row.closed_on is not None, "it is closed"
    return Answered(
        **{each.name: getattr(line, each.name) for each in fields(MatterLine)},
        closed_by=handles[row.closed_by_id or 0],
        closed_on=row.closed_on,
        closed=close_words(row.kind, row.closed_how or ""),
        answer=" ".join((row.closed_text or "").split()),
    )


def about_person(desk: Desk, session: Session, number: int) -> tuple[MatterLine, ...]:
    """Return the open matters about one person, inside a transaction."""
    return _lines(desk, session, tables.Matter.person_id == number)


def mine_and_late(desk: Desk, session: Session) -> tuple[int, int]:
    """Return how many open matters whoever acts has, and how many of them are late."""
    m = tables.Matter
    mine = select(m.due_on).where(m.is_open, stands(m), _mine(desk, session))
    mine = mine.where(*_of_sites(desk, session))
    found = session.scalars(mine).all()
    return len(found), sum(day < desk.today for day in found)


def is_mine(desk: Desk, session: Session, owner_id: int | None, owner_role: str | None) -> bool:
    """Return whether a matter is for whoever acts to see to."""
    if owner_id is not None:
        return owner_id == desk.by.id
    return owner_role is not None and desk.by.role in seen_by(owner_role, _here(session))


def say_owner(session: Session, owner_id: int | None, owner_role: str | None) -> str:
    """Return an owner as people read it: a handle, or a role."""
    if owner_role is not None:
        return _WORDS[owner_role]
    found = session.scalar(select(tables.Staff.handle).where(tables.Staff.id == owner_id))
    return found or ""


def _here(session: Session) -> frozenset[str]:
    """Return the roles that somebody has who has not left."""
    s = tables.Staff
    roles = session.scalars(select(s.role).where(s.left_on.is_(None), ~s.is_job).distinct())
    return frozenset(roles)


def _mine(desk: Desk, session: Session) -> ColumnElement[bool]:
    m, here = tables.Matter, _here(session)
    roles = [role for role in OWNERS if desk.by.role in seen_by(role, here)]
    return or_(m.owner_id == desk.by.id, m.owner_role.in_(roles))


def _of_sites(desk: Desk, session: Session) -> list[ColumnElement[bool]]:
    """Return the condition of what a list shows: what is one's own by name is always there."""
    m = tables.Matter
    shown = of_sites(session, m.person_id)
    return [or_(m.person_id.is_(None), m.owner_id == desk.by.id, *shown)] if shown else []


def _lines(desk: Desk, session: Session, *tests: ColumnElement[bool]) -> tuple[MatterLine, ...]:
    m = tables.Matter
    wanted = select(whole(m)).where(m.is_open, stands(m), *tests).order_by(m.due_on, m.id)
    return _of_rows(desk, session, session.scalars(wanted).all())


def _of_rows(desk: Desk, session: Session, rows: Sequence[tables.Matter]) -> tuple[MatterLine, ...]:
    about = [row.person_id for row in rows if row.person_id is not None]
    people = person_headers(session, about, desk.today, desk.protocol.contact)
    handles = _handles(session)
    return tuple(_line(desk, row, people.get(row.person_id or 0), handles) for row in rows)


def _handles(session: Session) -> dict[int, str]:
    named = session.execute(select(tables.Staff.id, tables.Staff.handle)).all()
    return {number: handle for number, handle in named}  # noqa: C416


def _line(
    desk: Desk, row: tables.Matter, who: PersonHeader | None, handles: dict[int, str]
) -> MatterLine:
    owner = _WORDS[row.owner_role] if row.owner_role else handles[row.owner_id or 0]
    return MatterLine(
        number=row.id,
        version=row.version,
        kind=row.kind,
        due_on=row.due_on,
        late_by_days=max(0, (desk.today - row.due_on).days),
        owner=owner,
        text=row.text,
        reference=who.reference if who else "",
        name=who.name if who else "",
        born=who.born if who else None,
        postcode=who.postcode if who else "",
        ask_for=who.ask_for if who else "",
        ring=who.number if who else "",
        contact_stopped=(who.contact_stopped or "") if who else "",
        taken_by=handles[row.by_id],
        taken_on=row.on,
    )
