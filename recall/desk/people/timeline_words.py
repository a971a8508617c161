"""How each kind of row is told in a person's timeline: one sentence, nothing left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from typing import Any, Generic, TypeVar

import msgspec
from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from recall.care.case import Reported, ReportWord
from recall.care.ear import Ear
from recall.desk.visits.findings_words import ear_lines, said_lines
from recall.desk.visits.judging import say_judged
from recall.desk.worklists.matter_list import say_owner
from recall.loop.matters import KIND, close_words
from recall.loop.outcomes import COMES_BACK
from recall.records import tables
from recall.records.tables.base import ContactPointKind, Fact
from recall.records.tables.statements import whole
from recall.schedule.calendar import say_day

_WAYS: dict[ContactPointKind, str] = {"phone": "Number", "email": "Email", "address": "Address"}


def plain(word: str) -> str:
    """Return a word of the records as it is read."""
    return word.replace("_", " ")


def way(kind: ContactPointKind, raw: str) -> str:
    """Return a number or address as it was given, with what it is."""
    return f"{_WAYS[kind]} {', '.join(raw.splitlines())}"


def _visit(session: Session, row: tables.Visit) -> str:
    f = tables.Findings
    wanted = select(f.ear, f.content).where(f.visit_id == row.id).order_by(f.ear.desc())
    ears = []
    for ear, content in session.execute(wanted):
        lines = ", ".join(ear_lines(msgspec.json.decode(content, type=Ear)))
        ears.append(f"{ear} ear: {lines or 'nothing recorded'}.")
    category = f" Set: {plain(row.category)}." if row.category else ""
    how = "Seen" if row.source == "entered" else "Seen (imported)"
    corrected = f" Corrects visit {row.corrects_id}." if row.corrects_id else ""
    says = f"{how}, visit {row.id}. {' '.join(ears)}{category}{corrected}".strip()
    reports = msgspec.json.decode(row.reported, type=tuple[ReportWord | Reported, ...])
    reported = said_lines(reports, row.on)
    told = f" Told: {'; '.join(reported)}." if reported else ""
    note = f" Note: {' '.join(row.note.split())}" if row.note else ""
    return f"{says}{told}{note}"


def _due(_session: Session, row: tables.Due) -> str:
    window = f"from {say_day(row.earliest)} to {say_day(row.latest)}"
    return f"Asked back for {plain(row.track)}, {row.ear} ear, {window}: {row.says}"


def _due_event(session: Session, row: tables.DueEvent) -> str:
    d = tables.Due
    track, ear = session.execute(select(d.track, d.ear).where(d.id == row.due_id)).one()
    what = f"{plain(track).capitalize()}, {ear} ear"
    if row.what == "reopened":
        return f"{what}: stands again."
    by = f" by visit {row.visit_id}" if row.visit_id else ""
    why = f" {row.why}" if row.why else ""
    return f"{what}: closed, {plain(row.reason or '')}{by}.{why}"


def _decision(_session: Session, row: tables.Decision) -> str:
    about = plain(row.track or row.to or "")
    why = f": {row.why}" if row.why else "."
    if row.action == "move" and row.latest:
        return f"Decided to move {about}, {row.ear} ear, to {say_day(row.latest)}{why}"
    if row.action in ("strike", "weigh"):
        said = say_judged(row)
        return f"{said[:1].upper()}{said[1:]}."
    return f"Decided on {about}, {row.ear} ear: {plain(row.reason)}{why}"


def _contact(_session: Session, row: tables.Contact) -> str:
    words = f"{plain(row.channel).capitalize()}: {plain(row.outcome)}."
    if row.by_them:
        words = f"They made contact. {words}"
    hour = f", {row.until_at}" if row.until_at else ""
    if row.until == row.on and row.outcome in COMES_BACK:
        words += f" To be rung once more that day{hour}."
    elif row.until:
        words += f" Agreed: {say_day(row.until)}{hour}."
    return f"{words} {row.note}".strip()


def _letter(_session: Session, row: tables.Letter) -> str:
    words = f"Letter {row.id} ({plain(row.kind)}) written."
    if row.held_why:
        words += f" Held back: {row.held_why}."
    if row.pulled_why:
        words += f" Pulled from the pile: {row.pulled_why}."
    if row.posted_on:
        words += f" Posted on {say_day(row.posted_on)}."
    if row.returned_on:
        words += f" Came back on {say_day(row.returned_on)}."
    return words


def _booking(_session: Session, row: tables.Booking) -> str:
    starts = row.starts_local
    late = f" After the latest day: {row.late_why}." if row.late_why else ""
    return f"Booked for {say_day(starts.date())} at {starts:%H:%M}.{late}"


def _booking_event(_session: Session, row: tables.BookingEvent) -> str:
    why = f": {row.why}" if row.why else ""
    return f"Booking {row.booking_id} {plain(row.what)}{why}."


def _follow_up_event(_session: Session, row: tables.FollowUpEvent) -> str:
    until = f" until {say_day(row.until)}" if row.until else ""
    why = f": {row.why}" if row.why else ""
    return f"Follow-up {row.follow_up_id}: {plain(row.what)}{until}{why}."


def _referral(_session: Session, row: tables.Referral) -> str:
    ears = " and ".join(row.ears)
    seen_by = say_day(row.seen_by)
    return f"Referral {row.id} to {plain(row.to)} asked for, {ears}, to be seen by {seen_by}."


def _referral_event(_session: Session, row: tables.ReferralEvent) -> str:
    more = [row.spoke_with, row.reason, row.note]
    if row.day:
        more.append(say_day(row.day))
    noted = "; ".join(filter(None, more))
    return f"Referral {row.referral_id}: {plain(row.what)}{f' ({noted})' if noted else ''}."


def _risk(_session: Session, row: tables.PersonRisk) -> str:
    ear = f", {row.ear} ear" if row.ear else ""
    since = f", since {row.since}" if row.since else ""
    return f"Risk: {plain(row.what)}{ear}{since}."


def _contact_point(_session: Session, row: tables.ContactPoint) -> str:
    problem = f" ({row.problem})" if row.problem else ""
    return f"{way(row.kind, row.raw)} recorded{problem}, safe: {plain(row.safe)}."


def _adult(_session: Session, row: tables.AdultFor) -> str:
    relation = f" ({row.relation})" if row.relation else ""
    return f"Answers for them: {row.name}, {plain(row.role)}{relation}."


def _under_care(_session: Session, row: tables.UnderCare) -> str:
    care = msgspec.json.decode(row.content)
    ear = f", {care['ear']} ear" if care.get("ear") else ""
    at = f", at {care['where']}" if care.get("where") else ""
    there = care.get("next_seen")
    seen = f", seen there next on {say_day(date.fromisoformat(there))}" if there else ""
    return f"Under the care of {plain(care['of'])}{ear}{at}{seen}."


def _matter(session: Session, row: tables.Matter) -> str:
    whose = say_owner(session, row.owner_id, row.owner_role)
    says = f"{KIND[row.kind].title} (matter {row.id}), for {whose} by {say_day(row.due_on)}: "
    says += row.text
    if row.closed_how is None or row.closed_on is None:
        return says
    by = say_owner(session, row.closed_by_id, None)
    how = close_words(row.kind, row.closed_how)
    more = f": {row.closed_text}" if row.closed_text else ""
    return f"{says} Closed by {by} on {say_day(row.closed_on)}: {how}{more}."


Whose = Callable[[int], ColumnElement[bool]]
Row = TypeVar(
    "Row",
    tables.AdultFor,
    tables.Booking,
    tables.BookingEvent,
    tables.Contact,
    tables.Decision,
    tables.Due,
    tables.DueEvent,
    tables.FollowUpEvent,
    tables.Letter,
    tables.Matter,
    tables.PersonRisk,
    tables.ContactPoint,
    tables.Referral,
    tables.ReferralEvent,
    tables.UnderCare,
    tables.Visit,
)
Owned = (
    tables.AdultFor
    | tables.Booking
    | tables.Contact
    | tables.Decision
    | tables.Due
    | tables.FollowUp
    | tables.Letter
    | tables.Matter
    | tables.PersonRisk
    | tables.ContactPoint
    | tables.Referral
    | tables.UnderCare
    | tables.Visit
)


class TimelineSource(Generic[Row]):
    """How the rows of one table are found and told."""

    def __init__(self, table: type[Row], says: Callable[[Session, Row], str], whose: Whose) -> None:
        self.table: type[Row] = table
        self.says: Callable[[Session, Row], str] = says
        self.whose = whose

    def sentences_of(self, session: Session, person_id: int) -> Iterator[tuple[Fact, str]]:
        """Give one person's rows with what they say, in the order in which they were made."""
        wanted = select(whole(self.table)).where(self.whose(person_id)).order_by(self.table.id)
        for row in session.scalars(wanted).all():
            yield row, self.says(session, row)


