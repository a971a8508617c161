"""Letters to other clinicians: a referral to check and sign, a hand-back to the GP.

A row holds the composed letter that its page is made from; it waits for the next post, or is
printed at once for somebody who takes it along.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import msgspec
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.care.audiogram import audiogram
from recall.care.case import Case, To, Track, Urgency
from recall.care.dates import is_child
from recall.care.services import SERVICES
from recall.desk.core.acting import Act, site_of
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, signs_as
from recall.desk.core.sites import practice_at
from recall.desk.referrals.letter_content import (
    asked_words,
    questions,
    reasons_of,
    referred_beside,
    trends,
    without_house_rules,
)
from recall.desk.visits.cautions import cautions
from recall.desk.visits.findings_words import background_lines, latest_ear_lines, reported_lines
from recall.exchange import identifiers
from recall.letters.compose import compose
from recall.letters.composed import ComposedLetter, to_json
from recall.letters.data import Kind, LetterData, Practice, Seen, Subject
from recall.letters.wording import Wording
from recall.letters.wording.blocks import plain
from recall.loop.referral import Route
from recall.records import tables
from recall.records.facts.cases import case_for, stands
from recall.records.people.addresses import Reachable, reachable
from recall.records.tables.statements import whole
from recall.schedule.calendar import say_day
from recall.schedule.plan import Referral

SEEN_BY_EYE: frozenset[Track] = frozenset(
    {"wax", "retraction", "perforation", "canal_skin", "cavity", "drum", "view"}
)
"""Tracks of which a letter asks about what is seen; of the others hearing matters as well."""

_BY_NAME = re.compile(
    r"(?P<title>Dr|Mr|Mrs|Ms|Miss|Mx|Prof|Professor)\.? (?:(?![a-z])\w[\w.’'-]* ?)*?"
    r"(?P<family>(?:(?:van|von|de|der|den|la|le|du|di|da|el|al) )*(?![a-z])\w[\w’'-]+)"
    r"(?: and .*|,.*| &.*)?$"
)
"""A colleague's name as an address begins with it: a title, and the family name last."""


@dataclass(frozen=True, slots=True)
class Sending:
    """How a referral goes, and what its letter says beside the record."""

    route: Route = "direct"
    """Straight there, or through the GP."""
    spoken_to: str = ""
    """With whom it was arranged, and when, where it was."""
    words: str = ""
    """The clinician's own, for this letter."""


def referral_letter(
    desk: Desk, session: Session, person_id: int, referrals: Sequence[Referral], sending: Sending
) -> ComposedLetter:
    """Compose the draft of a referral letter; the practitioner checks and signs it.

    The referrals are those of one day to one service.
    """
    first, case = referrals[0], case_for(session, person_id)
    seen_by = min(one.stages.seen_by for one in referrals)
    days = [one.asked_on for one in referrals]
    beside = referred_beside(session, person_id, first.to, days)
    says = _Says(
        kind="referral",
        to=address_of(desk, session, person_id, "gp" if sending.route == "gp" else first.to),
        reasons=reasons_of(referrals, case),
        asks=asked_words(first.urgency, seen_by, desk.today),
        urgency=first.urgency,
        questions=questions(referrals, case),
        words=sending.words,
        beside=tuple(f"{SERVICES[to].head}, {soon}" for to, soon in beside),
        spoken_to=sending.spoken_to,
        asked_on=days,
        of_hearing=any(r.track not in SEEN_BY_EYE for one in referrals for r in one.reasons),
    )
    return _compose(desk, session, person_id, says)


def hand_back_letter(
    desk: Desk, session: Session, person_id: int, reasons: Sequence[str], tried: Sequence[str]
) -> ComposedLetter:
    """Compose the letter that hands a follow-up back to the GP."""
    says = _Says(
        kind="hand_back_to_gp",
        to=address_of(desk, session, person_id, "gp"),
        reasons=tuple(dict.fromkeys(map(without_house_rules, reasons))),
        asks="Please decide with the person what is to be done about this.",
        tried=tuple(tried),
    )
    return _compose(desk, session, person_id, says)


@dataclass(frozen=True, slots=True)
class Purpose:
    """What a letter to a colleague is for: its kind, and the row that it carries on."""

    kind: Kind
    step: str
    follow_up_id: int | None = None
    referral_id: int | None = None
    round: int = 1


def write(act: Act, letter: ComposedLetter, purpose: Purpose) -> int:
    """Put a letter among those that wait for the post; return its number."""
    return act.add(
        "letter",
        person_id=act.person_id,
        follow_up_id=purpose.follow_up_id,
        referral_id=purpose.referral_id,
        round=purpose.round,
        step=purpose.step,
        home=_next_home(act.session, purpose),
        kind=purpose.kind,
        language=letter.language,
        format=letter.size,
        to_name=letter.address[0],
        to_lines=letter.address[1:],
        body=to_json(letter).decode(),
        fields=kept_fields(letter.number),
    )


