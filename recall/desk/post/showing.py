"""Looking at a batch before it is printed: every letter with its state, and its text."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.looking import note_look
from recall.desk.core.person_header import person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.post.envelopes import marks
from recall.desk.post.posting import batch_numbered
from recall.desk.post.recheck import no_longer
from recall.desk.post.weekly import leaves_in, monday_of
from recall.errors import NotFound
from recall.letters.composed import from_json
from recall.letters.wording.blocks import plain
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import whole


@dataclass(frozen=True)
class Shown:
    """One letter of a batch."""

    number: str
    state: str
    """written, printed, posted, returned, held back, pulled, to pull."""
    because: str
    """Why it is held back, pulled or to be pulled."""
    kind: str
    reference: str
    name: str
    born: date
    to: str
    address: tuple[str, ...]
    language: str
    format: str
    email: str
    envelope: str
    """Which of how many it is, where others go in the same envelope; empty for one alone."""
    urgent: bool
    """Never by letter alone: ring them, too."""
    letter_id: int
    follow_up_id: int | None
    person_id: int


@needs(Right.LOOK)
def preview(desk: Desk, batch_number: int) -> tuple[Shown, ...]:
    """Return the letters of a batch as they stand now, and what would be pulled at printing.

    Raises:
        NotFound: no such batch.
    """
    with desk.store.read() as session:
        batch = batch_numbered(session, batch_number)
        rows, week = _rows(session, batch.id), _week(batch, desk.today)
        fit = [r for r in rows if not (r.held_why or r.pulled_why)]
        unfit = no_longer(desk, session, [r for r in fit if not r.posted_on], week)
        ids = [row.person_id for row in rows]
        people = person_headers(session, ids, desk.today, desk.protocol.contact)
        pressing = _pressing(session, rows)
    found, shared = [], marks(fit)
    for row in rows:
        fields, who = msgspec.json.decode(row.fields), people[row.person_id]
        state, because = _state(row, unfit.get(row.id, ""))
        found.append(
            Shown(
                number=fields["number"],
                state=state,
                because=because,
                kind=row.kind,
                reference=who.reference,
                name=who.name,
                born=who.born,
                to=row.to_name,
                address=row.to_lines,
                language=row.language,
                format=row.format,
                email=fields["email"],
                envelope=shared.get(row.id, ""),
                urgent=row.follow_up_id in pressing,
                letter_id=row.id,
                follow_up_id=row.follow_up_id,
                person_id=row.person_id,
            )
        )
    return tuple(found)


@needs(Right.LOOK)
def text_of_letter(desk: Desk, letter_id: int) -> str:
    """Return what a letter says, as it is printed; nothing where its wording failed.

    Raises:
        NotFound: no such letter.
    """
    c = tables.Letter
    wanted = select(c.body, c.person_id).where(c.id == letter_id, stands(c))
    with desk.store.read() as session:
        found = session.execute(wanted).one_or_none()
    if found is None:
        raise NotFound(f"There is no letter {letter_id}.", hint="See recall letters preview.")
    note_look(desk, found.person_id)
    if not found.body:
        return ""
    letter = from_json(found.body)
    head = (*letter.address, "", letter.dated, letter.numbered, "")
    return "\n".join(head) + f"\n{plain(letter.body)}\n"


def _week(batch: tables.Batch, today: date) -> date:
    """Return the week in which a batch leaves: what is printed may be posted today."""
    return monday_of(today) if batch.printed_at else leaves_in(batch.week_on, today)


def _rows(session: Session, batch_id: int) -> list[tables.Letter]:
    """Return the letters of a batch; those of somebody who was erased since are left out."""
    wanted = (
        select(whole(tables.Letter))
        .join(tables.Person, tables.Person.id == tables.Letter.person_id)
        .where(tables.Letter.batch_id == batch_id, stands(tables.Letter), stands(tables.Person))
    )
    return list(session.scalars(wanted.order_by(tables.Letter.id)))


def _pressing(session: Session, rows: list[tables.Letter]) -> set[int]:
    f = tables.FollowUp
    ids = {row.follow_up_id for row in rows if row.follow_up_id}
    wanted = select(f.id).where(f.id.in_(ids), f.urgency.in_(("emergency", "urgent")))
    return set(session.scalars(wanted))


def _state(row: tables.Letter, unfit: str) -> tuple[str, str]:
    because = row.pulled_why or row.held_why or unfit
    if row.returned_on:
        return "returned", ""
    if row.posted_on:
        return "posted", ""
    if because:
        word = "pulled" if row.pulled_why else "held back" if row.held_why else "to pull"
        return word, because
    return ("printed" if row.printed_at else "written"), ""
