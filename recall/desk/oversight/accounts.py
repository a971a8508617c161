"""The accounts: what became of every ask of a cohort, as it is on a day, and whose asks they are.

One reading for all: the month's report, who came back, and the page that shows an inspector that
nobody fell out are views of it. For a period that is over it is read three times: as it stood on
the last day by what was known when that day ended, as it stood by what is known now, and as it
is today. The first never changes; what parts the second from it was entered late, and is listed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Literal

from msgspec.structs import replace
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.accounts.cohort import (
    Account,
    Cohort,
    Day,
    Entry,
    account_of_rechecks,
    account_of_referrals,
)
from recall.accounts.recheck import Recheck, RunStatus
from recall.accounts.referral import Referred, StageLine, stage_lines
from recall.clock import Clock
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.oversight.accounts_known import refuse_unknown
from recall.desk.worklists.day_list import rows_by
from recall.desk.worklists.status_on import has_gone_by
from recall.loop.facts import Closed
from recall.loop.status import status_on
from recall.protocol.contact_steps import ATTEND, LOOK_THROUGH
from recall.records import tables
from recall.records.database.bulk import seldom_collected
from recall.records.facts.asks import held_by, rechecks, referred
from recall.records.facts.candidates import candidates
from recall.records.facts.cases import pages, stands
from recall.records.facts.events import facts_for
from recall.records.tables.statements import many

Of = Literal["rechecks", "referrals"]


@dataclass(frozen=True)
class Reading:
    """The asks of a cohort with the account of them, on a day, by what was known at an instant."""

    rechecks: Account
    referrals: Account
    asks: Mapping[int, Recheck] = field(repr=False)
    """The re-checks, by number."""
    sent: Mapping[int, Referred] = field(repr=False)
    """The referrals, by number."""

    def of(self, what: Of) -> Account:
        """Return the account of re-checks or of referrals."""
        return self.rechecks if what == "rechecks" else self.referrals

    def ended(self, first: date, last: date, what: Of) -> frozenset[int]:
        """Return the numbers of what ended in some days."""
        known: Iterable[Recheck | Referred] = (
            self.asks.values() if what == "rechecks" else self.sent.values()
        )
        return frozenset(
            one.number for one in known if one.ended_on and first <= one.ended_on <= last
        )

    @property
    def stages(self) -> tuple[StageLine, ...]:
        """Return how far the referrals came, and how late."""
        day = self.referrals.day
        sent = (self.sent[entry.number] for entry in self.referrals.entries)
        return stage_lines(sent, day.on, at_end=day.at_end)


@dataclass(frozen=True)
class Accounts:
    """What became of every re-check and referral of a cohort."""

    cohort: Cohort
    now: Reading
    """On the desk's day."""
    then: Reading | None = None
    """On the last day of a period that is over, by what was known when it ended."""
    since: Reading | None = None
    """On that same day, by what is known now."""
    rules_since: date | None = None
    """The last day since on which rules were adopted: who was lost then is read by these."""

    @property
    def columns(self) -> tuple[Reading, ...]:
        """Return every reading there is, the oldest knowledge first."""
        return tuple(each for each in (self.then, self.since, self.now) if each is not None)


@dataclass(frozen=True)
class AskLine:
    """One ask with whose it is: what stands behind a number."""

    reference: str
    name: str
    born: date
    what: str
    ear: str
    urgency: str
    asked_on: date
    due_on: date
    state: str
    missed: bool
    ended_on: date | None
    moved_to: date | None
    by: str
    """Who decided, moved or ended it, where somebody did."""
    practitioner: str


@needs(Right.LOOK)
def accounts(desk: Desk, cohort: Cohort) -> Accounts:
    """Return what became of every ask of a cohort, as it is on the desk's day.

    Raises:
        InputError: the cohort is narrowed by a word that nothing and nobody here has.
    """
    last = cohort.period.last
    with desk.store.read() as session:
        refuse_unknown(desk, session, cohort.only)
        now = reading(desk, session, Day(desk.today), cohort=cohort)
        if last >= desk.today:
            return Accounts(cohort, now)
        end = Day(last, at_end=True)
        then = reading(desk, session, end, end_of(desk.clock, last), cohort)
        since = reading(desk, session, end, cohort=cohort)
        return Accounts(cohort, now, then, since, _rules_since(session, last))


def _rules_since(session: Session, last: date) -> date | None:
    p = tables.Protocol
    return session.scalar(select(func.max(p.adopted_on)).where(stands(p), p.adopted_on > last))


EVERYTHING = Cohort()


def reading(
    desk: Desk,
    session: Session,
    day: Day,
    known_at: datetime | None = None,
    cohort: Cohort = EVERYTHING,
) -> Reading:
    """Return what became of every ask of a cohort, inside a transaction.

    Args:
        desk: whose register.
        session: one that reads.
        day: the day, while it runs or at its end.
        known_at: leave out what was recorded after this instant.
        cohort: which asks.
    """
    with seldom_collected():
        return _reading(desk, session, day, known_at, cohort)


