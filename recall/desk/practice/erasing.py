"""Erasing what is held on one person, with two keys; and again in a backup that is put back.

The first who may asks, a second one who may does it: within two weeks, each by the person's
name, typed. Where one person works alone, they do it on another day. Nobody is erased for whom
something is open, and nothing is erased by the program of itself. Source of the right and of its
limits, a legal duty to keep among them: UK GDPR, article 17(1) and (3).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.config import Config
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.required import required
from recall.desk.core.rights import Right, Role
from recall.desk.core.session import Desk, staff
from recall.desk.people.deaths import check_name
from recall.desk.post import erased_letters
from recall.errors import Refused
from recall.records import tables
from recall.records.database import erased_list, servers
from recall.records.database.erased_list import Erased
from recall.records.facts.cases import stands
from recall.records.journal import history
from recall.records.journal.history import Change
from recall.records.people import erasing

ASKED, DONE = "erasure_asked", "person_erased"
"""What the two lines of the history say."""
STALE = timedelta(days=14)
"""What was asked for longer ago is asked for anew. Common practice, no source."""


@dataclass(frozen=True)
class Outcome:
    """What came of it."""

    done: bool
    """False: it is asked for, and waits for the second key."""
    rows: int = 0
    files: int = 0
    to_do: str = ""
    """What is left to be done, where somebody read the register meanwhile."""


@dataclass(frozen=True)
class _Key:
    by_id: int
    at: datetime


@needs(Right.ERASE)
def erase_person(desk: Desk, ref: str, typed_name: str, why: str) -> Outcome:
    """Ask for, or as the second one do, the erasure of everything held on somebody.

    Raises:
        NotFound: no such reference.
        Refused: the name is another, something is open, or the second key is not there.
    """
    required(why, "The erasure is without words.", hint="Say on what ground, in no names.")
    with desk.store.write() as session:
        person = person_row(session, ref)
        check_name(person, typed_name)
        _refuse_open(session, person.id, desk)
        first = _asked(session, person.id, desk.now)
        if first is None:
            line = Change(ASKED, "person", person.id, None, why.strip(), person.id)
            history.append_all(session, desk.by.id, desk.now, [line])
            return Outcome(done=False)
        _refuse_same(desk, first)
        batches = erased_letters.letters_in_batches(session, person.id)
        one = Erased(person.id, person.recorded_at)
        told = {"asked_by": first.by_id, "why": why.strip()}
        rows = _erase(session, person.id, desk.by.id, desk.now, told)
        mark = session.scalars(select(tables.Register.mark)).one()
        erased_list.add(lists_of(desk.config), mark, one)
        files = erased_letters.take_away(desk.config.files.letters, batches)
    return Outcome(True, rows, files, _overwritten(desk.store.path))


def _overwritten(place: Path) -> str:
    """Overwrite what is free where the register lies; return what is left to do."""
    if erased_list.overwrite_free_space(place):
        return ""
    if servers.address_of(place):
        return (
            "The register is in use: close all desks, and let whoever looks after the server run "
            "VACUUM (FULL, ANALYZE) in its database."
        )
    return "The register is in use: close all desks once, and its file is overwritten."


def erase_again(session: Session, config: Config, backup: Path, by_id: int, at: datetime) -> int:
    """Erase in a register that is put back whoever was erased after its backup was made.

    Raises:
        StorageError: a list of who was erased is there and cannot be read.
    """
    lists = lists_of(config, backup.parent, backup.parent.parent)
    mark = session.scalars(select(tables.Register.mark)).one()
    p, count = tables.Person, 0
    for one in sorted(erased_list.on_lists(lists, mark), key=lambda x: x.person):
        mine = p.id == one.person, p.recorded_at == one.recorded_at
        found = session.execute(select(p.id, p.void_why).where(*mine)).one_or_none()
        if found is not None and found.void_why != erasing.ERASED:
            _erase(session, found.id, by_id, at, {"why": "erased before the restore"})
            count += 1
    return count


@needs(Right.MAINTAIN)
def spread_lists(desk: Desk) -> None:
    """Bring every list of who was erased up to date, where a place was not there that day."""
    with desk.store.read() as session:
        mark = session.scalars(select(tables.Register.mark)).one()
    erased_list.add(lists_of(desk.config), mark)


def lists_of(config: Config, *more: Path) -> list[Path]:
    """Return where it is kept who was erased."""
    files = config.files
    return erased_list.paths_of(files.database, (files.backups, files.backups_elsewhere, *more))


def _erase(session: Session, person: int, by_id: int, at: datetime, told: dict[str, Any]) -> int:
    rows = erasing.erase(session, person, by_id, at)
    now = told | {"rows": rows}
    history.append_all(session, by_id, at, [Change(DONE, "person", person, None, now, person)])
    return rows


def _asked(session: Session, person_id: int, now: datetime) -> _Key | None:
    """Return the first key, where it is not too old."""
    h = tables.History
    lines = h.entity == "person", h.entity_id == person_id, h.what == ASKED
    wanted = select(h.by_id, h.at).where(*lines).order_by(h.id.desc()).limit(1)
    found = session.execute(wanted).one_or_none()
    return _Key(*found) if found and now - found.at <= STALE else None


def _refuse_same(desk: Desk, first: _Key) -> None:
    if first.by_id != desk.by.id:
        return
    here = [s for s in staff(desk.store) if s.role is not Role.JOBS and s.left_on is None]
    if len(here) > 1:
        raise Refused(
            f"{desk.by.handle} asked for it: a second one has to do it.",
            hint="A clinical lead or the manager who did not ask, within two weeks.",
        )
    if desk.clock.day_of(desk.now) <= desk.clock.day_of(first.at):
        raise Refused("It was asked for today.", hint="Whoever works alone does it another day.")


def _refuse_open(session: Session, person_id: int, desk: Desk) -> None:
    """Refuse while somebody still has to do something for them."""
    f, r, m = tables.FollowUp, tables.Referral, tables.Matter
    found = {
        "follow-up": _count(session, f.person_id == person_id, f.is_open, stands(f)),
        "referral": _count(session, r.person_id == person_id, r.is_open, stands(r)),
        "matter": _count(session, m.person_id == person_id, m.is_open, stands(m)),
        "appointment to come": _coming(session, person_id, desk),
        "letter not posted": _not_posted(session, person_id),
    }
    if any(found.values()):
        told = ", ".join(f"{count} {words}" for words, count in found.items() if count)
        raise Refused(
            f"Something is open for them: {told}.",
            hint="Close each with its reason first; nobody is forgotten by being erased.",
        )


def _count(session: Session, *held: Any) -> int:
    return session.scalar(select(func.count()).where(*held)) or 0


def _coming(session: Session, person_id: int, desk: Desk) -> int:
    b, e = tables.Booking, tables.BookingEvent
    over = select(e.booking_id).where(stands(e))
    begins = datetime.combine(desk.today, datetime.min.time())
    coming = b.starts_local >= begins, b.id.not_in(over), stands(b)
    return _count(session, b.person_id == person_id, *coming)


def _not_posted(session: Session, person_id: int) -> int:
    p = tables.Letter
    waits = p.posted_on.is_(None), p.pulled_why.is_(None), p.held_why.is_(None), stands(p)
    return _count(session, p.person_id == person_id, *waits)
