"""Who else sees the person, on the sheet to take home: a line for each referral, with its own days.

What was asked on another day, or is more or less pressing, is another referral: neither its ears
nor its days are those of the first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date

from recall.care.case import To, Urgency
from recall.care.ear import ears_of
from recall.care.services import SERVICES
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.people.sheet_lines import Line
from recall.desk.people.sheet_words import Reader, about_words, reason_words
from recall.loop.referral import ReferralLoop, is_seen
from recall.schedule.calendar import say_day

SOON_DAYS = 2
"""A service that sees somebody within so many days is not waited for."""


@dataclass(slots=True)
class _Asked:
    """What one service is asked for on one day, with one urgency."""

    to: To
    asked_on: date
    accepted_by: date
    seen_by: date
    was_seen: bool = False
    ears: set[str] = field(default_factory=set)
    rules: list[str] = field(default_factory=list)


def sent_now(loops: Iterable[ReferralLoop], visit_on: date) -> tuple[str, ...]:
    """Return where the person goes as an emergency of their newest visit."""
    found: dict[tuple[To, str], set[str]] = {}
    for loop in loops:
        if is_emergency(loop, visit_on):
            whom = next((e.spoke_with for e in loop.events if e.spoke_with), "")
            found.setdefault((loop.referral.to, whom), set()).update(loop.referral.ears)
    return tuple(_go_today(to, whom, ears) for (to, whom), ears in found.items())


def _go_today(to: To, whom: str, ears: set[str]) -> str:
    ear = "" if to == "stroke" else f" ({ears_of(ears)})"
    arranged = f" We arranged it with {whom}." if whom else ""
    return f"Go today, without waiting for anything else: {SERVICES[to].head}{ear}.{arranged}"


def seen_soon(loops: Iterable[ReferralLoop], on: date) -> frozenset[str]:
    """Return the ears that a service is to see within a day or two: nothing waits till then."""
    soon = (loop.referral for loop in loops)
    near = (one for one in soon if 0 <= (one.stages.seen_by - on).days <= SOON_DAYS)
    return frozenset(ear for one in near for ear in one.ears)


def is_emergency(loop: ReferralLoop, visit_on: date) -> bool:
    """Return whether a referral sends the person on at once, from their newest visit."""
    return loop.referral.urgency == "emergency" and loop.referral.asked_on == visit_on


@needs(Right.LOOK)
def referred(
    desk: Desk, loops: Iterable[ReferralLoop], reader: Reader, visit_on: date
) -> Iterator[Line]:
    """Yield each referral that waits for the person; those of earlier days say of which day."""
    found: dict[tuple[To, date, Urgency, bool], _Asked] = {}
    for loop in loops:
        one, was_seen = loop.referral, is_seen(loop)
        stages = one.stages
        new = _Asked(one.to, one.asked_on, stages.accepted_by, stages.seen_by, was_seen)
        asked = found.setdefault((one.to, one.asked_on, one.urgency, was_seen), new)
        asked.accepted_by = min(asked.accepted_by, stages.accepted_by)
        asked.seen_by = min(asked.seen_by, stages.seen_by)
        asked.ears |= set(one.ears)
        asked.rules += [reason.rule for reason in one.reasons]
    for asked in found.values():
        yield Line(asked.seen_by, _waits(desk, asked, reader, visit_on))


def _waits(desk: Desk, asked: _Asked, reader: Reader, visit_on: date) -> str:
    about = about_words(asked.rules, asked.ears, reader)
    whom = f"{reader.you} to {SERVICES[asked.to].plain} about {about}."
    before = asked.asked_on < visit_on
    said = f"On {say_day(asked.asked_on)} we referred {whom}" if before else f"We refer {whom}"
    if why := reason_words(asked.rules):
        said = f"{said} {why}"
    return f"{said} {_by_when(desk, asked, reader)}"


def _by_when(desk: Desk, asked: _Asked, reader: Reader) -> str:
    seen_by = asked.seen_by
    if asked.was_seen:
        return f"{reader.You} {reader.were} seen there: we are waiting for the result."
    if seen_by < desk.today:
        late = "should have been seen there by now: please call us if that did not happen."
        return f"{reader.You} {late}"
    by = f"{reader.You} should be seen there by {say_day(seen_by)}"
    if (seen_by - desk.today).days <= SOON_DAYS:
        return f"{by}; if not, call us or NHS 111."
    if asked.accepted_by <= desk.today:
        return f"{by}. If you hear nothing, please call us."
    return f"{by}. If you have heard nothing by {say_day(asked.accepted_by)}, please call us."
