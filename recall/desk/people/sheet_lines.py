"""What happens when, on the sheet to take home: one line for each service and each visit here.

In the order of the days, with the ear named in each line, addressed to the person or, of a child,
to whoever brings them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from recall.care.case import To
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.people.sheet_words import SERVICES, Reader, back_words, ears_of, reason_words
from recall.desk.referrals.colleague_letters import SERVICE
from recall.desk.worklists.open_items import OpenFollowUp
from recall.loop.referral import ReferralLoop
from recall.schedule.calendar import say_day

LATE = "This is late: please call us, so that we can find a day soon."
ALL_LATE = "These are late: please call us, so that we can find a day soon."
TESTED_THERE = "If audiology has tested the hearing by then, tell us: this may not be needed."
AUDIOLOGY: frozenset[To] = frozenset({"audiology", "paediatric_audiology"})
HEARING = frozenset({"hearing_test", "tympanometry"})
"""What audiology does as well as we do."""
SOON_DAYS = 2
"""A service that sees somebody within so many days is not waited for."""


class Line(NamedTuple):
    """What happens, and the day by which lines are put in order."""

    on: date
    says: str


@dataclass(slots=True)
class _Service:
    """What one service is asked for, whatever was asked of it on several days."""

    to: To
    accepted_by: date
    seen_by: date
    ears: set[str] = field(default_factory=set)
    rules: list[str] = field(default_factory=list)


def sent_now(loops: Iterable[ReferralLoop], visit_on: date) -> tuple[str, ...]:
    """Return where the person goes as an emergency of their newest visit."""
    found: dict[str, None] = {}
    for loop in loops:
        one = loop.referral
        if is_emergency(loop, visit_on):
            whom = next((e.spoke_with for e in loop.events if e.spoke_with), "")
            arranged = f" We arranged it with {whom}." if whom else ""
            ear = "" if one.to == "stroke" else f" ({ears_of(one.ears)})"
            where = f"{SERVICE[one.to]}{ear}"
            found[f"Go today, without waiting for anything else: {where}.{arranged}"] = None
    return tuple(found)


def is_emergency(loop: ReferralLoop, visit_on: date) -> bool:
    """Return whether a referral sends the person on at once, from their newest visit."""
    return loop.referral.urgency == "emergency" and loop.referral.asked_on == visit_on


@needs(Right.LOOK)
def referred(desk: Desk, loops: Iterable[ReferralLoop], reader: Reader) -> Iterator[Line]:
    """Yield each service that waits for the person, once."""
    services: dict[To, _Service] = {}
    for one in (loop.referral for loop in loops):
        days = one.stages.accepted_by, one.stages.seen_by
        asked = services.setdefault(one.to, _Service(one.to, *days))
        asked.accepted_by = min(asked.accepted_by, days[0])
        asked.seen_by = min(asked.seen_by, days[1])
        asked.ears |= set(one.ears)
        asked.rules += [reason.rule for reason in one.reasons]
    for asked in services.values():
        yield Line(asked.seen_by, _waits(desk, asked, reader))


def _waits(desk: Desk, asked: _Service, reader: Reader) -> str:
    seen_by = asked.seen_by
    said = f"We refer {reader.you} to {SERVICES[asked.to]} about {ears_of(asked.ears, 'the ')}."
    if why := reason_words(asked.rules):
        said = f"{said} {why}"
    if seen_by < desk.today:
        late = "should have been seen there by now: please call us if that did not happen."
        return f"{said} {reader.You} {late}"
    by = f"{reader.You} should be seen there by {say_day(seen_by)}"
    if (seen_by - desk.today).days <= SOON_DAYS:
        return f"{said} {by}; if not, call us or NHS 111."
    if asked.accepted_by <= desk.today:
        return f"{said} {by}. If you hear nothing, please call us."
    return (
        f"{said} {by}. If you have heard nothing by {say_day(asked.accepted_by)}, please call us."
    )


@needs(Right.LOOK)
def back(
    desk: Desk,
    open_now: Sequence[OpenFollowUp],
    reader: Reader,
    loops: Sequence[ReferralLoop] = (),
) -> Iterator[Line]:
    """Yield when the person comes again; what is late and not booked is one line.

    Of a hearing test that audiology may have done by then, as `loops` tell, it says so.
    """
    open_now = [f for f in open_now if f.status != "history"]
    late = [f for f in open_now if f.appointment is None and f.latest < desk.today]
    if late:
        why = list(dict.fromkeys(words for f in late for words in back_words(f.aloud, reader)))
        call = LATE if len(why) == 1 else ALL_LATE
        yield Line(min(f.latest for f in late), f"{' '.join(why)} {call}")
    said: dict[str, list[OpenFollowUp]] = {}
    for one in sorted((f for f in open_now if f not in late), key=lambda f: _day_of(f)):
        said.setdefault(" ".join(back_words(one.aloud, reader)), []).append(one)
    for words, alike in said.items():
        first, *more = alike
        then = "".join(f" {_once_more(each)}" for each in more)
        spared = f" {TESTED_THERE}" if _is_tested_there(first, loops) else ""
        yield Line(_day_of(first), f"{words} {_when(desk, first)}{spared}{then}")


def _is_tested_there(one: OpenFollowUp, loops: Sequence[ReferralLoop]) -> bool:
    """Return whether audiology is asked to see the same ears before a hearing test here is late."""
    there = [loop.referral for loop in loops if loop.referral.to in AUDIOLOGY]
    ears = {ear for asked in there if asked.stages.seen_by <= one.latest for ear in asked.ears}
    return HEARING.issuperset(one.do) and ears.issuperset(one.ears)


def _day_of(one: OpenFollowUp) -> date:
    if one.appointment is not None:
        return one.appointment.starts_local.date()
    return one.offer_on or one.target


def _when(desk: Desk, one: OpenFollowUp) -> str:
    """Return when the person comes again: as booked, or as offered."""
    if one.appointment is not None:
        return _booked(one)
    if one.do == ("call",):
        return f"We call by {say_day(one.latest)}."
    by = f"by {say_day(one.latest)} at the latest"
    good = one.offer_on or one.target
    if good < desk.today or desk.calendar.closed_because(good) is not None:
        return f"Please come {by}."
    return f"A good day: {say_day(good, weekday=True)}; {by}."


def _once_more(one: OpenFollowUp) -> str:
    if one.appointment is not None:
        return _booked(one)
    return f"After that, the same again by {say_day(one.latest)}."


def _booked(one: OpenFollowUp) -> str:
    assert one.appointment is not None
    at = one.appointment.starts_local
    return f"Your appointment: {say_day(at.date(), weekday=True)}, {at:%H:%M}."
