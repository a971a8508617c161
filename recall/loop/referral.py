"""Referrals as closed loops: each stage has a day, and what is not known by then is chased.

The loop is open until the result is back, or until somebody who may decide closes it with a
reason. About half of specialist referrals are never completed (IHI/NPSF, Closing the Loop,
2017): sent is not seen.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Literal

import msgspec

from recall.loop.changeover import is_of_before, visited
from recall.protocol.contact import ContactProtocol
from recall.schedule.calendar import Calendar, say_day
from recall.schedule.plan import Referral, Stages

Route = Literal["direct", "gp"]
Stage = Literal[
    "sent", "gp_acted", "accepted", "seen", "result", "decision", "known", "closed", "look_through"
]
What = Literal[
    "spoke",
    "sent",
    "gp_acted",
    "accepted",
    "appointment",
    "seen",
    "result",
    "chased",
    "missed_there",
    "rejected",
    "discharged",
    "not_there",
    "no_longer_asked",
    "decided",
    "worded",
    "closed",
]
"""`not_there`: an emergency that did not arrive; `decided`: carry on, or send it elsewhere;
`worded`: the clinician's words for the letter, which move nothing."""
LOOK_THROUGH: Stage = "look_through"
"""Asked for before the practice went live: neither chased nor written until looked through."""
_NO_ANSWER = frozenset({"no_longer_asked", "worded"})
"""What is noted of a referral without anybody having looked at it."""
_ASKS_DECISION: dict[What, str] = {
    "rejected": "The referral was rejected",
    "discharged": "They were discharged without being seen",
    "not_there": "They did not get there",
    "no_longer_asked": "What was recorded does not ask for it any more",
}
_MEANS: dict[What, Stage] = {
    "spoke": "sent",
    "sent": "sent",
    "gp_acted": "gp_acted",
    "accepted": "accepted",
    "appointment": "accepted",
    "seen": "seen",
    "result": "result",
    "missed_there": "accepted",
}
_STAGES: tuple[Stage, ...] = ("sent", "gp_acted", "accepted", "seen", "result")
_ASK: dict[Stage, str] = {
    "sent": "Has it been sent?",
    "gp_acted": "Has the GP referred?",
    "accepted": "Was it accepted?",
    "seen": "Were they seen?",
    "result": "Is the result back?",
}
_DAY = timedelta(days=1)


class ReferralEvent(msgspec.Struct, frozen=True, kw_only=True):
    """Something that became known about a referral."""

    on: date
    what: What
    day: date | None = None
    """For an appointment: its day."""
    spoke_with: str = ""
    reason: str = ""


class ReferralLoop(msgspec.Struct, frozen=True, kw_only=True):
    """A referral, the way it goes, and what became known, in order."""

    referral: Referral
    route: Route = "direct"
    """Direct, or through the GP, who must then be known to have acted."""
    events: tuple[ReferralEvent, ...] = ()
    from_file: bool = False
    """A visit that a file brought asked for it."""
    visited_on: date | None = None
    """The person's last visit that was closed here, not brought by a file."""


class ReferralState(msgspec.Struct, frozen=True, kw_only=True):
    """How a referral stands on a day."""

    stage: Stage
    """The earliest stage that is not known, or what is awaited."""
    chased_on: date | None
    why: str
    is_open: bool
    by_phone: bool = False
    seen_by: date | None = None
    """By when they are to be seen there; of what is open."""