def kept_fields(number: str, *, is_backlog: bool = False, email: str = "") -> str:
    """Return what a letter's row keeps beside its text."""
    told = {"number": number, "backlog": is_backlog, "email": email}
    return msgspec.json.encode(told).decode()


def text_of(letter: ComposedLetter) -> str:
    """Return a letter as plain text."""
    return f"{letter.dated}\n{letter.numbered}\n\n{plain(letter.body)}\n"


def address_of(desk: Desk, session: Session, person_id: int, to: To) -> tuple[str, ...]:
    """Return the lines of the address of a service, or of the person's own GP."""
    if to == "gp":
        return _gp_lines(desk, session, person_id)
    return desk.config.addresses.get(to) or (SERVICES[to].head,)


def tried_lines(session: Session, follow_up_id: int) -> tuple[str, ...]:
    """Return how the person was contacted about a follow-up, one line each, in order."""
    c, p = tables.Contact, tables.Letter
    a = tables.AlsoAbout
    too = select(a.contact_id).where(a.follow_up_id == follow_up_id, a.contact_id.is_not(None))
    calls = select(c.on, c.channel, c.outcome, c.by_them).where(
        (c.follow_up_id == follow_up_id) | c.id.in_(too), stands(tables.Contact)
    )
    lines = [
        (on, f"{channel.replace('_', ' ')}, {outcome.replace('_', ' ')}")
        for on, channel, outcome, by_them in session.execute(calls)
        if not by_them
    ]
    also = select(a.letter_id).where(a.follow_up_id == follow_up_id, a.letter_id.is_not(None))
    posted = select(p.posted_on).where(
        (p.follow_up_id == follow_up_id) | p.id.in_(also),
        stands(tables.Letter),
        p.posted_on.is_not(None),
        p.home == 1,
    )
    lines += [(on, "letter") for on in session.scalars(posted) if on]
    return tuple(f"{say_day(on)}: {words}" for on, words in sorted(lines))


def _next_home(session: Session, purpose: Purpose) -> int:
    """Return a place that no letter of the step has yet, voided ones included."""
    if purpose.follow_up_id is None:
        return 1
    p = tables.Letter
    turn = p.round == purpose.round, p.step == purpose.step
    same = select(func.max(p.home)).where(p.follow_up_id == purpose.follow_up_id, *turn)
    return (session.scalar(same) or 0) + 1


def _number(session: Session, kind: Kind, person_id: int) -> str:
    """Return a reference that no other letter has: how many there are about the person so far."""
    before = (
        select(func.count()).select_from(tables.Letter).where(tables.Letter.person_id == person_id)
    )
    return f"{kind[0].upper()}-{person_id}-{(session.scalar(before) or 0) + 1}"


def _gp_lines(desk: Desk, session: Session, person_id: int) -> tuple[str, ...]:
    """Return the person's GP with the address that the configuration has for the practice."""
    gp = session.scalar(select(tables.Person.gp).where(tables.Person.id == person_id)) or ""
    lines = tuple(part.strip() for part in gp.replace("\n", ",").split(",") if part.strip())
    known = {name.casefold(): lines for name, lines in desk.config.addresses.items()}
    for n, line in enumerate(lines):
        if found := known.get(line.casefold()):
            return (*lines[:n], *found)
    return lines or desk.config.addresses.get("gp") or (SERVICES["gp"].head,)


def _greeted(named: str) -> str:
    """Return whom a letter greets: the colleague by name where its first line has one.

    >>> _greeted("Dr A. Pell and partners"), _greeted("Millrace Surgery")
    ('Dr Pell', 'Colleague')
    """
    found = _BY_NAME.match(named)
    return f"{found['title']} {found['family']}" if found else "Colleague"


@dataclass(frozen=True)
class _Says:
    """What a letter to a colleague says beside what is known of the person."""

    kind: Kind
    to: Sequence[str]
    reasons: tuple[str, ...]
    asks: str
    urgency: Urgency | None = None
    questions: tuple[str, ...] = ()
    words: str = ""
    beside: tuple[str, ...] = ()
    tried: tuple[str, ...] = ()
    spoken_to: str = ""
    asked_on: Sequence[date] = ()
    of_hearing: bool = True
    """Whether it asks about hearing, so that a test that could not be done matters."""


