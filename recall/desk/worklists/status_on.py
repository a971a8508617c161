"""How follow-ups stand on a day, worked out from facts alone.

On the register's own last day or later what is open is looked at as it is. For a day that has
gone by since, the dues that stood then are gathered again, so that what happened later does
not show. Either way nothing depends on a job having run.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import msgspec
from sqlalchemy import exists, or_, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.loop.changeover import due_of_before
from recall.loop.facts import Closed, Facts
from recall.loop.status import Status, status_on
from recall.records.facts.candidates import last_change, of_sites
from recall.records.facts.cases import PAGE, pages, stands
from recall.records.facts.confirmed import waiting_since
from recall.records.facts.events import facts_for, facts_without_follow_up
from recall.records.ledger.stored import DUE_FIELDS
from recall.records.tables import Due as DueRow
from recall.records.tables import DueEvent, FollowUp, FollowUpDue
from recall.records.tables.statements import IDS, many_now, table_of
from recall.schedule.combine import group_apart
from recall.schedule.plan import Due
from recall.schedule.plan import FollowUp as Group
from recall.schedule.sharing import on_weekdays

NOT_CONFIRMED = "The plan is not confirmed yet by a clinician."
NEVER_COUNTED = ("entered_in_error",)
_DUE = table_of(DueRow)
_DUE_COLUMNS = tuple(_DUE.c[name] for name in DUE_FIELDS)
# Each statement is made once: making one takes longer than asking it does.
_OPEN_ONES = select(FollowUp.id, FollowUp.person_id, FollowUp.version).where(
    FollowUp.id.in_(IDS), FollowUp.is_open, FollowUp.void_at.is_(None)
)
_HELD = (
    select(FollowUpDue.follow_up_id, DueRow.id, *_DUE_COLUMNS)
    .join_from(FollowUpDue, DueRow, FollowUpDue.due_id == DueRow.id)
    .where(FollowUpDue.follow_up_id.in_(IDS))
    .where(FollowUpDue.left_at.is_(None), DueRow.is_open)
    .order_by(DueRow.id)
)
Progress = Callable[[int, int], None]
Member = tuple[int, Due]
"""A due with its number."""


@dataclass(frozen=True)
class FollowUpStatus:
    """A follow-up, and how it stands on a day."""

    person_id: int
    follow_up_id: int | None
    """None for what was answered before anybody was contacted about it."""
    version: int
    dues: tuple[Due, ...]
    facts: Facts
    status: Status
    waits: frozenset[str] = frozenset()
    """Where the visits came from that asked for this and that no clinician has confirmed."""

    @property
    def is_confirmed(self) -> bool:
        """Return whether a clinician has confirmed the plan that stands."""
        return not self.waits


def has_gone_by(desk: Desk, session: Session) -> bool:
    """Say whether the register was changed on a later day than the desk's."""
    last = last_change(session)
    return last is not None and desk.clock.day_of(last) > desk.today


def statuses(desk: Desk, session: Session, follow_up_ids: Iterable[int]) -> list[FollowUpStatus]:
    """Return how some follow-ups stand now, in the order of the numbers; closed ones are out."""
    wanted = list(follow_up_ids)
    found = {
        each.follow_up_id: each for some in pages(wanted) for each in _page(desk, session, some)
    }
    return [found[number] for number in wanted if number in found]


def _page(desk: Desk, session: Session, ids: Sequence[int]) -> Iterator[FollowUpStatus]:
    rows = many_now(session, _OPEN_ONES, ids)
    numbers = [row.id for row in rows]
    facts, dues = facts_for(session, numbers), _dues_of(session, numbers)
    waits = waiting_since(session, DueRow, [n for held in dues.values() for n, _due in held])
    for number, person_id, version in rows:
        held = dues.get(number, [])
        yield FollowUpStatus(
            person_id=person_id,
            follow_up_id=number,
            version=version,
            dues=tuple(due for _number, due in held),
            facts=facts[number],
            status=status_on(facts[number], desk.today, desk.protocol.contact),
            waits=_sources(waits, [n for n, _due in held]),
        )


def _dues_of(session: Session, follow_up_ids: Sequence[int]) -> dict[int, list[Member]]:
    """Return the open dues that each follow-up holds, with their numbers."""
    found: dict[int, list[Member]] = defaultdict(list)
    for follow_up_id, number, *values in many_now(session, _HELD, follow_up_ids):
        due = Due(**dict(zip(DUE_FIELDS, values, strict=True)))
        found[follow_up_id].append((number, due))
    return found


def _sources(waits: Mapping[int, str], due_ids: Iterable[int]) -> frozenset[str]:
    return frozenset(waits[number] for number in due_ids if number in waits)


# -- a day that has gone by --------------------------------------------------------------------


@dataclass(frozen=True)
class _Then:
    """What is known of some people on a day that has gone by."""

    desk: Desk
    held: Mapping[int, tuple[int, int]]
    """By due, the follow-up that held it last, with its version."""
    facts: Mapping[int, Facts]
    """By follow-up."""
    bare: Mapping[int, Facts]
    """By person, for what nobody was contacted about."""
    waits: Mapping[int, str]
    """By due that no clinician has confirmed, where its visit came from."""


