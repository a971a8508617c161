"""The week's letters: written into the register first, printed from there, posted, returned.

A follow-up gets each letter step once in a round and for each home, whatever is run how
often. Who may be written to is asked when a letter is written, printed and posted.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import msgspec
from sqlalchemy import func, insert, select, update
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.post.choosing import AlsoDone, Choice, Chosen, Key, choose, written_for
from recall.desk.post.envelopes import envelope, together
from recall.desk.post.letter_keys import left_unknown
from recall.desk.post.occasions import occasions
from recall.desk.post.of_sites import of_shown
from recall.desk.post.weekly import monday_of
from recall.desk.post.writing import AdultName, Draft, Recipients, drafts
from recall.desk.referrals.colleague_letters import kept_fields
from recall.errors import Conflict, LetterError
from recall.letters.compose import compose
from recall.letters.composed import ComposedLetter, to_json
from recall.letters.pages import unprintable
from recall.letters.wording import Wording
from recall.loop.addressee import addressees
from recall.records import tables
from recall.records.facts.candidates import of_sites
from recall.records.facts.cases import pages, readable, stands
from recall.records.facts.happened import BY_EMAIL
from recall.records.journal import history
from recall.records.journal.history import Change
from recall.records.tables.statements import read_as, table_of
from recall.schedule.calendar import say_day

_TRIES = 5
AGAIN_AFTER = timedelta(weeks=8)
"""After so long a letter that a restored register does not know is no reason to hold another."""
_Drafted = tuple[Chosen, Draft]


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
    left_out: tuple[str, ...] = ()
    """Whose record cannot be read: no letter was made for them."""


@dataclass(frozen=True)
class _Written:
    """A letter in words, ready for its row."""

    chosen: Chosen
    draft: Draft
    composed: ComposedLetter | None
    unfit: str | None
    """Why it cannot be printed as it is; it is written anew the next time."""
    held: str | None = None
    """Why it waits until somebody lets it go."""


@dataclass(frozen=True)
class _Waits:
    """A letter to a colleague that waits for the next batch."""

    id: int
    person_id: int


@dataclass(frozen=True)
class _Week:
    """A week's letters in words, before they are kept."""

    number: int
    choice: Choice
    written: tuple[_Written, ...]
    not_written: tuple[NotWritten, ...]

    def versions(self) -> dict[int, int]:
        """Return the versions of the follow-ups that the letters were written from."""
        found = {w.chosen.follow_up_id: w.chosen.about.version for w in self.written}
        also = (one.about for w in self.written for one in w.chosen.also)
        return found | {s.follow_up_id: s.version for s in also if s.follow_up_id}


@needs(Right.SEND_POST, for_the_others=True)
def prepare(desk: Desk, week_of: date | None = None) -> Prepared:
    """Write the letters that are due by the end of a week; pages are made afterwards.

    They are composed while the desks go on working, and kept at once if nothing that they were
    written from changed meanwhile; otherwise they are composed again. Whose record cannot be
    read is left out, and said.

    Args:
        desk: who acts, on which day.
        week_of: any day of the week; the desk's own week where it is left out.

    Raises:
        Conflict: the desks changed something each time.
    """
    desk.store.look_through()
    week_on = monday_of(week_of or desk.today)
    for _ in range(_TRIES):
        with desk.store.read() as session:
            week = _compose(desk, session, week_on)
        with desk.store.write() as session:
            waiting = _waiting(desk, session)
            if _changed(session, week):
                continue
            made = _last_batch(session, week_on)
            if week.written or waiting:
                made = _keep(desk, session, week_on, week, waiting), week.number
        return Prepared(
            *made,
            week_on=week_on,
            written=len(week.written) + len(waiting),
            held=sum((w.unfit or w.held) is not None for w in week.written),
            not_written=week.not_written,
            backlog_left=week.choice.backlog_left,
            unconfirmed=week.choice.unconfirmed,
            left_out=desk.store.left_out,
        )
    raise Conflict(
        "The letters could not be kept: the desks changed something each time.",
        hint="Try again; nothing was written.",
    )


