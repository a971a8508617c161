"""A plan as plain text: what stands, by when and why; where that is written says the protocol."""

from __future__ import annotations

from textwrap import fill

from recall.care.ear import ears_of
from recall.care.services import SERVICES
from recall.cli.shared.common import WIDTH
from recall.schedule.calendar import say_day
from recall.schedule.plan import Due, FollowUp, Plan, Referral
from recall.schedule.reading import Ears, dues_read, follow_ups_read


def plan_text(plan: Plan) -> str:
    """Return a plan in a few lines for each thing that stands."""
    lines = [line for r in plan.referrals for line in _referral(r)]
    lines += [line for f in follow_ups_read(plan) for line in _follow_up(f)]
    lines += [_wrapped(f"Tell them ({ears_of(a.ears)}): {a.says}", 0) for a in plan.advice]
    lines += [
        _wrapped(f"Not looked at: {u.ear} {u.track}: {u.because}", 0) for u in plan.unanswered
    ]
    lines += [
        _wrapped(f"{n.ear.capitalize()}: {n.because}", 0)
        for n in plan.nothing_due
        if not n.is_usual
    ]
    if not (plan.referrals or plan.follow_ups):
        lines.insert(0, "Nothing is open after this visit.")
    lines += [_wrapped(f"Note: {n}", 0) for n in plan.notices]
    return "\n".join(lines) + "\n"


def _referral(referral: Referral) -> list[str]:
    ears = ears_of(referral.ears)
    stages = referral.stages
    head = (
        f"{referral.urgency.upper()}  Refer to {SERVICES[referral.to].short} ({ears}): sent by "
        f"{say_day(stages.sent_by)}, seen by {say_day(stages.seen_by)}"
    )
    reasons: dict[str, dict[str, None]] = {}
    for reason in referral.reasons:
        reasons.setdefault(reason.says, {})[reason.rule] = None
    said = [f"{says} ({', '.join(rules)})" for says, rules in reasons.items()]
    return [_wrapped(head, 0), *(_wrapped(reason, 3) for reason in said)]


def _follow_up(follow_up: FollowUp) -> list[str]:
    offer = f", offer {say_day(follow_up.offer_on)}" if follow_up.offer_on else ""
    do = ", ".join(d.replace("_", " ") for d in follow_up.do)
    first = say_day(follow_up.earliest)
    if follow_up.earliest.year == follow_up.latest.year:
        first = first.rsplit(" ", 1)[0]
    things = dues_read(follow_up.dues)
    alike = len({ears for ears, _ in things}) == 1
    head = (
        f"{follow_up.urgency.upper()}  {first} to "
        f"{say_day(follow_up.latest)}{offer}, {ears_of(follow_up.ears)}: {do}"
    )
    return [_wrapped(head, 0), *(_wrapped(_due(due, ears, alike), 3) for ears, due in things)]


def _due(due: Due, ears: Ears, alike: bool) -> str:
    """Return one thing to be done; its ears only where the appointment has others too."""
    known = "practice" if due.known_by == "CP" else due.known_by
    whose = "" if alike else f"{ears_of(ears)}: "
    again = "again: " if due.kind == "retry" else ""
    return f"{whose}{again}{due.says} ({due.rule}; {known})"


def _wrapped(text: str, indent: int) -> str:
    return fill(
        text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * (indent + 3),
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