def statuses_then(
    desk: Desk,
    session: Session,
    known_at: datetime | None = None,
    progress: Progress | None = None,
) -> list[FollowUpStatus]:
    """Return how everything stood that was open on the desk's day.

    The dues that stood then are grouped as they were grouped. `known_at` leaves out what was
    recorded after an instant; `progress` is told how many people were looked at.
    """
    by_person: dict[int, list[Member]] = defaultdict(list)
    for person_id, number, due in _dues_then(session, desk.today, known_at):
        by_person[person_id].append((number, due))
    found: list[FollowUpStatus] = []
    for done, some in enumerate(pages(sorted(by_person)), 1):
        numbers = [number for person_id in some for number, _due in by_person[person_id]]
        held = _holders(session, numbers)
        then = _Then(
            desk,
            held,
            facts_for(session, sorted({number for number, _version in held.values()}), known_at),
            facts_without_follow_up(session, some),
            waiting_since(session, DueRow, numbers),
        )
        for person_id in some:
            found += _of_person(then, person_id, by_person[person_id])
        if progress is not None:
            progress(min(done * PAGE, len(by_person)), len(by_person))
    return found


def then_once(desk: Desk, session: Session) -> list[FollowUpStatus]:
    """Return the same, worked out once for a session that reads: cards and their days ask both.

    In one that writes it may be another at each question.
    """
    if session.get_bind().get_execution_options().get("write"):
        return statuses_then(desk, session)
    kept: dict[date, list[FollowUpStatus]] = session.info.setdefault("then", {})
    if desk.today not in kept:
        kept[desk.today] = statuses_then(desk, session)
    return kept[desk.today]


def _of_person(then: _Then, person_id: int, members: Sequence[Member]) -> Iterator[FollowUpStatus]:
    """Give one person's follow-ups as they stood, each with what had happened about it."""
    number_of = {id(due): number for number, due in members}
    live = then.desk.protocol.contact.live_from()
    dues = [due for _number, due in members]
    for follow_up in group_apart(dues, on_weekdays, lambda due: due_of_before(due, live)):
        numbers = [number_of[id(due)] for due in follow_up.dues]
        holders = [then.held[n] for n in numbers if n in then.held]
        held = [then.facts[number] for number, _version in holders]
        known = _facts_of(follow_up, held[0] if held else then.bare[person_id])
        status = status_on(known, then.desk.today, then.desk.protocol.contact)
        if status.word != "closed":
            yield FollowUpStatus(
                person_id=person_id,
                follow_up_id=holders[0][0] if holders else None,
                version=holders[0][1] if holders else 0,
                dues=follow_up.dues,
                facts=known,
                status=status,
                waits=_sources(then.waits, numbers),
            )


def _facts_of(follow_up: Group, known: Facts) -> Facts:
    """Return the facts of a group: its own window, and what happened about its dues."""
    return msgspec.structs.replace(
        known,
        asked_on=max(due.asked_on for due in follow_up.dues),
        earliest=follow_up.earliest,
        target=follow_up.target,
        latest=follow_up.latest,
        all_by=max(due.latest for due in follow_up.dues),
        urgency=follow_up.urgency,
        events=tuple(e for e in known.events if not isinstance(e, Closed)),
    )


def _dues_then(
    session: Session, on: date, known_at: datetime | None
) -> Iterator[tuple[int, int, Due]]:
    """Give person, number and due of all that stood on a day, by what is known now.

    One that was dropped because its visit was corrected or voided never stood.
    """
    closed = DueEvent.due_id == DueRow.id, DueEvent.what == "closed", DueEvent.void_at.is_(None)
    later = exists().where(
        *closed,
        DueEvent.on > on,
        DueEvent.reason.not_in(NEVER_COUNTED),
        or_(DueEvent.reason != "superseded", DueEvent.visit_id.is_not(None)),
    )
    earlier = exists().where(*closed, DueEvent.on <= on)
    wanted = (
        select(DueRow.person_id, DueRow.id, *_DUE_COLUMNS)
        .where(DueRow.asked_on <= on, stands(DueRow, known_at))
        .where(or_(DueRow.is_open, later & ~earlier), *of_sites(session, DueRow.person_id))
    )
    for person_id, number, *values in session.execute(wanted.order_by(DueRow.id)):
        yield person_id, number, Due(**dict(zip(DUE_FIELDS, values, strict=True)))


def _holders(session: Session, due_ids: Sequence[int]) -> dict[int, tuple[int, int]]:
    """Return the follow-up, with its version, that holds each due or held it last."""
    found: dict[int, tuple[int, int]] = {}
    for some in pages(due_ids):
        wanted = (
            select(FollowUpDue.due_id, FollowUp.id, FollowUp.version)
            .join_from(FollowUpDue, FollowUp, FollowUpDue.follow_up_id == FollowUp.id)
            .where(FollowUpDue.due_id.in_(some))
            .order_by(FollowUpDue.id)
        )
        for due_id, number, version in session.execute(wanted):
            found[due_id] = (number, version)
    return found
