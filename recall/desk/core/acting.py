"""One thing that somebody does at the desk: the rows it makes and sets, and its line of history.

Everything an action changes is written into the history just before the line of the action
itself, so that the same line is enough to take it all back. Lines of actions are kept under
the number of their day, so that one day's are found at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, TypeVar

from sqlalchemy import Table, insert, select, update
from sqlalchemy.orm import Session

from recall.desk.core.done import DAY, DID, UNDID, said
from recall.desk.core.named import named
from recall.desk.core.session import Desk
from recall.errors import Conflict, NotFound
from recall.loop.facts import Facts
from recall.loop.opening import when_open
from recall.loop.status import Status, status_on
from recall.loop.steps import Step
from recall.protocol.contact_steps import STEP
from recall.records import tables
from recall.records.facts.events import facts_for
from recall.records.journal import history
from recall.records.journal.history import Change
from recall.records.tables.statements import table_of, whole
from recall.schedule.calendar import say_day

TABLES: dict[str, Table] = dict(tables.Base.metadata.tables)
Values = dict[str, Any]
Row = TypeVar(
    "Row",
    tables.AdultFor,
    tables.Booking,
    tables.Contact,
    tables.FollowUp,
    tables.Matter,
    tables.Person,
    tables.PersonRisk,
    tables.ContactPoint,
    tables.Referral,
    tables.UnderCare,
    tables.Visit,
)
Open = TypeVar("Open", tables.FollowUp, tables.Referral)
Owned = TypeVar("Owned", tables.AdultFor, tables.Booking, tables.Contact, tables.ContactPoint)


@dataclass(frozen=True)
class Next:
    """What an action came to: what happens next, in words and as step and day."""

    words: str
    step: str | None = None
    on: date | None = None
    version: int | None = None
    """The follow-up's version after the action."""
    action: int = 0
    """The action's number in the history."""
    made: int | None = None
    """The number of the row that was made: the contact, the booking."""
    person_ref: str = ""
    """Whom it was about."""
    follow_up: int | None = None
    """Which follow-up it was about, where it was about one."""
    later: bool = False
    """The next step has an hour of today that has not come."""
    stays: bool = False
    """The same person is rung again at once, on another number."""
    left: int | None = None
    """The follow-up of the same person that is to be offered another day in the same call."""
    ends: int = 0
    """How many referrals of theirs ended with what was answered, without being asked about."""


