"""The week's letters: written into the register first, printed from there, posted, returned.

A follow-up gets each letter step once in a round and for each home, whatever is run how
often. Who may be written to is asked when a letter is written, printed and posted.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import msgspec
from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from recall.desk.post_choosing import Chosen, choose, monday_of
from recall.desk.post_writing import BY_EMAIL, AdultName, Draft, drafts
from recall.desk.session import Desk
from recall.desk.whom import Whom, whom
from recall.errors import LetterError
from recall.letters.compose import compose
from recall.letters.composed import ComposedLetter, to_json
from recall.letters.pages import unprintable
from recall.letters.wording import Wording
from recall.loop.addressee import addressees
from recall.records import history, tables
from recall.records.cases import pages
from recall.records.history import Change

_adult: Any = tables.AdultFor.__table__
_batch: Any = tables.Batch.__table__
_letter: Any = tables.Letter.__table__


@dataclass(frozen=True)
class NotWritten:
    """A follow-up to which no letter could be written, and why."""

    reference: str
    follow_up_id: int
    because: str


@dataclass(frozen=True)
class Prepared:
    """A week's batch: what was written into it now."""

    batch_id: int | None
    """None where nothing was due."""
    number: int | None
    week_on: date
    written: int
    held: int
    not_written: tuple[NotWritten, ...]
    backlog_left: int
    unconfirmed: int


@dataclass(frozen=True)
class _Written:
    """A letter in words, ready for its row."""

    chosen: Chosen
    draft: Draft
    composed: ComposedLetter | None
    held_why: str | None


def prepare(desk: Desk, week_of: date | None = None) -> Prepared:
    """Write the letters that are due by the end of a week; pages are made afterwards.

    Args:
        desk: who acts, on which day.
        week_of: any day of the week; the desk's own week where it is left out.
    """
    week_on = monday_of(week_of or desk.today)
    with desk.store.write() as session:
        choice = choose(desk, session, week_on)
        ids = [c.stood.person_id for c in choice.chosen]
        people = whom(session, ids, desk.today, desk.protocol.contact)
        number = (session.scalar(select(func.max(_batch.c.number))) or 0) + 1
        adults = _adults(session, ids)
        refused: list[NotWritten] = []
        written = list(_write(desk, choice.chosen, people, adults, number, refused))
        batch_id = _store(desk, session, number, week_on, written) if written else None
        if batch_id is None:
            batch_id, number = _last_batch(session, week_on)
    return Prepared(
        batch_id=batch_id,
        number=number,
        week_on=week_on,
        written=len(written),
        held=sum(w.held_why is not None for w in written),
        not_written=tuple(refused),
        backlog_left=choice.backlog_left,
        unconfirmed=choice.unconfirmed,
    )


def _adults(session: Session, person_ids: Sequence[int]) -> dict[int, AdultName]:
    c = _adult.c
    found: dict[int, AdultName] = {}
    for some in pages(sorted(set(person_ids))):
        wanted = select(c.id, c.name, c.language, c.format).where(c.person_id.in_(some))
        found |= {number: AdultName(*told) for number, *told in session.execute(wanted)}
    return found


def _write(
    desk: Desk,
    chosen: Sequence[Chosen],
    people: dict[int, Whom],
    adults: dict[int, AdultName],
    batch: int,
    refused: list[NotWritten],
) -> Iterator[_Written]:
    """Give the letters in words; a follow-up that nobody may be written about is told instead."""
    wording = Wording(desk.config.files.wording)
    numbers = (f"{batch}-{n:04d}" for n in range(1, 1_000_000))
    for one in chosen:
        who = people[one.stood.person_id]
        found = addressees(who.reach.person, desk.today, desk.protocol.contact)
        if not found.to:
            refused.append(NotWritten(who.reference, one.follow_up_id, found.none_because))
            continue
        for draft in drafts(one, who, found.to, adults, desk.config, desk.today, numbers):
            yield _composed(one, draft, wording)


def _composed(chosen: Chosen, draft: Draft, wording: Wording) -> _Written:
    try:
        composed = compose(draft.data, wording)
    except LetterError as error:
        return _Written(chosen, draft, None, str(error))
    if draft.format in BY_EMAIL:
        because = "" if draft.email else f"{draft.format.replace('_', ' ')} is wanted, no address"
    else:
        because = unprintable(composed)
    return _Written(chosen, draft, composed, because or None)


def _store(
    desk: Desk, session: Session, number: int, week_on: date, written: Sequence[_Written]
) -> int:
    """Keep the batch and its letters with their text."""
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id}
    values = {"number": number, "week_on": week_on, "file_name": "", "note": "", **made}
    batch_id: int = session.execute(insert(_batch).returning(_batch.c.id), values).scalar_one()
    rows = [{**_row(letter), "batch_id": batch_id, **made} for letter in written]
    statement = insert(_letter).returning(_letter.c.id, sort_by_parameter_order=True)
    ids = session.scalars(statement, rows).all()
    changes = [Change("prepared", "batch", batch_id, now={"letters": len(rows)})]
    changes += [
        Change("written", "letter", n, now={"step": row["step"]}, person_id=row["person_id"])
        for n, row in zip(ids, rows, strict=True)
    ]
    history.append_all(session, desk.by.id, desk.now, changes)
    return batch_id


def _row(letter: _Written) -> dict[str, Any]:
    data, draft = letter.draft.data, letter.draft
    fields = {
        "number": data.number,
        "backlog": letter.chosen.is_backlog,
        "email": draft.email,
    }
    return {
        "person_id": letter.chosen.stood.person_id,
        "follow_up_id": letter.chosen.follow_up_id,
        "round": letter.chosen.round,
        "step": letter.chosen.step,
        "home": draft.home,
        "kind": data.kind,
        "language": data.language,
        "format": draft.format,
        "adult_id": draft.adult_id,
        "reach_id": draft.reach_id,
        "to_name": data.recipient[0],
        "to_lines": data.recipient[1:],
        "body": to_json(letter.composed).decode() if letter.composed else "",
        "fields": msgspec.json.encode(fields).decode(),
        "held_why": letter.held_why,
    }


def _last_batch(session: Session, week_on: date) -> tuple[int | None, int | None]:
    c = _batch.c
    wanted = select(c.id, c.number).where(c.week_on == week_on).order_by(c.id.desc()).limit(1)
    found = session.execute(wanted).one_or_none()
    return (found.id, found.number) if found else (None, None)