def _compose(desk: Desk, session: Session, week_on: date) -> _Week:
    """Choose the letters of a week and put them into words."""
    only_shown(desk, session)
    choice = choose(desk, session, week_on)
    chosen = (*choice.chosen, *occasions(desk, session))
    ids = [c.about.person_id for c in chosen]
    known = _Known(
        person_headers(session, ids, desk.today, desk.protocol.contact),
        adult_names(session, ids),
        _homes(session, chosen),
        left_unknown(session),
    )
    number = _next_number(session)
    refused: list[NotWritten] = []
    written = tuple(_write(desk, chosen, known, number, refused))
    return _Week(number, choice, written, tuple(refused))


def _next_number(session: Session) -> int:
    return (session.scalar(select(func.max(tables.Batch.number))) or 0) + 1


def _changed(session: Session, week: _Week) -> bool:
    """Say whether anything changed that the letters were written from."""
    if _next_number(session) != week.number:
        return True
    versions, c = week.versions(), tables.FollowUp
    for some in pages(versions):
        now = session.execute(select(c.id, c.version).where(c.id.in_(some), c.is_open))
        if dict(now.all()) != {number: versions[number] for number in some}:
            return True
    return not {w.chosen.key for w in week.written}.isdisjoint(written_for(session, [*versions]))


def _waiting(desk: Desk, session: Session) -> Sequence[_Waits]:
    """Return letters that were written beside the week's: to colleagues, waiting for the post."""
    only_shown(desk, session)
    c = tables.Letter
    wanted = select(read_as(_Waits, c)).where(c.batch_id.is_(None), stands(c))
    wanted = wanted.where(*of_sites(session, c.person_id), *readable(session, c.person_id))
    free = wanted.where(c.held_why.is_(None), c.pulled_why.is_(None), c.printed_at.is_(None))
    return session.scalars(free.order_by(c.id)).all()


def _homes(session: Session, chosen: Sequence[Chosen]) -> dict[Key, int]:
    """Return the places that letters of a step have had, pulled and voided ones included."""
    c = tables.Letter
    found: dict[Key, int] = {}
    for some in pages(sorted({one.follow_up_id for one in chosen})):
        wanted = (
            select(c.follow_up_id, c.round, c.step, func.max(c.home))
            .where(c.follow_up_id.in_(some))
            .group_by(c.follow_up_id, c.round, c.step)
        )
        for number, turn, step, home in session.execute(wanted):
            if number is not None:
                found[number, turn, step] = home
    return found


def adult_names(session: Session, person_ids: Sequence[int]) -> dict[int, AdultName]:
    """Return the names of everybody who answers for some people, by the adult's number."""
    c = tables.AdultFor
    found: dict[int, AdultName] = {}
    for some in pages(sorted(set(person_ids))):
        wanted = select(c.id, read_as(AdultName, c)).where(c.person_id.in_(some))
        found |= dict(session.execute(wanted).all())
    return found


@dataclass(frozen=True, slots=True)
class _Known:
    """What the register has about those whom a week's letters are about."""

    people: dict[int, PersonHeader]
    adults: dict[int, AdultName]
    homes: dict[Key, int]
    left: dict[tuple[str, str], str]
    """When a letter of a step left for somebody that a restored register does not know."""


def _write(
    desk: Desk, chosen: Sequence[Chosen], known: _Known, batch: int, refused: list[NotWritten]
) -> Iterator[_Written]:
    """Give the letters in words, those of one envelope one after another.

    A follow-up that nobody may be written about is told instead.
    """
    wording = Wording(desk.config.files.wording)
    found = together(_drafts(desk, chosen, known, refused), _envelope_of)
    for n, (one, draft) in enumerate(found, 1):
        data = msgspec.structs.replace(draft.data, number=f"{batch}-{n:04d}")
        made = _composed(one, replace(draft, data=data), wording)
        yield _held_if_left(desk, made, known)


def _held_if_left(desk: Desk, made: _Written, known: _Known) -> _Written:
    """Hold a letter of a step that left lately and that the restored register does not know."""
    reference = known.people[made.chosen.about.person_id].reference
    left = known.left.get((reference, made.chosen.step))
    if left is None or desk.today - date.fromisoformat(left) > AGAIN_AFTER:
        return made
    because = f"One left on {say_day(date.fromisoformat(left))}, before the register was restored."
    return replace(made, held=because)