def state(
    loop: ReferralLoop, on: date, rules: ContactProtocol, calendar: Calendar | None = None
) -> ReferralState:
    """Return the earliest stage not known by a day, and the day on which it is chased."""
    known = (event for event in loop.events if event.on <= on)
    events = tuple(event for event in known if event.what != "worded")
    last = events[-1] if events else None
    if last and last.what == "closed":
        return ReferralState(
            stage="closed", chased_on=None, why=f"Closed: {last.reason}.", is_open=False
        )
    if any(event.what == "result" for event in events):
        return ReferralState(
            stage="known", chased_on=None, why="The result is back.", is_open=False
        )
    if stop := _stopped(events):
        why = f"{_ASKS_DECISION[stop.what]} ({say_day(stop.on)}): a clinician decides."
        return ReferralState(stage="decision", chased_on=stop.on, why=why, is_open=True)
    if _is_history(loop, events, on, rules):
        return _look_through(loop, rules)
    asked = loop.referral.asked_on
    loop, events = _asked_anew(loop, events, rules)
    stage = _first_unknown(loop, events)
    day = _chase_day(loop, events, stage, rules, calendar)
    emergency = loop.referral.urgency == "emergency"
    return ReferralState(
        stage=stage,
        chased_on=day,
        why=_why(loop, events, stage, asked if on > asked else None),
        is_open=True,
        by_phone=emergency and stage in ("sent", "seen"),
        seen_by=loop.referral.stages.seen_by,
    )


def _look_through(loop: ReferralLoop, rules: ContactProtocol) -> ReferralState:
    """Return how something stands that was asked for before the practice went live."""
    live, ask = rules.live_from(), loop.referral
    assert live is not None, "there is no history without that day"
    when = f"asked for on {say_day(ask.asked_on)}, to be seen by {say_day(ask.stages.seen_by)}"
    why = f"From before {say_day(live)}: {when}; not looked at yet."
    return ReferralState(
        stage=LOOK_THROUGH, chased_on=live, why=why, is_open=True, seen_by=ask.stages.seen_by
    )


def stage_day(loop: ReferralLoop, stage: Stage, rules: ContactProtocol) -> date:
    """Return the day by which a stage must be known."""
    stages = loop.referral.stages
    if stage == "gp_acted":
        chase = rules.chase[loop.referral.urgency]
        acted = rules.span(chase.gp_acted).after(loop.referral.asked_on)
        return min(max(acted, stages.sent_by), stages.accepted_by)
    days = {
        "sent": stages.sent_by,
        "accepted": stages.accepted_by,
        "seen": stages.seen_by,
        "result": stages.result_by,
    }
    return days[stage]


def stages_asked(loop: ReferralLoop) -> tuple[Stage, ...]:
    """Return the stages this referral goes through.

    An emergency is arranged by phone while the person is there, and what matters next is
    whether they got there; only the GP's route asks whether the GP acted.
    """
    if loop.referral.urgency == "emergency":
        return ("sent", "seen", "result")
    return tuple(stage for stage in _STAGES if stage != "gp_acted" or loop.route == "gp")


def _stopped(events: tuple[ReferralEvent, ...]) -> ReferralEvent | None:
    """Return the last event that asks for a decision, where nothing has answered it since.

    A chase answers nothing; arranging by phone again answers an emergency that did not arrive.
    """
    stop: ReferralEvent | None = None
    for event in events:
        if event.what in _ASKS_DECISION:
            stop = event
            continue
        arranged_again = event.what == "spoke" and stop is not None and stop.what == "not_there"
        if arranged_again or event.what not in ("chased", "spoke", "missed_there"):
            stop = None
    return stop


def progress(events: tuple[ReferralEvent, ...]) -> tuple[ReferralEvent, ...]:
    """Return the events since the last new start: what was rejected is not sent any more."""
    for n in range(len(events) - 1, -1, -1):
        if events[n].what in _ASKS_DECISION and events[n].what != "no_longer_asked":
            return events[n + 1 :]
    return events


def is_seen(loop: ReferralLoop) -> bool:
    """Return whether the person is known to have been seen there since the last new start."""
    return any(event.what in ("seen", "result") for event in progress(loop.events))


def _first_unknown(loop: ReferralLoop, events: tuple[ReferralEvent, ...]) -> Stage:
    """Return the first stage not known; a later one that is known implies those before it."""
    reached = [_STAGES.index(_MEANS[e.what]) for e in progress(events) if e.what in _MEANS]
    known = max(reached, default=-1)
    return next(stage for stage in stages_asked(loop) if _STAGES.index(stage) > known)


