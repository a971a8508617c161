"""What became of referrals, from a file: each row finds the referral that the register asks for.

What the desk has recorded about a referral stands: a row about it goes back. So does one for
which the register asks for no referral, or for which there are several.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.replanning import plan_people
from recall.desk.imports.file_digests import (
    Batch,
    Fresh,
    Importer,
    Loss,
    Refused,
    field_digests,
    file_digests,
    pairs,
    remember,
)
from recall.desk.imports.nearness import nearly
from recall.desk.imports.referral_ends import (
    DECIDED_ON,
    FROM_FILE,
    end,
    ended_by,
    open_again,
    under_care,
    void_rows,
)
from recall.desk.imports.visits import unknown_person
from recall.exchange.problem import Wrong
from recall.exchange.referrals_in import ReferralRow, read_referrals
from recall.records import tables
from recall.records.database.bulk import insert_numbered
from recall.records.facts.cases import stands
from recall.records.ledger.stored import BY_ITSELF
from recall.records.tables.statements import whole

NOT_ASKED = Wrong(
    "is no referral that the register asks for",
    "correct the service, ear or day; or record it by hand: recall person care, recall refer ask",
    "service",
)
ENDED_HERE = Wrong("has ended here already", "leave the row out: what stands here stays", "sent")
THE_DESKS = Wrong(
    "is followed at the desk already", "leave the row out: what was recorded here stays", "sent"
)


def _key(row: ReferralRow) -> str:
    return row.reference or f"{row.person}|{row.service}|{row.ear}|{row.sent}"


def _people(session: Session, page: Sequence[Fresh[ReferralRow]]) -> dict[str, int]:
    c = tables.Person
    refs = {fresh.row.person for fresh in page}
    return pairs(session, select(c.ref, c.id).where(c.ref.in_(refs), c.void_at.is_(None)))


def write_referrals(
    session: Session, batch: Batch, page: Sequence[Fresh[ReferralRow]]
) -> Refused[ReferralRow]:
    """Write what became of some referrals; what cannot be placed goes back."""
    people = _people(session, page)
    _plan_first(session, batch, people)
    landed: list[Fresh[ReferralRow]] = []
    back: list[tuple[Fresh[ReferralRow], Wrong]] = []
    before = file_digests(session, "referrals", [fresh.key for fresh in page])
    for fresh in page:
        number = people.get(fresh.row.person)
        meant = _place(session, number, fresh)
        if isinstance(meant, Wrong):
            back.append((fresh, meant))
            continue
        _write(session, batch, fresh, meant)
        landed.append(fresh)
        batch.changed += fresh.key in before
        batch.added += fresh.key not in before
    fields = [(fresh, field_digests({"row": fresh.digest})) for fresh in landed]
    remember(session, batch, "referrals", fields, before)
    batch.done += len(page)
    return back


def _plan_first(session: Session, batch: Batch, people: Mapping[str, int]) -> None:
    """Plan whoever waits: a referral is there once the visits that ask for it are planned."""
    waiting = _waiting(session, people)
    if waiting:
        plan_people(batch.desk, session, sorted(waiting))


def _waiting(session: Session, people: Mapping[str, int]) -> set[int]:
    c = tables.ToPlan.person_id
    return set(session.scalars(select(c).where(c.in_(people.values()))))


def _place(
    session: Session, person_id: int | None, fresh: Fresh[ReferralRow]
) -> list[tables.Referral] | Wrong:
    """Return the referral that a row is about, or why there is none or nobody."""
    if person_id is None:
        near = nearly(session, {fresh.row.person})
        return unknown_person(near.get(fresh.row.person, ""))
    return _meant(session, person_id, fresh)


def _meant(
    session: Session, person_id: int, fresh: Fresh[ReferralRow]
) -> list[tables.Referral] | Wrong:
    """Return the referral that a row is about, ear by ear, or why there is none."""
    r, row = tables.Referral, fresh.row
    mine = r.person_id == person_id, r.to == row.service, r.asked_on <= row.sent, stands(r)
    rows = session.scalars(select(whole(r)).where(*mine).order_by(r.asked_on.desc(), r.id)).all()
    fits = [one for one in rows if not set(one.ears).isdisjoint(row.ears)]
    if not fits:
        return NOT_ASKED
    last = [one for one in fits if one.asked_on == fits[0].asked_on]
    own, others = _events_of(session, [one.id for one in last], fresh.key)
    if others:
        return THE_DESKS
    ended = [one for one in last if not one.is_open]
    if any(not own or not all(ended_by(session, one, own).values()) for one in ended):
        return ENDED_HERE
    return last


def _events_of(session: Session, ids: Sequence[int], key: str) -> tuple[list[int], list[int]]:
    """Return what this row told of some referrals before, and what anybody else did."""
    e = tables.ReferralEvent
    told = e.what.not_in(BY_ITSELF)
    wanted = select(e.id, e.note, e.what).where(e.referral_id.in_(ids), stands(e))
    rows = session.execute(wanted.where(told | (e.note == _note(key)))).all()
    own = [row.id for row in rows if row.note == _note(key)]
    return own, [row.id for row in rows if row.note != _note(key)]


def _note(key: str) -> str:
    return f"{FROM_FILE}: {key}"


def key_of(note: str) -> str:
    """Return the key of the row of a file that told a stage, from the stage's note."""
    return note.removeprefix(f"{FROM_FILE}: ")