def _reading(
    desk: Desk, session: Session, day: Day, known_at: datetime | None, cohort: Cohort
) -> Reading:
    asks = rechecks(session, cohort.period, known_at)
    asks = _with_status(desk, session, asks, day.on, known_at)
    sent = referred(session, cohort.period, known_at)
    rules, calendar = desk.protocol.contact, desk.calendar
    return Reading(
        rechecks=account_of_rechecks(asks, day, cohort.only),
        referrals=account_of_referrals(sent, day, rules, calendar, cohort.only),
        asks={ask.number: ask for ask in asks},
        sent={one.number: one for one in sent},
    )


def end_of(clock: Clock, day: date) -> datetime:
    """Return the instant at which a day of the practice ended."""
    return clock.local(datetime.combine(day + timedelta(days=1), time.min)).astimezone(UTC)


@needs(Right.LOOK)
def people_behind(desk: Desk, found: Reading, of: Of, entries: Iterable[Entry]) -> list[AskLine]:
    """Return the asks behind a number with whose they are, the longest due first."""
    wanted = sorted(entries, key=lambda e: (e.due_on, e.person, e.number))
    words = {state.id: state.words for state in found.of(of).states}
    with desk.store.read() as session:
        names = _names(session, {entry.person for entry in wanted})
    return [
        AskLine(
            *names[entry.person],
            what=entry.kind.replace("_", " "),
            urgency=entry.urgency,
            asked_on=entry.asked_on,
            due_on=entry.due_on,
            state=words[entry.state],
            missed=entry.missed,
            practitioner=entry.practitioner,
            **_of_recheck(found.asks[entry.number])
            if of == "rechecks"
            else _of_referral(found.sent[entry.number]),
        )
        for entry in wanted
    ]


def _of_recheck(ask: Recheck) -> dict[str, Any]:
    moved_to = ask.moved_to if ask.action in ("move", "weigh") else None
    return {"ear": ask.ear, "ended_on": ask.ended_on, "moved_to": moved_to, "by": ask.by}


def _of_referral(one: Referred) -> dict[str, Any]:
    ears = " and ".join(one.loop.referral.ears)
    return {"ear": ears, "ended_on": one.ended_on, "moved_to": None, "by": one.by}


def _names(session: Session, people: Iterable[int]) -> dict[int, tuple[str, str, date]]:
    p = tables.Person
    found = {}
    for some in pages(sorted(people)):
        wanted = select(p.id, p.ref, p.given_names, p.family_name, p.born).where(p.id.in_(some))
        for number, ref, given, family, born in many(session, wanted):
            found[number] = (ref, f"{given} {family}".strip(), born)
    return found


def _with_status(
    desk: Desk, session: Session, asks: list[Recheck], on: date, known_at: datetime | None
) -> list[Recheck]:
    """Return asks with how the contact run of what is open stands on a day."""
    wanted = [ask.number for ask in asks if ask.asked_on <= on and not ask.over_by(on)]
    held = held_by(session, wanted, known_at)
    if on == desk.today and known_at is None and not has_gone_by(desk, session):
        status = _status_now(desk, session)
    else:
        status = _status_then(desk, session, sorted(set(held.values())), on, known_at)
    told = {due: status[number] for due, number in held.items() if number in status}
    return [replace(a, status=told[a.number]) if a.number in told else a for a in asks]


def _status_now(desk: Desk, session: Session) -> dict[int, RunStatus]:
    """Return how each open follow-up stands today that is not simply open, as the lists say.

    What has a step whose day has not come stands as it was kept: time alone has not turned it.
    """
    today, found = desk.today, dict[int, RunStatus]()
    for each in candidates(session, "open", today, (ATTEND,)):
        if each.next_step_on > today:
            found[each.id] = "booked"
    for row in rows_by(desk, session, "come", today):
        if row.is_lost and row.step_on <= today:
            found[row.number] = "lost"
        elif row.step == ATTEND:
            found[row.number] = "booked"
    for row in rows_by(desk, session, "history", today):
        if row.step == LOOK_THROUGH:
            found[row.number] = "look_through"
    return found


_SAYS: dict[str, RunStatus] = {"booked": "booked", "lost": "lost", "history": "look_through"}
"""By the word for a follow-up on a day."""


def _status_then(
    desk: Desk, session: Session, follow_ups: Sequence[int], on: date, known_at: datetime | None
) -> dict[int, RunStatus]:
    """Return the same for a day that has gone by, from what had happened by then."""
    found: dict[int, RunStatus] = {}
    for number, facts in facts_for(session, follow_ups, known_at).items():
        then = replace(facts, events=tuple(e for e in facts.events if not isinstance(e, Closed)))
        word = status_on(then, on, desk.protocol.contact).word
        if word in _SAYS:
            found[number] = _SAYS[word]
    return found
