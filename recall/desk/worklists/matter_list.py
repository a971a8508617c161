"""The list of matters: whose each is, by when, about whom; one's own, or everybody's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, or_, select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.rights import ROLE_WORDS, Right, Role
from recall.desk.core.session import Desk
from recall.loop.matters import KIND, OWNERS, seen_by
from recall.records import tables
from recall.records.facts.candidates import of_sites
from recall.records.facts.cases import stands
from recall.records.tables.statements import whole


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

    @property
    def title(self) -> str:
        """Return what it is, in words."""
        return KIND[self.kind].title


@needs(Right.LOOK)
def matters(desk: Desk, *, everybody: bool = False) -> tuple[MatterLine, ...]:
    """Return the open matters of whoever acts, or everybody's: the ones longest due first."""
    with desk.store.read() as session:
        only_shown(desk, session)
        whose = [] if everybody else [_mine(desk, session)]
        return _lines(desk, session, *whose, *_of_sites(desk, session))


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
        return ROLE_WORDS[Role(owner_role)]
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
    rows: Sequence[tables.Matter] = session.scalars(wanted).all()
    about = [row.person_id for row in rows if row.person_id is not None]
    people = person_headers(session, about, desk.today, desk.protocol.contact)
    named = session.execute(select(tables.Staff.id, tables.Staff.handle)).all()
    handles: dict[int, str] = {number: handle for number, handle in named}  # noqa: C416
    return tuple(_line(desk, row, people.get(row.person_id or 0), handles) for row in rows)


def _line(
    desk: Desk, row: tables.Matter, who: PersonHeader | None, handles: dict[int, str]
) -> MatterLine:
    owner = ROLE_WORDS[Role(row.owner_role)] if row.owner_role else handles[row.owner_id or 0]
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