def _compose(desk: Desk, session: Session, person_id: int, says: _Says) -> ComposedLetter:
    case = case_for(session, person_id)
    chart = audiogram(case.visits)
    seen = msgspec.structs.replace(
        _seen(desk, case, says),
        audiogram=chart,
        tested_on=max(chart.days(), default=None) if chart else None,
        tested_before=max(chart.days(before=True), default=None) if chart else None,
        reasons=says.reasons,
        asks=says.asks,
        is_emergency=says.urgency == "emergency",
        is_urgent=says.urgency == "urgent",
        questions=says.questions,
        words=says.words,
        beside=says.beside,
        trends=trends(case),
        tried=says.tried,
        spoken_to=says.spoken_to,
    )
    data = LetterData(
        number=_number(session, says.kind, person_id),
        kind=says.kind,
        language=desk.config.letters.languages[0],
        recipient=tuple(says.to),
        salutation=_greeted(says.to[0]),
        practice=practice_words(desk, site_of(session, person_id)),
        on=desk.today,
        cautions=tuple(c.words for c in cautions(case, desk.today)),
        signed_by=desk.by.name if desk.by.may_decide else "",
        signed_role=signs_as(desk.by) if desk.by.may_decide else "",
        subject=_subject(desk, session, person_id),
        seen=seen,
    )
    return compose(data, Wording(desk.config.files.wording, desk.config.letters.languages[0]))


def _seen(desk: Desk, case: Case, says: _Says) -> Seen:
    """Return what was reported and found by the newest visit, and on which day that was."""
    newest = case.visits[-1] if case.visits else None
    if newest is None:
        return Seen(visit_on=desk.today, history=background_lines(case, None))
    reported = _reported(case, newest.on, says.asked_on)
    looked = any(v.right or v.left for v in case.visits if v.on == newest.on)
    return Seen(
        visit_on=newest.on,
        not_examined="" if looked else "Ears not examined that day.",
        reported=reported,
        history=(*reported, *background_lines(case, newest)),
        right=latest_ear_lines(case, "right", of_hearing=says.of_hearing),
        left=latest_ear_lines(case, "left", of_hearing=says.of_hearing),
    )


def _reported(case: Case, newest: date, asked_on: Sequence[date]) -> tuple[str, ...]:
    """Return what was reported on the newest day, then on the days that asked for the letter."""
    told = [line for v in case.visits if v.on == newest for line in reported_lines(v)]
    for visit in case.visits:
        if visit.on in asked_on and visit.on != newest:
            told += [f"{say_day(visit.on)}: {line}" for line in reported_lines(visit)]
    return tuple(told)


@needs(Right.LOOK)
def practice_words(desk: Desk, site: str = "") -> Practice:
    """Return the practice as letters to the people of a site show it."""
    ours = practice_at(desk.config, site)
    return Practice(
        name=ours.name,
        address=(*ours.address, ours.postcode),
        phone=ours.phone,
        email=ours.email,
        opening_hours=ours.opening_hours,
        opening_hours_in=ours.opening_hours_in,
    )


def _subject(desk: Desk, session: Session, person_id: int) -> Subject:
    row = session.scalars(select(whole(tables.Person)).where(tables.Person.id == person_id)).one()
    r = tables.ContactPoint
    address = session.scalar(
        select(r.value)
        .where(
            r.person_id == person_id,
            r.kind == "address",
            stands(tables.ContactPoint),
            r.value.is_not(None),
        )
        .where(r.until.is_(None))
        .order_by(r.rank, r.id)
    )
    adult, phone = _answers(desk, session, person_id)
    return Subject(
        name=f"{row.given_names} {row.family_name}".strip(),
        born=row.born,
        reference=row.ref,
        address=tuple((address or "").split("\n")) if address else (),
        nhs_number=identifiers.nhs_number(row.nhs_number).shown if row.nhs_number else "",
        adult=adult,
        phone=identifiers.phone(phone, desk.config.calendar.country).shown if phone else "",
        gp=row.gp,
    )


def _answers(desk: Desk, session: Session, person_id: int) -> tuple[str, str]:
    """Return who answers for a child, and the number that may be rung: theirs, or the person's."""
    known = reachable(session, [person_id], desk.today)[person_id]
    if not is_child(known.person.born, desk.today):
        return "", _phone(desk, known, None)
    acting = [a for a in known.person.adults if a.role == "responsible_adult"]
    ids = [a.id for a in acting if a.acts_on(desk.today) and not _is_unsafe(known, a.id)]
    if not ids:
        return "", _phone(desk, known, None)
    first = next((number for number in ids if _phone(desk, known, number)), ids[0])
    name = session.scalar(select(tables.AdultFor.name).where(tables.AdultFor.id == first)) or ""
    return name, _phone(desk, known, first) or _phone(desk, known, None)


def _is_unsafe(known: Reachable, adult_id: int) -> bool:
    """Say whether somebody may be reached in no way that is recorded."""
    ways = [way for way in known.ways if way.adult_id == adult_id]
    return bool(ways) and all(way.safe == "no" for way in ways)


def _phone(desk: Desk, known: Reachable, adult_id: int | None) -> str:
    """Return the first number of somebody that is safe to ring; the only safe one goes first."""
    unsafe_on = known.person.unsafe_on
    if unsafe_on is not None and unsafe_on <= desk.today:
        return ""
    safe = [way for way in known.ways if way.value and way.safe != "no"]
    safe = [way for way in safe if way.safe == "only_this"] or safe
    own = (way.value for way in safe if way.kind == "phone" and way.adult_id == adult_id)
    return next(own, "") or ""
