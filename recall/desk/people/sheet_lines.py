"""When the person comes again, on the sheet to take home: one line for each visit here.

In the order of the days, with the ear named in each line, addressed to the person or, of a child,
to whoever brings them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from typing import NamedTuple

from recall.care.case import To
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.people.sheet_words import TEST, UNFINISHED, Reader, back_patterns, back_words
from recall.desk.worklists.open_items import Appointment, OpenFollowUp
from recall.loop.referral import ReferralLoop
from recall.schedule.calendar import say_day

LATE = "This is late: please call us, so that we can find a day soon."
ALL_LATE = "These are late: please call us, so that we can find a day soon."
TESTED_THERE = "If audiology has tested the hearing by then, tell us: this may not be needed."
AUDIOLOGY: frozenset[To] = frozenset({"audiology", "paediatric_audiology"})
HEARING = frozenset({"hearing_test", "tympanometry"})
"""What audiology does as well as we do."""


class Line(NamedTuple):
    """What happens, and the day by which lines are put in order."""

    on: date
    says: str


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
    open_now = [_as_said(f) for f in open_now if not _is_tried_again(desk, f, open_now)]
    late = [f for f in open_now if _coming(desk, f) is None and f.latest < desk.today]
    if late:
        why = list(dict.fromkeys(words for f in late for words in back_words(f.aloud, reader)))
        call = LATE if len(why) == 1 else ALL_LATE
        yield Line(min(f.latest for f in late), f"{' '.join(why)} {call}")
    in_order = sorted((f for f in open_now if f not in late), key=lambda f: _day_of(desk, f))
    said: dict[str, list[OpenFollowUp]] = {}
    for one in _in_one_visit(in_order):
        said.setdefault(" ".join(back_words(one.aloud, reader)), []).append(one)
    for words, alike in said.items():
        first, *more = alike
        then = "".join(f" {_once_more(desk, each)}" for each in more)
        spared = f" {TESTED_THERE}" if _is_tested_there(first, loops) else ""
        yield Line(_day_of(desk, first), f"{words} {_when(desk, first)}{spared}{then}")


def _is_tried_again(desk: Desk, one: OpenFollowUp, open_now: Sequence[OpenFollowUp]) -> bool:
    """Return whether a second try at all that a visit was for, on later days, stands for it."""
    if UNFINISHED in one.aloud or _coming(desk, one) is not None:
        return False
    return any(
        set(one.ears) <= set(other.aloud.get(UNFINISHED, ()))
        and set(one.tracks) <= set(other.tracks)
        and one.latest < other.earliest
        for other in open_now
    )


def _as_said(one: OpenFollowUp) -> OpenFollowUp:
    """Return a follow-up in which a test that was not done is a test, and no look that failed."""
    ears = one.aloud.get(UNFINISHED, ())
    tests = [ear for ear in ears if ear in one.untested]
    if not tests:
        return one
    looks = tuple(ear for ear in ears if ear not in tests)
    aloud = {words: those for words, those in one.aloud.items() if words != UNFINISHED}
    aloud |= {UNFINISHED: looks} if looks else {}
    return replace(one, aloud=aloud | {TEST: (*aloud.get(TEST, ()), *tests)})


def _in_one_visit(in_order: Sequence[OpenFollowUp]) -> list[OpenFollowUp]:
    """Return the visits: what is asked for twice, on days that overlap, is done in one of them."""
    visits: list[OpenFollowUp] = []
    for one in in_order:
        n = next((n for n, other in enumerate(visits) if _are_one(other, one)), None)
        if n is None:
            visits.append(one)
        else:
            visits[n] = _both(visits[n], one)
    return visits


def _are_one(a: OpenFollowUp, b: OpenFollowUp) -> bool:
    same = back_patterns(a.aloud).keys() == back_patterns(b.aloud).keys()
    booked = a.appointment or b.appointment
    return same and not booked and max(a.earliest, b.earliest) <= min(a.latest, b.latest)


def _both(a: OpenFollowUp, b: OpenFollowUp) -> OpenFollowUp:
    aloud = {**a.aloud}
    for words, ears in b.aloud.items():
        aloud[words] = tuple(dict.fromkeys((*aloud.get(words, ()), *ears)))
    return replace(
        a,
        aloud=aloud,
        ears=tuple(dict.fromkeys((*a.ears, *b.ears))),
        do=tuple(dict.fromkeys((*a.do, *b.do))),
        earliest=max(a.earliest, b.earliest),
        latest=min(a.latest, b.latest),
    )


def _is_tested_there(one: OpenFollowUp, loops: Sequence[ReferralLoop]) -> bool:
    """Return whether audiology is asked to see the same ears before a hearing test here is late."""
    there = [loop.referral for loop in loops if loop.referral.to in AUDIOLOGY]
    ears = {ear for asked in there if asked.stages.seen_by <= one.latest for ear in asked.ears}
    return HEARING.issuperset(one.do) and ears.issuperset(one.ears)


def _coming(desk: Desk, one: OpenFollowUp) -> Appointment | None:
    """Return the appointment that is still to come; one that has begun is told as gone by."""
    made = one.appointment
    if made is None or desk.clock.has_come(made.starts_local.date(), made.starts_local.time()):
        return None
    return made


def _day_of(desk: Desk, one: OpenFollowUp) -> date:
    if made := _coming(desk, one):
        return made.starts_local.date()
    return one.offer_on or one.target


def _when(desk: Desk, one: OpenFollowUp) -> str:
    """Return when the person comes again: as booked, or as offered."""
    if made := _coming(desk, one):
        return _booked(made)
    if one.do == ("call",):
        return f"We call by {say_day(one.latest)}."
    gone = _gone_by(desk, one)
    good = one.offer_on or one.target
    is_outside = not one.earliest <= good <= one.latest or good <= desk.today
    if is_outside or desk.calendar.closed_because(good) is not None:
        return f"{gone}Please come {_within(desk, one)}."
    return f"{gone}A good day: {say_day(good, weekday=True)}; or {_within(desk, one)}."


def _within(desk: Desk, one: OpenFollowUp) -> str:
    """Return from when and by when the person comes; before the first day says nothing new."""
    if one.earliest <= desk.today:
        return f"by {say_day(one.latest)} at the latest"
    return f"between {say_day(one.earliest)} and {say_day(one.latest)}"


def _gone_by(desk: Desk, one: OpenFollowUp) -> str:
    """Return what is said of an appointment that has gone by and answered nothing."""
    if one.appointment is None or _coming(desk, one) is not None:
        return ""
    on = say_day(one.appointment.starts_local.date(), weekday=True)
    return f"The appointment of {on} has gone by. Please call us for a new one. "


def _once_more(desk: Desk, one: OpenFollowUp) -> str:
    if made := _coming(desk, one):
        return _booked(made)
    return f"After that, the same again {_within(desk, one)}."


def _booked(made: Appointment) -> str:
    at = made.starts_local
    return f"Your appointment: {say_day(at.date(), weekday=True)}, {at:%H:%M}."