class Act:
    """An action inside a transaction, about one person or nobody; `finish` writes it down."""

    def __init__(self, desk: Desk, session: Session, person_id: int | None) -> None:
        self.desk = desk
        self.session = session
        self.about = person_id
        self.at = desk.now
        self.changes: list[Change] = []
        self.others: set[int] = set()
        """Whoever else it changes something of: they stand otherwise as well."""

    @property
    def person_id(self) -> int:
        """Return whom it is about, where it is about somebody."""
        assert self.about is not None, "this action is about nobody"
        return self.about

    def add(self, table: str, **values: Any) -> int:
        """Make a fact row about today and return its number."""
        return self.add_for(self.about, table, values)

    def add_for(self, whose: int | None, table: str, values: Values) -> int:
        """Make a fact row about somebody else."""
        values = {"on": self.desk.today, **values}
        made = {"recorded_at": self.at, "by_id": self.desk.by.id}
        row = TABLES[table]
        number: int = self.session.scalars(
            insert(row).values(**values, **made).returning(row.c.id)
        ).one()
        self._is_about(whose)
        self._note("added", table, number, now=values, person_id=whose)
        return number

    def set(self, table: str, number: int, **values: Any) -> None:
        """Change some columns of a row; what they were goes into the history."""
        row = TABLES[table]
        before = self.session.execute(select(row).where(row.c.id == number)).mappings().one()
        was = {name: before[name] for name, value in values.items() if before[name] != value}
        if not was:
            return
        now = {name: values[name] for name in was}
        whose = before["person_id"] if "person_id" in row.c else None
        self._is_about(whose)
        self.session.execute(update(row).where(row.c.id == number).values(**now))
        self.touch(table, number)
        self._note("changed", table, number, was=was, now=now, person_id=whose or self.about)

    def touch(self, table: str, number: int) -> None:
        """Count a row's version, so that another desk notices."""
        row = TABLES[table]
        if "version" in row.c:
            counted = update(row).where(row.c.id == number).values(version=row.c.version + 1)
            self.session.execute(counted)

    def void(self, table: str, number: int, why: str, *, whose: int | None = None) -> None:
        """Void a row: it stays, and no longer counts; `whose`, where it is another's."""
        row = TABLES[table]
        void = {"void_at": self.at, "void_by_id": self.desk.by.id, "void_why": why}
        self.session.execute(update(row).where(row.c.id == number).values(**void))
        self._is_about(whose)
        self._note("voided", table, number, now=why, person_id=whose or self.about)

    def unvoid(self, table: str, number: int) -> None:
        """Let a voided row stand again, where the voiding itself is taken back."""
        row = TABLES[table]
        blank = {"void_at": None, "void_by_id": None, "void_why": None}
        self.session.execute(update(row).where(row.c.id == number).values(**blank))
        self._note("stands_again", table, number)

    def note(self, text: str, entity: str, number: int) -> None:
        """Write something down that is nothing but history."""
        self._note("noted", entity, number, now=text)

    def finish(
        self,
        kind: str,
        words: str,
        *,
        follow_up_id: int | None = None,
        refold: bool = False,
        made: int | None = None,
        undoes: int | None = None,
    ) -> Next:
        """Write the action down, bring the plan and search columns up to date, say what is next."""
        now = {"kind": kind, "words": words, "rows": len(self.changes), "undoes": undoes}
        if self.desk.together:
            now["together"] = self.desk.together
        line = Change(
            UNDID if undoes else DID, DAY, self.desk.today.toordinal(), None, now, self.about
        )
        by_id = self.desk.by.id
        action = history.append_all(self.session, by_id, self.at, [*self.changes, line])
        if follow_up_id is not None:
            self.touch("follow_up", follow_up_id)
        if self.about is None:
            return Next(words, action=action, made=made)
        self._bring_up_to_date(refold)
        found = Next(
            words,
            action=action,
            made=made,
            person_ref=ref_of(self.session, self.person_id),
            follow_up=follow_up_id,
        )
        if follow_up_id is None:
            return found
        return _next(self.desk, self.session, found, follow_up_id)

    def _bring_up_to_date(self, refold: bool) -> None:
        """Plan the person anew, or only what is next; of others only what is next."""
        # What plans people anew is imported here: the first list waits for no more than it shows.
        from recall.desk.core.replanning import plan_people, refresh

        if refold:
            held = replace(self.desk, clock=self.desk.clock.held_at(self.at))
            plan_people(held, self.session, [self.person_id])
        else:
            refresh(self.desk, self.session, [self.person_id])
        refresh(self.desk, self.session, sorted(self.others))

    def _is_about(self, whose: int | None) -> None:
        """Remember whoever else something changes for."""
        if whose is not None and whose != self.about:
            self.others.add(whose)

    def _note(self, what: str, entity: str, number: int, **more: Any) -> None:
        self.changes.append(Change(what, entity, number, **{"person_id": self.about, **more}))


def _next(desk: Desk, session: Session, found: Next, follow_up_id: int) -> Next:
    c = tables.FollowUp
    wanted = select(c.version, c.is_open, c.close_reason).where(c.id == follow_up_id)
    version, is_open, close_reason = session.execute(wanted).one()
    status = status_now(desk, session, follow_up_id)
    if not is_open or status.step is None:
        reason = (close_reason or "").replace("_", " ")
        return replace(found, words=f"{found.words} Closed: {reason}.", version=version)
    step = when_open(status.step, desk.today, desk.calendar)
    words = in_words((found.words, say_next(step, desk.today)))
    later = step.at is not None and not desk.clock.has_come(step.on, step.at)
    return replace(found, words=words, step=step.kind, on=step.on, version=version, later=later)


