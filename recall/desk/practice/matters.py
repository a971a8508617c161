"""Seeing to what is no recall: writing a matter down, passing it on, closing it by name.

Only whoever owns a matter closes it, or those who keep the staff: nobody's work vanishes
under another's hand. What is done about somebody can be taken back like any other action.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act, Next, in_words, row_of
from recall.desk.core.guarding import always, needs
from recall.desk.core.person_lookup import person_id
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, staff_member
from recall.desk.visits.questions import words_of_alarm
from recall.desk.worklists.matter_list import is_mine, say_owner
from recall.errors import Conflict, InputError, Refused
from recall.loop.matters import BY_HAND, KIND, OWNERS, TELL_THEM, close_words, owner_of_word
from recall.records import tables
from recall.schedule.calendar import say_day

Owned = dict[str, Any]
"""The two columns that say whose a matter is: a person's number, or a role."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A matter as it is written down."""

    kind: str
    text: str
    owner: str = ""
    """A handle or a role; the kind's own role where left out."""
    due: date | None = None
    """By when; so many working days as its kind has, where left out."""


@needs(Right.REACH, never_waits=always)
def write_down(desk: Desk, ref: str | None, entry: Entry) -> Next:
    """Write a matter down, about somebody or about nobody in the register.

    Raises:
        InputError: no such kind or owner, no words, or a day that has gone by.
        NotFound: no such person.
    """
    kind = KIND.get(entry.kind)
    if kind is None or not kind.by_hand:
        raise InputError(f"{entry.kind!r} is no kind.", hint=f"It may be: {', '.join(BY_HAND)}.")
    required(entry.text, f"{kind.title} needs words.", hint=f"{kind.asks}.")
    due = entry.due or desk.calendar.working_days_after(desk.today, kind.days)
    _check_day(desk, due)
    owner = owner_of(desk, entry.owner or kind.owner)
    with desk.store.write() as session:
        act = Act(desk, session, None if ref is None else person_id(session, ref))
        values = {"kind": kind.id, "text": entry.text.strip(), "due_on": due, **owner}
        made = act.add("matter", person_id=act.about, **values)
        whose = say_owner(session, owner["owner_id"], owner["owner_role"])
        alarm = words_of_alarm(entry.text)
        words = (
            f"{kind.title}, for {whose} by {say_day(due, weekday=True)}.",
            f"It speaks of {alarm}: hand the person over to a clinician now." if alarm else "",
        )
        return act.finish("matter", in_words(words), made=made)


@needs(Right.REACH, never_waits=always)
def pass_on(desk: Desk, number: int, to: str, *, due: date | None = None, why: str = "") -> Next:
    """Give a matter to somebody else or to a role; its day stays unless another is given.

    Raises:
        NotFound: no such matter, or nobody of that name.
        Conflict: it is closed.
    """
    if due is not None:
        _check_day(desk, due)
    owner = owner_of(desk, to)
    with desk.store.write() as session:
        row = _open(session, number)
        act = Act(desk, session, row.person_id)
        act.set("matter", number, **owner, **({"due_on": due} if due else {}))
        if why.strip():
            act.note(why.strip(), "matter", number)
        whose = say_owner(session, owner["owner_id"], owner["owner_role"])
        until = say_day(due or row.due_on, weekday=True)
        return act.finish("matter", f"Passed to {whose}, by {until}.")


@needs(Right.REACH, never_waits=always)
def close(desk: Desk, number: int, how: str, text: str = "") -> Next:
    """Close a matter by one of the closes of its kind, with words where its kind asks for them.

    An answer that somebody else is to pass on becomes that person's own matter.

    Raises:
        NotFound: no such matter.
        Conflict: it is closed already.
        InputError: no close of its kind, or no words.
        Refused: it is somebody else's.
    """
    with desk.store.write() as session:
        row = _open(session, number)
        kind = KIND[row.kind]
        closes = dict(kind.closes)
        if how not in closes:
            raise InputError(
                f"{how!r} closes no {kind.id}.", hint=f"It may be: {', '.join(closes)}."
            )
        if kind.says_how and how != "not_needed":
            required(text, "It is closed without words.", hint="Say what came of it.")
        _mine(desk, session, row)
        act = Act(desk, session, row.person_id)
        ended = {"closed_on": desk.today, "closed_at": act.at, "closed_by_id": desk.by.id}
        act.set("matter", number, is_open=False, closed_how=how, closed_text=text.strip(), **ended)
        told = f"{kind.title}: {close_words(row.kind, how)}."
        if how == TELL_THEM:
            told = in_words((told, _to_tell(act, row, text.strip())))
        return act.finish("matter", told)


def _to_tell(act: Act, row: tables.Matter, answer: str) -> str:
    """Write down that whoever took a message passes the answer on, and say so."""
    asked = " ".join(row.text.split())
    text = f"{answer} (They asked: {asked})"
    act.add(
        "matter",
        person_id=row.person_id,
        kind="answer",
        text=text,
        due_on=act.desk.today,
        **_taker(act.session, row.by_id),
    )
    return "The answer is on the list of whoever took the message."


def _taker(session: Session, number: int) -> Owned:
    """Return whoever took a message as an owner; their role where they have left."""
    c = tables.Staff
    role, left_on = session.execute(select(c.role, c.left_on).where(c.id == number)).one()
    if left_on is None and role in OWNERS:
        return {"owner_id": number, "owner_role": None}
    return {"owner_id": None, "owner_role": role if role in OWNERS else OWNERS[0]}


@needs(Right.LOOK)
def owner_of(desk: Desk, name: str) -> Owned:
    """Return the owner that a role or a handle means.

    Raises:
        NotFound: nobody here is called so.
        InputError: it is the jobs' handle.
    """
    if (role := owner_of_word(name)) is not None:
        return {"owner_id": None, "owner_role": role}
    who = staff_member(desk.store, name.strip(), desk.today)
    if who.role not in OWNERS:
        raise InputError("The jobs see to nothing.", hint="Name a person or a role.")
    return {"owner_id": who.id, "owner_role": None}


def _open(session: Session, number: int) -> tables.Matter:
    row = row_of(session, tables.Matter, number)
    if not row.is_open:
        raise Conflict(f"Matter {number} is closed already.", hint="Look at the list again.")
    return row


def _mine(desk: Desk, session: Session, row: tables.Matter) -> None:
    """Refuse what is somebody else's to see to."""
    if desk.allows(Right.KEEP_STAFF) or is_mine(desk, session, row.owner_id, row.owner_role):
        return
    whose = say_owner(session, row.owner_id, row.owner_role)
    raise Refused(
        f"Matter {row.id} is for {whose}, not {desk.by.handle}.",
        hint="Pass it to yourself first, or leave it to them.",
    )


def _check_day(desk: Desk, due: date) -> None:
    if due < desk.today:
        raise InputError(f"{say_day(due)} has gone by.", hint="Give a day from today on.")