def _chase_day(
    loop: ReferralLoop,
    events: tuple[ReferralEvent, ...],
    stage: Stage,
    rules: ContactProtocol,
    calendar: Calendar | None,
) -> date:
    """Return the stage's day, or so long after the last chase or new start without news."""
    day = stage_day(loop, stage, rules)
    appointments = [e.day for e in events if e.what == "appointment" and e.day]
    if stage == "seen" and appointments and appointments[-1] <= day:
        day = appointments[-1] + _DAY
    last = events[-1] if events else None
    restarted = len(progress(events)) < len(events)
    if last and (last.what in ("chased", "missed_there", "decided") or restarted):
        day = max(day, _again(loop, last.on, rules, calendar))
    return day


def _again(loop: ReferralLoop, on: date, rules: ContactProtocol, calendar: Calendar | None) -> date:
    """Return when something is chased again; working days are the practice's own."""
    span = rules.span(rules.chase[loop.referral.urgency].again)
    if span.unit == "working days" and calendar is not None:
        return calendar.working_days_after(on, span.count)
    return span.after(on)


def _why(
    loop: ReferralLoop, events: tuple[ReferralEvent, ...], stage: Stage, past: date | None
) -> str:
    """Say what is asked when the day comes; `past` is the day that asked, where it has gone by."""
    if loop.referral.urgency == "emergency" and stage == "sent":
        if past is not None:
            return f"Was it arranged by phone on {say_day(past)}? If not, ring there now."
        return "Arrange by phone while the person is here, letter in hand."
    if loop.referral.urgency == "emergency" and stage == "seen":
        return "Ring: did they get there?"
    if events and events[-1].what == "missed_there":
        return f"An appointment there was missed ({say_day(events[-1].on)}): is there another?"
    booked = [e.day for e in events if e.what == "appointment" and e.day]
    if stage == "seen" and booked:
        late = booked[-1] > loop.referral.stages.seen_by
        note = ", later than asked: can it be sooner?" if late else "."
        return f"{_ASK[stage]} Their appointment there: {say_day(booked[-1])}{note}"
    return _ASK[stage]


def _is_history(
    loop: ReferralLoop, events: Iterable[ReferralEvent], on: date, rules: ContactProtocol
) -> bool:
    """Return whether a referral waits to be looked through on a day, by what was known."""
    live = rules.live_from()
    if live is None or not _was_history(loop, live):
        return False
    told = [e for e in events if e.what not in _NO_ANSWER]
    since = any(max(e.on, e.day or e.on) >= live for e in told)
    return not since and not visited(loop.visited_on, on, live)


def _was_history(loop: ReferralLoop, live: date) -> bool:
    ask = loop.referral
    return loop.from_file and is_of_before(ask.urgency, ask.asked_on, ask.stages.seen_by, live)


def _asked_anew(
    loop: ReferralLoop, events: tuple[ReferralEvent, ...], rules: ContactProtocol
) -> tuple[ReferralLoop, tuple[ReferralEvent, ...]]:
    """Return a referral whose days count from when somebody said that history is still open.

    That answer itself is left out of what is known of it. Any other referral is as it was.
    """
    live = rules.live_from()
    if live is None or not _was_history(loop, live):
        return loop, events
    since = (e for e in events if e.on >= live and e.what not in _NO_ANSWER)
    first = next(since, None)
    if first is None or first.what != "decided":
        return loop, events
    by, stages = first.on - loop.referral.asked_on, loop.referral.stages
    later = Stages(
        sent_by=stages.sent_by + by,
        accepted_by=stages.accepted_by + by,
        seen_by=stages.seen_by + by,
        result_by=stages.result_by + by,
    )
    ask = msgspec.structs.replace(loop.referral, stages=later, asked_on=first.on)
    told = tuple(e for e in events if e is not first)
    return msgspec.structs.replace(loop, referral=ask), told