def say_next(step: Step, today: date) -> str:
    """Say what is next and when; "now" where its day has gone by.

    What waits for somebody says for whom, whatever came of it since.

    >>> say_next(Step(kind="decision", on=date(2026, 2, 16), why="Cannot afford it."),
    ...          date(2026, 3, 2))
    'Next, now: a named clinician decides: cannot afford it.'
    """
    when = say_day(step.on, weekday=True) if step.on >= today else "now"
    if step.at is not None and step.on >= today:
        when = f"{'today' if step.on == today else when}, {step.at:%H:%M}"
    does = STEP[step.kind].does
    if not does or "clinician decides" in step.why:
        return f"Next, {when}: {step.why}"
    return f"Next, {when}: {does}: {step.why[:1].lower()}{step.why[1:]}"


def ref_of(session: Session, person_id: int) -> str:
    """Return a person's reference."""
    return session.scalar(select(tables.Person.ref).where(tables.Person.id == person_id)) or ""


def site_of(session: Session, person_id: int) -> str:
    """Return the handle of the site a person belongs to; empty: to all."""
    return session.scalar(select(tables.Person.site).where(tables.Person.id == person_id)) or ""


def facts_now(session: Session, follow_up_id: int) -> Facts:
    """Return everything known about one follow-up."""
    return facts_for(session, [follow_up_id])[follow_up_id]


def status_now(desk: Desk, session: Session, follow_up_id: int) -> Status:
    """Return how one follow-up stands today."""
    return status_on(facts_now(session, follow_up_id), desk.today, desk.protocol.contact)


def row_of(session: Session, table: type[Row], number: int) -> Row:
    """Return a standing row by its number.

    Raises:
        NotFound: no such row.
    """
    found = session.scalars(select(whole(table)).where(table.id == number)).one_or_none()
    if found is None or found.void_at is not None:
        raise NotFound(f"There is no {_called(table)} {number}.", hint="Look at the list again.")
    return found


def open_row(session: Session, table: type[Open], number: int, version: int | None = None) -> Open:
    """Return an open follow-up or referral by its number.

    Raises:
        NotFound: no such row.
        Conflict: changed since the version that was looked at, or already closed.
    """
    found = row_of(session, table, number)
    if not found.is_open:
        raise Conflict(
            f"{_called(table).capitalize()} {number} is already closed: "
            f"{named(session, found.person_id)}.",
            hint="Look at the person's story for how it ended.",
        )
    if version is not None and found.version != version:
        raise Conflict(
            f"Somebody else changed {_called(table)} {number} of "
            f"{named(session, found.person_id)} meanwhile{last_done(session, found.person_id)}.",
            hint="Look at it again, then repeat.",
            version=found.version,
        )
    return found


def last_done(session: Session, person_id: int) -> str:
    """Return in words what was done last about a person, and by whom: the end of a sentence."""
    h, content = tables.History, tables.HistoryPayload.content
    wanted = (
        select(tables.Staff.handle, content)
        .join_from(h, tables.HistoryPayload, tables.HistoryPayload.history_id == h.id)
        .join(tables.Staff, tables.Staff.id == h.by_id)
        .where(h.person_id == person_id, h.entity == DAY)
        .order_by(h.id.desc())
        .limit(1)
    )
    row = session.execute(wanted).one_or_none()
    words = (said(row[1]).get("now") or {}).get("words", "") if row else ""
    return f" ({row[0]}: {words.rstrip('.')})" if row and words else ""


def own_row(session: Session, table: type[Owned], number: int, person_id: int) -> Owned:
    """Return a standing row that belongs to a person.

    Raises:
        NotFound: no such row, or somebody else's.
    """
    found = row_of(session, table, number)
    if found.person_id != person_id:
        raise NotFound(f"{_called(table).capitalize()} {number} is not this person's.")
    return found


def _called(table: type[tables.Base]) -> str:
    return table_of(table).name.replace("_", " ")


def in_words(parts: Sequence[str]) -> str:
    """Return sentences as one text."""
    return " ".join(part.strip() for part in parts if part.strip())