def _write(
    session: Session, batch: Batch, fresh: Fresh[ReferralRow], meant: Sequence[tables.Referral]
) -> None:
    """Store what a row tells of its referral, in the place of what it told before."""
    row, person_id = fresh.row, meant[0].person_id
    own, _others = _events_of(session, [one.id for one in meant], fresh.key)
    _void(session, batch, own, person_id, row)
    if own:
        open_again(session, batch, meant, own, row)
    events = [
        {**batch.made, "referral_id": one.id, "note": _note(fresh.key), **event}
        for one in meant
        for event in _told(row)
    ]
    for number in insert_numbered(session, tables.ReferralEvent, events):
        batch.note("added", "referral_event", number, person_id)
    if row.result or (row.ended_because is not None and row.ended_because not in DECIDED_ON):
        for one in meant:
            end(session, batch, one, row)
    if row.under_care:
        under_care(session, batch, meant, row)
    batch.to_plan.add(person_id)
    if not row.result and (row.ended_because is not None or row.under_care or own):
        batch.rewritten.add(person_id)  # what ends without a result is taken away: it is counted


def _told(row: ReferralRow) -> Iterator[dict[str, Any]]:
    """Give what became known by a row, day by day."""
    blank = {"day": None, "spoke_with": "", "reason": ""}
    for what in ("sent", "accepted", "seen"):
        if (on := getattr(row, what)) is not None:
            yield {**blank, "on": on, "what": what}
    if row.result:
        on = row.result_on or row.seen or row.accepted or row.sent
        yield {**blank, "on": on, "what": "result", "reason": row.result}
    if row.ended_because is not None:
        what = row.ended_because if row.ended_because in DECIDED_ON else "closed"
        reason = " ".join(filter(None, (row.ended_because.replace("_", " "), row.note)))
        yield {**blank, "on": row.ended, "what": what, "reason": reason}


def _void(
    session: Session, batch: Batch, own: Sequence[int], person_id: int, row: ReferralRow
) -> None:
    """Void what the row told before; a stage that it does not tell any more is taken away."""
    if not own:
        return
    e = tables.ReferralEvent
    before = set(session.scalars(select(e.what).where(e.id.in_(own))))
    for what in sorted(before - {each["what"] for each in _told(row)}):
        batch.lost.append(Loss(row.person, "stage of a referral that would go", what))
    void_rows(session, batch, tables.ReferralEvent, own, person_id)


def _about(session: Session, page: Sequence[Fresh[ReferralRow]]) -> set[int]:
    return set(_people(session, page).values())


def _check(session: Session, page: Sequence[Fresh[ReferralRow]]) -> Refused[ReferralRow]:
    """Give the rows that only the register can know to be wrong."""
    people, found = _people(session, page), []
    waiting = _waiting(session, people)
    for fresh in page:
        number = people.get(fresh.row.person)
        if number in waiting:
            continue  # planned in the transaction that writes, and looked up there
        meant = _place(session, number, fresh)
        if isinstance(meant, Wrong):
            found.append((fresh, meant))
    return found


def _sent_days(session: Session, keys: Sequence[str]) -> Mapping[str, date]:
    """Say that these rows' days are part of what they are known by."""
    return {}


REFERRALS = Importer(
    "referrals",
    read_referrals,
    lambda: _key,
    write_referrals,
    about=_about,
    check=_check,
    known_days=_sent_days,
    dated="sent",
)
