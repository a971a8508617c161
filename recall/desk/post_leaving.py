"""Letters leave the house and some come back: a batch is posted, a letter is held or returned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import msgspec
from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from recall.desk.post_printing import no_longer
from recall.desk.replanning import refresh
from recall.desk.session import Desk
from recall.errors import InputError, NotFound, Refused
from recall.records import history, tables
from recall.records.cases import pages, stands
from recall.records.history import Change

_batch: Any = tables.Batch.__table__
_letter: Any = tables.Letter.__table__


@dataclass(frozen=True)
class BatchLine:
    """A batch on the list of batches."""

    number: int
    week_on: date
    letters: int
    held: int
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


def batches(desk: Desk, limit: int = 20) -> tuple[BatchLine, ...]:
    """Return the batches, the last one first."""
    b, n = _batch.c, _letter.c
    wanted = (
        select(
            *(b.number, b.week_on, func.count(n.id), func.count(n.held_why)),
            *(b.printed_at, b.posted_on, b.file_name, b.id),
        )
        .join_from(_batch, _letter, n.batch_id == b.id, isouter=True)
        .where(stands(_batch))
        .group_by(b.id)
        .order_by(b.number.desc())
        .limit(limit)
    )
    with desk.store.read() as session:
        return tuple(BatchLine(*row) for row in session.execute(wanted))


def mark_posted(desk: Desk, batch_number: int) -> tuple[Pulled, ...]:
    """Record that a batch was posted today; return what must be taken off the pile first.

    Raises:
        NotFound: no such batch.
        Refused: it was never printed, or posted before.
    """
    with desk.store.write() as session:
        batch = _by_number(session, batch_number)
        rows = _going(session, batch["id"])
        pulled = no_longer(desk, session, rows)
        posted = [r for r in rows if r["id"] not in pulled]
        for number, why in pulled.items():
            session.execute(update(_letter).where(_letter.c.id == number).values(pulled_why=why))
        for some in pages(r["id"] for r in posted):
            session.execute(
                update(_letter).where(_letter.c.id.in_(some)).values(posted_on=desk.today)
            )
        values = {"posted_on": desk.today, "posted_by_id": desk.by.id}
        session.execute(update(_batch).where(_batch.c.id == batch["id"]).values(**values))
        _note_posting(desk, session, batch["id"], posted, rows, pulled)
        for some in pages(sorted({r["person_id"] for r in rows})):
            refresh(desk, session, some)
    return tuple(
        Pulled(_number(r), r["to_name"], pulled[r["id"]]) for r in rows if r["id"] in pulled
    )


def mark_returned(desk: Desk, letter_number: str) -> int:
    """Record that a letter came back; the address is in doubt from today. Return the follow-up.

    Raises:
        NotFound: no such letter.
        Refused: it never left the house, or came back before.
    """
    with desk.store.write() as session:
        row = _letter_row(session, letter_number)
        if row["posted_on"] is None or row["returned_on"] is not None:
            why = "was not posted" if row["posted_on"] is None else "came back before"
            raise Refused(f"Letter {letter_number} {why}.", hint="Check the number on the letter.")
        _set(desk, session, row, "returned", returned_on=desk.today)
        refresh(desk, session, [row["person_id"]])
        follow_up: int = row["follow_up_id"]
        return follow_up


def hold(desk: Desk, letter_number: str, why: str) -> None:
    """Hold one letter back, with the reason.

    Raises:
        NotFound: no such letter.
        Refused: it was posted.
    """
    if not why.strip():
        raise InputError("A letter is not held without a reason.", hint="Add --why.")
    with desk.store.write() as session:
        row = _letter_row(session, letter_number)
        _refuse_posted(row, letter_number)
        _set(desk, session, row, "held", held_why=why.strip())


def unhold(desk: Desk, letter_number: str) -> None:
    """Let a letter go that was held back; it is looked at again when it is printed.

    Raises:
        NotFound: no such letter.
        Refused: it was posted, or has no text.
    """
    with desk.store.write() as session:
        row = _letter_row(session, letter_number)
        _refuse_posted(row, letter_number)
        if not row["body"]:
            raise Refused(f"Letter {letter_number} has no text.", hint="Mend the wording first.")
        _set(desk, session, row, "let_go", held_why=None, pulled_why=None)


def _refuse_posted(row: Any, letter_number: str) -> None:
    if row["posted_on"] is not None:
        raise Refused(f"Letter {letter_number} was posted on {row['posted_on']}.")


def batch_id(desk: Desk, number: int) -> int:
    """Return a batch's row by its number.

    Raises:
        NotFound: no such batch.
    """
    with desk.store.read() as session:
        found: int = _by_number(session, number)["id"]
        return found


def _by_number(session: Session, number: int) -> Any:
    wanted = select(_batch).where(_batch.c.number == number, stands(_batch))
    row = session.execute(wanted).mappings().one_or_none()
    if row is None:
        raise NotFound(f"There is no batch {number}.", hint="See recall letters list.")
    return row


def _going(session: Session, number: int) -> list[Any]:
    """Return the letters of a batch that are on the pile."""
    c = _letter.c
    wanted = select(_letter).where(
        c.batch_id == number, stands(_letter), c.held_why.is_(None), c.pulled_why.is_(None)
    )
    batch = session.execute(select(_batch).where(_batch.c.id == number)).mappings().one()
    if batch["printed_at"] is None or batch["posted_on"] is not None:
        why = "was never printed" if batch["printed_at"] is None else "was posted before"
        raise Refused(f"Batch {batch['number']} {why}.", hint="See recall letters list.")
    return list(session.execute(wanted.where(c.printed_at.is_not(None))).mappings())


def _letter_row(session: Session, letter_number: str) -> Any:
    """Return a letter by its own number, which begins with its batch's."""
    batch, _, _rest = letter_number.partition("-")
    if batch.isdigit():
        number = _by_number(session, int(batch))["id"]
        wanted = select(_letter).where(_letter.c.batch_id == number, stands(_letter))
        for row in session.execute(wanted).mappings():
            if _number(row) == letter_number:
                return row
    raise NotFound(
        f"There is no letter {letter_number}.", hint="The number stands at its top, like 3-0012."
    )


def _number(row: Any) -> str:
    number: str = msgspec.json.decode(row["fields"])["number"]
    return number


def _set(desk: Desk, session: Session, row: Any, what: str, **values: Any) -> None:
    session.execute(update(_letter).where(_letter.c.id == row["id"]).values(**values))
    told = {"now": values, "person_id": row["person_id"]}
    history.append(session, desk.by.id, desk.now, what, "letter", row["id"], **told)


def _note_posting(
    desk: Desk,
    session: Session,
    batch: int,
    posted: Sequence[Any],
    rows: Sequence[Any],
    pulled: dict[int, str],
) -> None:
    changes = [Change("posted", "batch", batch, now={"letters": len(posted)})]
    changes += [Change("posted", "letter", r["id"], person_id=r["person_id"]) for r in posted]
    changes += [
        Change("pulled", "letter", r["id"], now=pulled[r["id"]], person_id=r["person_id"])
        for r in rows
        if r["id"] in pulled
    ]
    history.append_all(session, desk.by.id, desk.now, changes)