def _drafts(
    desk: Desk, chosen: Sequence[Chosen], known: _Known, refused: list[NotWritten]
) -> Iterator[_Drafted]:
    for one in chosen:
        who = known.people[one.about.person_id]
        found = addressees(who.reachable.person, desk.today, desk.protocol.contact)
        if not found.to:
            refused.append(NotWritten(who.reference, one.follow_up_id, found.none_because))
            continue
        recipients = Recipients(who, found.to, known.adults)
        for draft in drafts(one, recipients, desk, known.homes.get(one.key, 0)):
            yield one, draft


def _envelope_of(drafted: _Drafted) -> Hashable:
    chosen, draft = drafted
    to, about = draft.data.recipient, chosen.about.person_id
    return envelope(draft.data.kind, draft.format, to, draft.adult_id, about)


def _composed(chosen: Chosen, draft: Draft, wording: Wording) -> _Written:
    try:
        composed = compose(draft.data, wording)
    except LetterError as error:
        return _Written(chosen, draft, None, str(error))
    because = "" if draft.format in BY_EMAIL else unprintable(composed)
    return _Written(chosen, draft, composed, because or None)


def _keep(
    desk: Desk, session: Session, week_on: date, week: _Week, waiting: Sequence[_Waits]
) -> int:
    """Keep the batch and its letters with their text; those that waited join it."""
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id}
    values = {"number": week.number, "week_on": week_on, "file_name": "", "note": "", **made}
    making = insert(table_of(tables.Batch)).returning(tables.Batch.id)
    batch_id = session.scalars(making, values).one()
    rows = [{**_row(letter), "batch_id": batch_id, **made} for letter in week.written]
    ids: Sequence[int] = ()
    if rows:
        statement = insert(table_of(tables.Letter)).returning(
            tables.Letter.id, sort_by_parameter_order=True
        )
        ids = session.scalars(statement, rows).all()
        also = [
            {**_also(one), "letter_id": number, **made}
            for number, letter in zip(ids, week.written, strict=True)
            for one in letter.chosen.also
        ]
        if also:
            session.execute(insert(table_of(tables.AlsoAbout)), also)
    joined = tables.Letter.id.in_([row.id for row in waiting])
    session.execute(update(table_of(tables.Letter)).where(joined).values(batch_id=batch_id))
    told = {"letters": len(rows) + len(waiting)}
    changes = [Change("prepared", "batch", batch_id, now=told)]
    changes += [
        Change("written", "letter", n, now={"step": row["step"]}, person_id=row["person_id"])
        for n, row in zip(ids, rows, strict=True)
    ]
    changes += [
        Change("joined", "letter", row.id, now={"batch": week.number}, person_id=row.person_id)
        for row in waiting
    ]
    history.append_all(session, desk.by.id, desk.now, changes)
    return batch_id


def _also(one: AlsoDone) -> dict[str, Any]:
    return {"follow_up_id": one.about.follow_up_id, "round": one.step.round, "step": one.step.kind}


def _row(letter: _Written) -> dict[str, Any]:
    data, draft = letter.draft.data, letter.draft
    return {
        "person_id": letter.chosen.about.person_id,
        "follow_up_id": letter.chosen.follow_up_id,
        "round": letter.chosen.round,
        "step": letter.chosen.step,
        "home": draft.home,
        "kind": data.kind,
        "language": data.language,
        "format": draft.format,
        "adult_id": draft.adult_id,
        "contact_point_id": draft.contact_point_id,
        "to_name": data.recipient[0],
        "to_lines": data.recipient[1:],
        "body": to_json(letter.composed).decode() if letter.composed else "",
        "fields": kept_fields(data.number, is_backlog=letter.chosen.is_backlog, email=draft.email),
        "pulled_why": letter.unfit,
        "held_why": letter.held,
    }


def _last_batch(session: Session, week_on: date) -> tuple[int | None, int | None]:
    c = tables.Batch
    mine = c.week_on == week_on, *of_shown(session)
    wanted = select(c.id, c.number).where(*mine).order_by(c.id.desc()).limit(1)
    return session.execute(wanted).one_or_none() or (None, None)
