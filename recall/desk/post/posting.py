"""Letters leave the house and some come back: a batch is posted, a letter is held or returned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import msgspec
from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.replanning import refresh
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.post.envelopes import beside
from recall.desk.post.letter_keys import ENDING, note_posted
from recall.desk.post.of_sites import of_shown
from recall.desk.post.posted_pages import seal_posted
from recall.desk.post.recheck import no_longer
from recall.desk.post.reprint import changed_since
from recall.desk.post.weekly import monday_of
from recall.errors import Conflict, NotFound, Refused
from recall.records import tables
from recall.records.database.set_aside import printed_for
from recall.records.facts.cases import pages, readable, stands
from recall.records.journal import history
from recall.records.journal.history import Change
from recall.records.tables.statements import table_of, whole
from recall.schedule.calendar import say_day


@dataclass(frozen=True)
class BatchLine:
    """A batch on the list of batches."""

    number: int
    week_on: date
    letters: int
    held: int
    taken_off: int
    """Letters that came off the pile, or were pulled before."""
    printed_at: datetime | None
    posted_on: date | None
    file_name: str
    batch_id: int


@dataclass(frozen=True)
class Pulled:
    """A letter to take off the pile before it is posted."""

    number: str
    to: str
    because: str
    beside: tuple[str, ...] = ()
    """The numbers of the others in its envelope."""


@needs(Right.LOOK)
def batches(desk: Desk, limit: int = 20) -> tuple[BatchLine, ...]:
    """Return the batches, the last one first."""
    b, n = tables.Batch, tables.Letter
    wanted = (
        select(
            b.number,
            b.week_on,
            func.count(n.id),
            func.count(n.held_why),
            func.count(n.pulled_why),
            b.printed_at,
            b.posted_on,
            b.file_name,
            b.id,
        )
        .join_from(tables.Batch, tables.Letter, n.batch_id == b.id, isouter=True)
        .where(stands(tables.Batch))
        .group_by(b.id)
        .order_by(b.number.desc())
        .limit(limit)
    )
    with desk.store.read() as session:
        only_shown(desk, session)
        wanted = wanted.where(*of_shown(session))
        return tuple(BatchLine(*row) for row in session.execute(wanted))


@dataclass(frozen=True)
class Pile:
    """A printed batch that is about to leave."""

    letters: int
    """How many leave."""
    off: tuple[Pulled, ...]
    """What must be taken off the pile first."""
    differs: tuple[str, ...] = ()
    """In what the text that is kept is not what was printed first, line by line."""


@needs(Right.SEND_POST, for_the_others=True)
def pile_of(desk: Desk, batch_number: int) -> Pile:
    """Return what leaves if a batch is posted today, and what to take off first; nothing is done.

    And in what it is not what was printed first: then the pile is looked at before it leaves.

    Raises:
        NotFound: no such batch.
        Refused: it was never printed, or posted before.
    """
    with desk.store.read() as session:
        batch, printed, pulled = _going(desk, session, batch_number)
        off = _off_the_pile(printed, pulled) + _unreadable(desk, session, batch.id)
        keys = Path(f"{desk.config.files.letters / batch.file_name}{ENDING}")
        differs = changed_since(batch, keys, {_number(r): r.body for r in printed})
        leave = sum(1 for r in printed if not (r.held_why or r.pulled_why or r.id in pulled))
    return Pile(leave, off, differs)


def _going(
    desk: Desk, session: Session, batch_number: int
) -> tuple[tables.Batch, list[tables.Letter], dict[int, str]]:
    """Return a batch that may be posted, what was printed of it, and why some must not leave."""
    batch = batch_numbered(session, batch_number)
    _refuse_going(batch)
    _refuse_before_printed(desk, batch)
    printed = _printed(session, batch.id)
    rows = [r for r in printed if not r.held_why and not r.pulled_why]
    return batch, printed, no_longer(desk, session, rows, monday_of(desk.today))


@needs(Right.SEND_POST, for_the_others=True)
def mark_posted(desk: Desk, batch_number: int, taken_off: int | None = None) -> tuple[Pulled, ...]:
    """Record that a batch was posted today; return what had to be taken off the pile first.

    Args:
        desk: who acts, on which day.
        batch_number: which batch.
        taken_off: how many letters somebody was shown to take off, where somebody was shown any.

    Raises:
        NotFound: no such batch.
        Refused: it was never printed, or posted before.
        Conflict: other letters must come off by now than were shown.
    """
    with desk.store.write() as session:
        batch, printed, pulled = _going(desk, session, batch_number)
        pile = _off_the_pile(printed, pulled) + (odd := _unreadable(desk, session, batch.id))
        _refuse_other_pile(taken_off, len(pile))
        rows = [r for r in printed if not r.held_why and not r.pulled_why]
        posted = [r for r in rows if r.id not in pulled]
        for number, why in pulled.items():
            session.execute(
                update(table_of(tables.Letter))
                .where(tables.Letter.id == number)
                .values(pulled_why=why)
            )
        _leaves(desk, session, batch.id, posted)
        _note_posting(desk, session, batch.id, posted, rows, pulled)
        for some in pages(sorted({r.person_id for r in rows})):
            refresh(desk, session, some)
        beside_pages = desk.config.files.letters / batch.file_name
        off = [*(_number(r) for r in rows if r.id in pulled), *(o.number for o in odd)]
        note_posted(Path(f"{beside_pages}{ENDING}"), desk.today, off)
    seal_posted(beside_pages.parent, beside_pages.name)
    return pile


def _unreadable(desk: Desk, session: Session, batch: int) -> tuple[Pulled, ...]:
    """Return the letters on the pile to people whose record cannot be read: they do not leave."""
    if not (aside := desk.store.aside):
        return ()
    found = printed_for(session.connection(), batch, aside)
    return tuple(
        Pulled(one.number or "?", one.to, f"this record cannot be read ({aside[one.person]})")
        for one in found
    )


def _leaves(desk: Desk, session: Session, batch_id: int, posted: Sequence[tables.Letter]) -> None:
    """Keep on a batch and its letters that they left today, and by whom."""
    for some in pages(r.id for r in posted):
        session.execute(
            update(table_of(tables.Letter))
            .where(tables.Letter.id.in_(some))
            .values(posted_on=desk.today)
        )
    values = {"posted_on": desk.today, "posted_by_id": desk.by.id}
    session.execute(
        update(table_of(tables.Batch)).where(tables.Batch.id == batch_id).values(**values)
    )


def _refuse_other_pile(shown: int | None, now: int) -> None:
    if shown is not None and shown != now:
        raise Conflict(
            f"By now {now} {'letter' if now == 1 else 'letters'} must come off the pile, "
            f"not {shown}: nothing was recorded.",
            hint="Look at what to take off once more.",
        )


def _off_the_pile(printed: Sequence[tables.Letter], pulled: dict[int, str]) -> tuple[Pulled, ...]:
    """Return what lies on the pile and must not leave, with what is in one envelope with it."""
    lies = {r.id: r.pulled_why or r.held_why for r in printed} | pulled
    off, shared = ((r, lies[r.id]) for r in printed), beside(printed)
    return tuple(
        Pulled(_number(r), r.to_name, why, tuple(_number(x) for x in shared[r.id] if x is not r))
        for r, why in off
        if why
    )


@needs(Right.SEND_POST)
def mark_returned(desk: Desk, letter_number: str) -> int | None:
    """Record that a letter came back; the address is in doubt from today. Return the follow-up.

    Raises:
        NotFound: no such letter.
        Refused: it never left the house, or came back before.
    """
    with desk.store.write() as session:
        row = _letter_row(session, letter_number)
        if row.posted_on is None or row.returned_on is not None:
            why = "was not posted" if row.posted_on is None else "came back before"
            raise Refused(f"Letter {letter_number} {why}.", hint="Check the number on the letter.")
        _set(desk, session, row, "returned", returned_on=desk.today)
        refresh(desk, session, [row.person_id])
        return row.follow_up_id


@needs(Right.SEND_POST)
def hold(desk: Desk, letter_number: str, why: str) -> None:
    """Hold one letter back, with the reason.

    Raises:
        NotFound: no such letter.
        Refused: it was posted.
    """
    required(why, "A letter is not held without a reason.", hint="Add --why.")
    with desk.store.write() as session:
        row = _letter_row(session, letter_number)
        _refuse_posted(row, letter_number)
        _set(desk, session, row, "held", held_why=why.strip())


@needs(Right.SEND_POST)
def unhold(desk: Desk, letter_number: str) -> str:
    """Let a letter go that was held back; return in words how it goes.

    It is looked at again when it is printed. Where its batch was printed without it, it is
    written anew with the next letters, if it is still asked for.

    Raises:
        NotFound: no such letter.
        Refused: it was posted, or is not held back.
    """
    with desk.store.write() as session:
        row = _letter_row(session, letter_number)
        _refuse_posted(row, letter_number)
        if row.held_why is None:
            raise Refused(f"Letter {letter_number} is not held back.", hint="Nothing to let go.")
        wanted = select(tables.Batch.printed_at).where(tables.Batch.id == row.batch_id)
        if session.scalar(wanted) is None:
            _set(desk, session, row, "let_go", held_why=None)
            return "It goes out with its batch."
        anew = "let go after its batch was printed; written anew"
        _set(desk, session, row, "let_go", held_why=None, pulled_why=anew)
        return "It is written anew with the next letters, if it is still asked for."


def _refuse_posted(row: tables.Letter, letter_number: str) -> None:
    if row.posted_on is not None:
        raise Refused(f"Letter {letter_number} was posted on {row.posted_on}.")


@needs(Right.LOOK)
def reference_of_letter(desk: Desk, letter_number: str) -> str:
    """Return the reference of the person whom a letter is about.

    Raises:
        NotFound: no such letter.
    """
    with desk.store.read() as session:
        person = _letter_row(session, letter_number).person_id
        return session.scalars(select(tables.Person.ref).where(tables.Person.id == person)).one()


@needs(Right.LOOK)
def batch_id(desk: Desk, number: int) -> int:
    """Return a batch's row by its number.

    Raises:
        NotFound: no such batch.
    """
    with desk.store.read() as session:
        return batch_numbered(session, number).id


def batch_numbered(session: Session, number: int) -> tables.Batch:
    """Return a batch by its number.

    Raises:
        NotFound: no such batch.
    """
    wanted = select(whole(tables.Batch)).where(tables.Batch.number == number, stands(tables.Batch))
    row = session.scalars(wanted).one_or_none()
    if row is None:
        raise NotFound(f"There is no batch {number}.", hint="See recall letters list.")
    return row


def _refuse_going(batch: tables.Batch) -> None:
    """Refuse to post what was never printed, or has left."""
    if batch.printed_at is None or batch.posted_on is not None:
        why = "was never printed" if batch.printed_at is None else "was posted before"
        raise Refused(f"Batch {batch.number} {why}.", hint="See recall letters list.")


def _refuse_before_printed(desk: Desk, batch: tables.Batch) -> None:
    """Refuse to post on a day before the pages were there: the machine says when that was."""
    printed = desk.clock.day_of(batch.printed_at) if batch.printed_at else desk.today
    if desk.today < printed:
        raise Refused(
            f"Batch {batch.number} was printed on {say_day(printed)}: it did not leave before.",
            hint="Give that day or a later one.",
        )


def _printed(session: Session, batch: int) -> list[tables.Letter]:
    """Return the letters of a batch that were printed: they lie on the pile, pulled or not."""
    wanted = select(whole(tables.Letter)).where(
        tables.Letter.batch_id == batch,
        stands(tables.Letter),
        tables.Letter.printed_at.is_not(None),
        *readable(session, tables.Letter.person_id),
    )
    return list(session.scalars(wanted.order_by(tables.Letter.id)))


def _letter_row(session: Session, letter_number: str) -> tables.Letter:
    """Return a letter by its own number."""
    told = f'"number":{msgspec.json.encode(letter_number.strip()).decode()}'
    wanted = select(whole(tables.Letter)).where(
        tables.Letter.fields.contains(told, autoescape=True)
    )
    rows = session.scalars(wanted.where(stands(tables.Letter))).all()
    if rows:
        return rows[0]
    raise NotFound(
        f"There is no letter {letter_number}.", hint="The number stands at its top, like 3-0012."
    )


def _number(row: tables.Letter) -> str:
    number: str = msgspec.json.decode(row.fields)["number"]
    return number


def _set(desk: Desk, session: Session, row: tables.Letter, what: str, **values: Any) -> None:
    session.execute(
        update(table_of(tables.Letter)).where(tables.Letter.id == row.id).values(**values)
    )
    told = {"now": values, "person_id": row.person_id}
    history.append(session, desk.by.id, desk.now, what, "letter", row.id, **told)


def _note_posting(
    desk: Desk,
    session: Session,
    batch: int,
    posted: Sequence[tables.Letter],
    rows: Sequence[tables.Letter],
    pulled: dict[int, str],
) -> None:
    changes = [Change("posted", "batch", batch, now={"letters": len(posted)})]
    changes += [Change("posted", "letter", r.id, person_id=r.person_id) for r in posted]
    changes += [
        Change("pulled", "letter", r.id, now=pulled[r.id], person_id=r.person_id)
        for r in rows
        if r.id in pulled
    ]
    history.append_all(session, desk.by.id, desk.now, changes)
