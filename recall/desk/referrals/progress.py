"""Referrals as closed loops: what became known of each, until the result is back.

A line for both ears is two rows that were asked on one day to one service and stand alike; what
becomes known by the number of one holds for both, unless it is said of which ear.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act, Next, in_words, open_row
from recall.desk.core.guarding import always, needs
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.referrals import colleague_letters
from recall.desk.referrals.ends import close_all, end_row, together, under_care
from recall.desk.worklists.referral_list import on_day
from recall.errors import InputError, LetterError, Refused
from recall.letters.composed import ComposedLetter
from recall.letters.pages import make_pdf
from recall.loop.referral import LOOK_THROUGH, ReferralState, What, state
from recall.loop.referral_lines import referral_lines
from recall.protocol.contact import PRESSING
from recall.records import tables
from recall.records.facts.confirmed import waiting_since
from recall.records.facts.referral_loops import referral_loops
from recall.schedule.calendar import say_day
from recall.schedule.plan import CloseReason

ROUTES = ("direct", "gp")
CLOSE_REASONS: tuple[CloseReason, ...] = (
    "clinician_decision",
    "informed_decline",
    "transferred",
    "died",
    "entered_in_error",
)
RESULT_BACK = "result_back"
BY_HAND = "Given to the person to take along"
_NEEDS_REASON: frozenset[str] = frozenset({"rejected", "discharged", "not_there", "worded"})
_SAYS: dict[str, str] = {
    "spoke": "Spoken with.",
    "sent": "Sent.",
    "gp_acted": "The GP has referred.",
    "accepted": "Accepted there.",
    "appointment": "They have an appointment there.",
    "seen": "Seen there.",
    "chased": "Chased, no news.",
    "missed_there": "Missed an appointment there.",
    "rejected": "Rejected there.",
    "discharged": "Discharged there without being seen.",
    "not_there": "Did not get there.",
    "decided": "Decided to carry on.",
    "worded": "Your words go into the letter.",
}


@dataclass(frozen=True)
class Draft:
    """A referral letter for the practitioner to check and sign."""

    referral_ids: tuple[int, ...]
    text: str
    letter: ComposedLetter


@dataclass(frozen=True, slots=True)
class News:
    """What became known of a referral."""

    what: What
    day: date | None = None
    """Of their appointment there."""
    spoke_with: str = ""
    reason: str = ""
    note: str = ""
    route: str | None = None
    """Which way it was sent."""
    ear: str | None = None
    """Of a line for both ears, the one that it is about; None for all."""

    def check(self) -> None:
        """Refuse what cannot become known."""
        if self.what not in _SAYS:
            hint = f"It may be: {', '.join(_SAYS)}; a result and a closing have their own."
            raise InputError(f"{self.what!r} is nothing that becomes known.", hint=hint)
        if self.what in _NEEDS_REASON and not self.reason.strip():
            raise InputError(f"{self.what} is without words.", hint="Say what they wrote or said.")
        if (self.what == "appointment") != (self.day is not None):
            raise InputError("An appointment there has a day, and nothing else has.")
        if self.route is not None and self.route not in ROUTES:
            raise InputError(f"{self.route!r} is no route.", hint="It may be: direct, gp.")


@dataclass(frozen=True, slots=True)
class Followed:
    """The service follows what it was asked about, until a day where one is known."""

    until: date | None = None


@needs(Right.FOLLOW_REFERRALS, never_waits=always)
def spoke_with(
    desk: Desk, referral_id: int, version: int | None, whom: str, ear: str | None = None
) -> Next:
    """Record whom it was arranged with by phone."""
    required(whom, "Nobody is named.", hint="Say whom you spoke to there.")
    return record(desk, referral_id, version, News("spoke", spoke_with=whom, ear=ear))


@needs(Right.FOLLOW_REFERRALS)
def sent(
    desk: Desk,
    referral_id: int,
    version: int | None,
    route: str = "direct",
    whom: str = "",
    ear: str | None = None,
) -> Next:
    """Record that it was sent, straight there or through the GP, who must then have acted."""
    news = News("sent", route=route, spoke_with=whom, ear=ear)
    return record(desk, referral_id, version, news)


@needs(Right.FOLLOW_REFERRALS)
def accepted(
    desk: Desk,
    referral_id: int,
    version: int | None,
    day: date | None = None,
    ear: str | None = None,
) -> Next:
    """Record that it was accepted there, with the day of their appointment where it is known."""
    what: What = "accepted" if day is None else "appointment"
    return record(desk, referral_id, version, News(what, day=day, ear=ear))


@needs(Right.FOLLOW_REFERRALS)
def seen(
    desk: Desk, referral_id: int, version: int | None, note: str = "", ear: str | None = None
) -> Next:
    """Record that they were seen there; the result is still awaited."""
    return record(desk, referral_id, version, News("seen", note=note, ear=ear))


@needs(Right.FOLLOW_REFERRALS)
def rejected(
    desk: Desk, referral_id: int, version: int | None, reason: str, ear: str | None = None
) -> Next:
    """Record that it was rejected there: somebody who may decide must."""
    return record(desk, referral_id, version, News("rejected", reason=reason, ear=ear))


@needs(Right.FOLLOW_REFERRALS)
def discharged_unseen(
    desk: Desk, referral_id: int, version: int | None, reason: str, ear: str | None = None
) -> Next:
    """Record that they were discharged there without being seen: somebody must decide."""
    return record(desk, referral_id, version, News("discharged", reason=reason, ear=ear))


@needs(Right.DECIDE)
def carry_on(
    desk: Desk, referral_id: int, version: int | None, why: str, ear: str | None = None
) -> Next:
    """Decide that it goes on: sent again, or to somebody else there.

    Raises:
        Refused: whoever acts may not decide.
    """
    required(why, "A decision needs its reason.", hint="Say why it goes on, and how.")
    return record(desk, referral_id, version, News("decided", reason=why, ear=ear))


@needs(Right.FOLLOW_REFERRALS)
def record(desk: Desk, referral_id: int, version: int | None, news: News) -> Next:
    """Record something that became known about an open referral; return what is chased next.

    Raises:
        InputError: no such thing can become known, its reason or day is missing, or the line
            has no such ear.
        Conflict: changed or closed meanwhile.
    """
    news.check()
    if news.what in ("decided", "worded"):
        desk.require(Right.DECIDE)
    with desk.store.write() as session:
        row = open_row(session, tables.Referral, referral_id, version)
        act = Act(desk, session, row.person_id)
        words = {name: getattr(news, name).strip() for name in ("spoke_with", "reason", "note")}
        numbers = _of_line(desk, session, row, news.ear)
        for number in numbers:
            event = {"referral_id": number, "what": news.what, "day": news.day}
            act.add("referral_event", **event, **words)
            if news.route is not None:
                act.set("referral", number, route=news.route)
            act.touch("referral", number)
        return _finish(act, news.what, _of_ear(_SAYS[news.what], news.ear), numbers[0])


@needs(Right.FOLLOW_REFERRALS)
def result(
    desk: Desk,
    referral_id: int,
    version: int | None,
    says: str,
    *,
    they_follow: Followed | None = None,
    ear: str | None = None,
) -> Next:
    """Record that the result is back, which closes the referral.

    Args:
        desk: who acts, on which day.
        referral_id: the referral.
        version: of the referral, as it was looked at.
        says: what the result says, in short.
        they_follow: they have taken the person under their care for this, so that it is not
            referred again; whether that care still runs is asked from time to time.
        ear: of a line for both ears, the one that the result is of; None for all.
    """
    required(says, "The result is empty.", hint="Say in short what they found.")
    with desk.store.write() as session:
        row = open_row(session, tables.Referral, referral_id, version)
        act = Act(desk, session, row.person_id)
        numbers = _of_line(desk, session, row, ear)
        loops = referral_loops(session, numbers)
        for number in numbers:
            event = {"what": "result", "reason": says.strip()}
            act.add("referral_event", referral_id=number, **event)
            end_row(act, number, loops[number], RESULT_BACK, "answered", says)
            if they_follow is not None:
                under_care(act, loops[number], they_follow.until)
        words = "The result is back." + (" They follow it." if they_follow else "")
        return _finish(act, "result", _of_ear(words, ear), numbers[0])


@needs(Right.END)
def close(
    desk: Desk,
    referral_id: int,
    version: int | None,
    reason: str,
    why: str,
    ear: str | None = None,
) -> Next:
    """Close a referral that is not known to be over, for a reason and by name.

    Raises:
        Refused: whoever acts may not decide.
        InputError: no such reason, or none in words.
    """
    if reason not in CLOSE_REASONS:
        hint = f"It may be: {', '.join(CLOSE_REASONS)}."
        raise InputError(f"{reason!r} is no reason to close a referral.", hint=hint)
    required(why, "A referral is closed without words.", hint="Say why.")
    with desk.store.write() as session:
        row = open_row(session, tables.Referral, referral_id, version)
        act = Act(desk, session, row.person_id)
        numbers = _of_line(desk, session, row, ear)
        close_all(act, numbers, reason, why)
        words = _of_ear(f"Closed: {reason.replace('_', ' ')}.", ear)
        return _finish(act, "closed", words, numbers[0])


@needs(Right.LOOK)
def draft_letter(desk: Desk, referral_id: int) -> Draft:
    """Draft the letter of a referral, for the practitioner to check and sign."""
    with desk.store.read() as session:
        row = open_row(session, tables.Referral, referral_id)
        numbers = together(session, row)
        letter = _letter(desk, session, row, numbers)
    return Draft(tuple(numbers), colleague_letters.text_of(letter), letter)


@needs(Right.FOLLOW_REFERRALS)
def print_draft(desk: Desk, referral_id: int, out: Path) -> tuple[int, ...]:
    """Make the draft a PDF to check, sign and give along; return the referrals it is for.

    Raises:
        LetterError: the page cannot be made or written.
    """
    draft = draft_letter(desk, referral_id)
    letter = draft.letter
    if len(letter.address) < 2:
        letter = msgspec.structs.replace(letter, address=(*letter.address, BY_HAND))
    report = make_pdf([letter], out, title="Referral")
    if report.held:
        raise LetterError(
            f"The letter of referral {referral_id} cannot be printed: {report.held[0].because}.",
            hint="Print the draft as text instead.",
        )
    return draft.referral_ids


@needs(Right.FOLLOW_REFERRALS)
def write_letter(desk: Desk, referral_id: int, version: int | None) -> Next:
    """Put the letter of a referral among those that wait for the post."""
    with desk.store.write() as session:
        row = open_row(session, tables.Referral, referral_id, version)
        if row.urgency == "emergency":
            raise Refused(
                f"Referral {referral_id} is an emergency: never by post.",
                hint="Arrange it by phone and give them the letter.",
            )
        if state_today(desk, session, referral_id).stage == LOOK_THROUGH:
            raise Refused(
                f"Referral {referral_id} is of before you went live, and nobody has looked at it.",
                hint="Look through it first: recall changeover.",
            )
        if row.urgency not in PRESSING and waiting_since(session, tables.Referral, [row.id]):
            raise Refused(
                f"The plan of referral {referral_id} is not confirmed by a clinician.",
                hint="Confirm it first: recall confirm.",
            )
        letter = _letter(desk, session, row, together(session, row))
        if len(letter.address) < 2:
            raise Refused(
                f"The address for referral {referral_id} is not known.",
                hint="Add it to [addresses] of the configuration, or give the draft along.",
            )
        act = Act(desk, session, row.person_id)
        purpose = colleague_letters.Purpose("referral", "referral", referral_id=referral_id)
        made = colleague_letters.write(act, letter, purpose)
        return replace(_finish(act, "letter", f"Letter {made} written.", referral_id), made=made)


def state_today(desk: Desk, session: Session, referral_id: int) -> ReferralState:
    """Return how a referral stands today."""
    loop = referral_loops(session, [referral_id])[referral_id]
    return state(loop, desk.today, desk.protocol.contact, desk.calendar)


def _of_line(desk: Desk, session: Session, row: tables.Referral, ear: str | None) -> list[int]:
    """Return the referrals of a row's line, or those of them about one ear.

    Raises:
        InputError: none of them is about that ear, or about that ear alone.
    """
    lines = referral_lines(on_day(desk, session, together(session, row)))
    line = next(each for each in lines if row.id in each.numbers)
    if ear is None:
        return list(line.numbers)
    found = [one.number for one in line.ones if one.loop.referral.ears == (ear,)]
    if not found:
        raise InputError(
            f"Referral {row.id} is not one of the {ear} ear by itself.",
            hint=f"It stands for the {' and the '.join(line.ears)} ear; or name no ear.",
        )
    return found


def _of_ear(words: str, ear: str | None) -> str:
    return words if ear is None else in_words((words, f"Only of the {ear} ear."))


def _letter(
    desk: Desk, session: Session, row: tables.Referral, numbers: Sequence[int]
) -> ComposedLetter:
    loops = referral_loops(session, numbers)
    spoke = [e for n in numbers for e in loops[n].events if e.spoke_with]
    spoken_to = f"{spoke[-1].spoke_with}, on {say_day(spoke[-1].on)}" if spoke else ""
    worded = [e.reason for n in numbers for e in loops[n].events if e.what == "worded"]
    return colleague_letters.referral_letter(
        desk,
        session,
        row.person_id,
        [loops[n].referral for n in numbers],
        colleague_letters.Sending(row.route, spoken_to, worded[-1] if worded else ""),
    )


def _finish(act: Act, kind: str, words: str, referral_id: int) -> Next:
    """Write it down, plan again, and say what is chased next."""
    found = act.finish(f"referral_{kind}", words, refold=kind in ("result", "closed"))
    now = state_today(act.desk, act.session, referral_id)
    r = tables.Referral
    version = act.session.scalar(select(r.version).where(r.id == referral_id))
    if not now.is_open or now.chased_on is None:
        return replace(found, words=in_words((words, "Nothing more is chased.")), version=version)
    day = say_day(now.chased_on, weekday=True)
    words = f"{words} Next, {day}: {now.why}"
    return replace(found, words=words, step=now.stage, on=now.chased_on, version=version)
