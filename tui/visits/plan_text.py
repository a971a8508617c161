"""A plan as lines: what presses first, each with its dates, its reasons and their sources."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from textual.content import Content

from recall.care.ear import ears_of
from recall.protocol.showing import say_known
from recall.schedule.plan import Due, FollowUp, Plan, Referral
from recall.schedule.plan_lines import about_words
from recall.schedule.reading import Ears, dues_read, follow_ups_read, reasons_read
from tui.words.signs import LOUDNESS, URGENCY_KINDS, URGENCY_WORDS, words
from tui.words.text import plain, several, short_day, wrapped

Ask = Referral | FollowUp
_PRESSED = {"emergency": 0, "urgent": 1}
PRESSING = frozenset(_PRESSED)


def plan_lines(plan: Plan, today: date, width: int, *, begun: bool = True) -> list[Content]:
    """Return all lines of a plan: what presses, what this visit asks for, what was open already."""
    new, before = _parts(plan)
    lines = _asks(new, plan.on, today, width)
    if before:
        lines.append(Content.styled("Open already", "bold $desk-lead"))
        lines += _asks(before, plan.on, today, width)
    for advice in plan.advice:
        told = f"Tell them ({ears_of(advice.ears)}): {advice.says}"
        lines += _wrapped(told, width, "$desk-ink", hang=2)
    for unanswered in plan.unanswered:
        said = (
            f"Not looked at: {unanswered.ear} {words({}, unanswered.track)}: {unanswered.because}"
        )
        lines += _wrapped(f"? {said}", width, "$desk-warn", hang=2)
    for nothing in (n for n in plan.nothing_due if not n.is_usual):
        lines += _wrapped(f"{nothing.ear.capitalize()}: {nothing.because}", width, "$desk-quiet")
    if not (plan.follow_ups or plan.referrals):
        when = "after this visit" if begun else "so far"
        lines.insert(0, Content.styled(f"Nothing is open {when}.", "bold"))
    lines += [line for n in plan.notices for line in _wrapped(f"! {n}", width, "$desk-quiet")]
    return lines


def _parts(plan: Plan) -> tuple[list[Ask], list[Ask]]:
    """Return what presses or is new, and what had been open before this visit."""
    new: list[Ask] = [r for r in plan.referrals if r.urgency in PRESSING]
    new += [r for r in plan.referrals if r.urgency not in PRESSING and r.asked_on == plan.on]
    follow_ups = follow_ups_read(plan)
    new += [f for f in follow_ups if any(d.asked_on == plan.on for d in f.dues)]
    everything: list[Ask] = [*plan.referrals, *follow_ups]
    return sorted(new, key=_order), sorted((a for a in everything if a not in new), key=_order)


def _order(ask: Ask) -> tuple[int, date]:
    """Return where an ask stands: what presses by how much, all else by its day."""
    if isinstance(ask, Referral):
        return _PRESSED.get(ask.urgency, len(_PRESSED)), ask.stages.seen_by
    return len(_PRESSED), ask.offer_on or ask.target


def _asks(asks: Sequence[Ask], on: date, today: date, width: int) -> list[Content]:
    lines: list[Content] = []
    for ask in asks:
        if isinstance(ask, Referral):
            lines += _referral(ask, on, today, width)
        else:
            lines += _follow_up(ask, today, width)
    return lines


def presses(plan: Plan) -> tuple[Referral, ...]:
    """Return the referrals that must be acknowledged by name."""
    return tuple(r for r in plan.referrals if r.urgency in PRESSING)


def visits_needed(plan: Plan) -> str:
    """Return how many dates and referrals a plan comes to.

    >>> from recall.schedule.plan import ProtocolUsed
    >>> used = ProtocolUsed(name="default", version="1", signed_off=True)
    >>> visits_needed(Plan(case_version=1, protocol=used, on=date(2026, 9, 1)))
    'nothing open'
    """
    told = []
    if plan.referrals:
        told.append(several(len(plan.referrals), "referral"))
    if plan.follow_ups:
        told.append(several(len(plan.follow_ups), "date"))
    return " and ".join(told) or "nothing open"


def seen_words(urgency: str, seen_by: date, asked_on: date, today: date) -> str:
    """Return by when somebody is seen: an emergency of today within 24 hours, not tomorrow.

    >>> seen_words("emergency", date(2026, 12, 2), date(2026, 12, 1), date(2026, 12, 1))
    'seen today, within 24 hours'
    """
    if urgency == "emergency" and asked_on == today:
        return "seen today, within 24 hours"
    return f"seen by {short_day(seen_by, today)}"


def ears_words(ears: Sequence[str]) -> str:
    """Return which ears are meant.

    >>> ears_words(("right",)), ears_words(("right", "left"))
    ('right', 'both')
    """
    return "both" if len(set(ears)) > 1 else "".join(ears[:1])


def _head(urgency: str, rest: str, width: int) -> list[Content]:
    kind = URGENCY_KINDS.get(urgency)
    style = f"bold $desk-{kind}" if kind else "bold"
    loud = f"{LOUDNESS.get(urgency, ' ')} {words(URGENCY_WORDS, urgency):<9} "
    first, *more = wrapped(rest, max(20, width - len(loud)))
    lines = [Content.assemble((loud, style), (first, "bold"))]
    return lines + [Content.styled(" " * len(loud) + line, "bold") for line in more]


def _referral(referral: Referral, on: date, today: date, width: int) -> list[Content]:
    to = words({"ent": "ENT", "gp": "the GP"}, referral.to)
    seen_by = seen_words(referral.urgency, referral.stages.seen_by, referral.asked_on, today)
    within = "today" if referral.within_days == 0 else seen_by
    sent = short_day(referral.stages.sent_by, today)
    since = "" if referral.asked_on == on else f", asked on {short_day(referral.asked_on, today)}"
    rest = f"REFER to {to}, {ears_words(referral.ears)}: {within}, sent by {sent}{since}"
    lines = _head(referral.urgency, rest, width)
    for ears, reason in reasons_read(referral.reasons):
        known = say_known(reason.known_by)
        said = f"{ears_words(ears)}: {reason.says} [{reason.source}; {known}]"
        lines += _wrapped(said, width, "$desk-ink", hang=4)
    return lines


def _follow_up(follow_up: FollowUp, today: date, width: int) -> list[Content]:
    window = f"{short_day(follow_up.earliest, today)} to {short_day(follow_up.latest, today)}"
    offer = f", offer {short_day(follow_up.offer_on, today)}" if follow_up.offer_on else ""
    do = ", ".join(words({}, each) for each in follow_up.do)
    rest = f"{short_day(follow_up.target, today)} ({window}){offer}: {do}"
    lines = _head(follow_up.urgency, rest, width)
    things = dues_read(follow_up.dues)
    for ears, due in things:
        said = due_words(due, ears, today, alone=len(things) == 1)
        lines += _wrapped(said, width, "", hang=4)
    return lines


def due_words(due: Due, ears: Ears, today: date, *, alone: bool) -> str:
    """Return one thing to be done, in one ear or both, with its reason and source.

    Its own last day is said where it shares an appointment with something else.
    """
    own = "" if alone else f" (by {short_day(due.latest, today)})"
    again = " again" if due.kind == "retry" else ""
    cycle = f" {due.cycle}" if due.cycle else ""
    about = f"{ears_words(ears)} {about_words(due)}{again}{own}"
    return f"{about}: {due.says}{cycle} [{due.source}; {say_known(due.known_by)}]"


def _wrapped(text: str, width: int, style: str, hang: int = 0) -> list[Content]:
    first = " " * (2 if hang else 0)
    lines = wrapped(plain(text), max(20, width - hang - 2))
    return [
        Content.styled((first if n == 0 else " " * hang) + line, style)
        for n, line in enumerate(lines)
    ]