def _own(table: type[Owned]) -> Whose:
    return lambda person_id: table.person_id == person_id


def _of(link: InstrumentedAttribute[int], parent: type[Owned]) -> Whose:
    """Tables without the person's number, and through which they hang on it."""
    return lambda person_id: link.in_(select(parent.id).where(parent.person_id == person_id))


_end, _did = tables.BookingEvent, tables.FollowUpEvent
TIMELINE_SOURCES: tuple[TimelineSource[Any], ...] = (
    TimelineSource(tables.PersonRisk, _risk, _own(tables.PersonRisk)),
    TimelineSource(tables.AdultFor, _adult, _own(tables.AdultFor)),
    TimelineSource(tables.ContactPoint, _contact_point, _own(tables.ContactPoint)),
    TimelineSource(tables.Visit, _visit, _own(tables.Visit)),
    TimelineSource(tables.Due, _due, _own(tables.Due)),
    TimelineSource(tables.Decision, _decision, _own(tables.Decision)),
    TimelineSource(tables.DueEvent, _due_event, _of(tables.DueEvent.due_id, tables.Due)),
    TimelineSource(tables.Referral, _referral, _own(tables.Referral)),
    TimelineSource(tables.Contact, _contact, _own(tables.Contact)),
    TimelineSource(tables.Letter, _letter, _own(tables.Letter)),
    TimelineSource(tables.Booking, _booking, _own(tables.Booking)),
    TimelineSource(_end, _booking_event, _of(_end.booking_id, tables.Booking)),
    TimelineSource(_did, _follow_up_event, _of(_did.follow_up_id, tables.FollowUp)),
    TimelineSource(
        tables.ReferralEvent,
        _referral_event,
        _of(tables.ReferralEvent.referral_id, tables.Referral),
    ),
    TimelineSource(tables.UnderCare, _under_care, _own(tables.UnderCare)),
    TimelineSource(tables.Matter, _matter, _own(tables.Matter)),
)
"""What is told, in this order where things have one instant."""
