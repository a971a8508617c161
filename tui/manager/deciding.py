"""The manager's decisions as sheets: whom each is about, the reason, and who decides."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from recall.care.services import to_whom
from tui.dialogs.form import VERSION, Checks, Field, Form, Values, newest
from tui.words.text import full_day, several

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.oversight.manager_lists import ProposalLine
    from recall.desk.plans.decisions import Meant
    from recall.desk.worklists.referral_list import ReferralLine

SHOWN = 8
"""How many people of a bulk the sheet names; the marked lines of the list are all of them."""
CLOSE_WORDS = (
    ("clinician_decision", "a clinician's decision"),
    ("informed_decline", "they decline, knowing what it is for"),
    ("transferred", "cared for elsewhere, confirmed"),
    ("died", "has died"),
    ("entered_in_error", "entered in error"),
)
_YES = (("no", "no"), ("yes", "yes"))


def whom_meant(desk: Desk, ids: Sequence[int], decision: str) -> tuple[tuple[Meant, ...], str]:
    """Return whom a decision would be about, and who would decide; refuse who may not."""
    from recall.desk.plans import decisions

    decisions.may_decide(desk, decision)
    return decisions.preview(desk, ids, decision), desk.by.handle


def decision_sheet(meant: Sequence[Meant], decision: str, who: str) -> Form:
    """Return the sheet of a decision about those for whom it is allowed."""
    allowed = [m for m in meant if m.allowed]
    people = _by_person(allowed)
    lines = [f"{allowed[0].decision}: {several(len(people), 'person', 'people')}, by {who}."]
    lines += [_line(whose) for whose in people[:SHOWN]]
    if len(people) > SHOWN:
        lines.append(f"… and {len(people) - SHOWN} more, picked on the list.")
    if days := [m.furthest for m in allowed if m.furthest]:
        lines.append(f"Together they may go to {full_day(min(days))} at most.")
    if refused := len(meant) - len(allowed):
        first = next(m for m in meant if not m.allowed)
        lines.append(f"Left out, not allowed yet: {refused}, as {first.ref}: {first.because}")
    if prompts := list(dict.fromkeys(m.prompt for m in allowed if m.prompt)):
        lines += prompts
    return Form(
        "Decide",
        _fields(len(people), decision, bool(prompts)),
        lambda desk, values: _decide(desk, allowed, decision, values),
        lines=lines,
        does="Decide",
        checks=Checks(lambda values: _check(values, len(people))),
    )


def none_allowed(meant: Sequence[Meant]) -> list[str]:
    """Return why a decision is allowed for nobody."""
    return [f"{m.ref} {m.name}: {m.because}" for m in meant[:SHOWN]]


def _by_person(meant: Sequence[Meant]) -> list[list[Meant]]:
    """Return what is meant by whose it is: a decision is about people, however much each has."""
    found: dict[str, list[Meant]] = {}
    for each in meant:
        found.setdefault(each.ref, []).append(each)
    return list(found.values())


def _line(whose: Sequence[Meant]) -> str:
    first, what = whose[0], dict.fromkeys(words for each in whose for words in each.what)
    return f"{first.ref}  {first.name}, born {full_day(first.born)}: {', '.join(what)}"


def _fields(people: int, decision: str, prompts: bool) -> list[Field]:
    fields = []
    if decision == "move":
        fields += [Field(n, n.capitalize(), "day", needed=True) for n in _DAYS]
    fields.append(Field("why", "Why", needed=True))
    if prompts:
        fields.append(Field("considered", "Have you considered that?", "choice", choices=_YES))
    if people > 1:
        hint = f"type {people}, if it is all of them that you mean"
        fields.append(Field("count", "About how many people", "number", hint=hint, needed=True))
    return fields


_DAYS = ("earliest", "target", "latest")


def _check(values: Values, count: int) -> str:
    if values.get("considered", "yes") != "yes":
        return "Say that you have considered it, or leave this."
    if "count" in values and values["count"] != count:
        return f"It is about {count} people, not {values['count']}: look at the list again."
    return ""


def _decide(desk: Desk, allowed: Sequence[Meant], decision: str, values: Values) -> str:
    from recall.desk.plans import decisions

    dates = decisions.Dates(*(values[n] for n in _DAYS)) if decision == "move" else None
    considered = values.get("considered") == "yes"
    decided = decisions.Decided(decision, values["why"], considered, dates)
    if values.get(VERSION):  # another desk was first, and that was seen
        allowed = decisions.preview(desk, [m.follow_up_id for m in allowed], decision)
    versions = {m.follow_up_id: m.version for m in allowed}
    return _came_to(decisions.decide(desk, list(versions), decided, versions))


def _came_to(done: Sequence[Next]) -> str:
    if len(done) == 1:
        return done[0].words
    people = len({each.person_ref for each in done})
    return f"Decided about {several(people, 'person', 'people')}. The last: {done[-1].words}"


def referral_sheet(row: ReferralLine, what: str) -> Form:
    """Return the sheet for something that became known about a referral."""
    title, fields, store = _REFERRAL[what]
    if len(row.ears) > 1:
        fields = [*fields, Field("ear", "Of which ear", "choice", choices=_WHICH)]
    return Form(
        title,
        fields,
        lambda desk, values: store(desk, row, values).words,
        lines=[
            f"{row.reference}  {row.name}, born {full_day(row.born)}",
            f"to {to_whom(row.to, row.ears)}, asked on {full_day(row.asked_on)}: {row.next}",
        ],
    )


def _ear(v: Values) -> str | None:
    """Return the one ear that it is about; None for all of the line."""
    ear = v.get("ear", _ALL)
    return None if ear == _ALL else str(ear)


def _spoke(desk: Desk, row: ReferralLine, v: Values) -> Next:
    from recall.desk.referrals import progress

    return progress.spoke_with(
        desk, row.referral_id, newest(v, row.version), v["whom"], ear=_ear(v)
    )


def _sent(desk: Desk, row: ReferralLine, v: Values) -> Next:
    from recall.desk.referrals import progress

    return progress.sent(
        desk, row.referral_id, newest(v, row.version), v["route"], v["whom"], ear=_ear(v)
    )


def _accepted(desk: Desk, row: ReferralLine, v: Values) -> Next:
    from recall.desk.referrals import progress

    return progress.accepted(desk, row.referral_id, newest(v, row.version), v["day"], ear=_ear(v))


def _seen(desk: Desk, row: ReferralLine, v: Values) -> Next:
    from recall.desk.referrals import progress

    return progress.seen(desk, row.referral_id, newest(v, row.version), v["note"], ear=_ear(v))


def _result(desk: Desk, row: ReferralLine, v: Values) -> Next:
    from recall.desk.referrals import progress

    follow = progress.Followed() if v["they_follow"] == "yes" else None
    return progress.result(
        desk, row.referral_id, newest(v, row.version), v["says"], they_follow=follow, ear=_ear(v)
    )


def _rejected(desk: Desk, row: ReferralLine, v: Values) -> Next:
    from recall.desk.referrals import progress

    return progress.rejected(
        desk, row.referral_id, newest(v, row.version), v["reason"], ear=_ear(v)
    )


def _unseen(desk: Desk, row: ReferralLine, v: Values) -> Next:
    from recall.desk.referrals import progress

    return progress.discharged_unseen(
        desk, row.referral_id, newest(v, row.version), v["reason"], ear=_ear(v)
    )


def _carry_on(desk: Desk, row: ReferralLine, v: Values) -> Next:
    from recall.desk.referrals import progress

    return progress.carry_on(desk, row.referral_id, newest(v, row.version), v["why"], ear=_ear(v))


def _end(desk: Desk, row: ReferralLine, v: Values) -> Next:
    from recall.desk.referrals import progress

    return progress.close(
        desk, row.referral_id, newest(v, row.version), v["reason"], v["why"], ear=_ear(v)
    )


_ALL = "both"
_WHICH = ((_ALL, "both"), ("right", "only the right ear"), ("left", "only the left ear"))
_ROUTES = (("direct", "straight there"), ("gp", "through the GP, who must then have acted"))
_WORDS = Field("reason", "What they wrote or said", needed=True)
_REFERRAL: dict[str, tuple[str, list[Field], Callable[..., Next]]] = {
    "spoke": ("Arranged by phone", [Field("whom", "With whom", needed=True)], _spoke),
    "sent": (
        "Sent",
        [Field("route", "Which way", "choice", choices=_ROUTES), Field("whom", "To whom")],
        _sent,
    ),
    "accepted": ("Accepted there", [Field("day", "Their appointment, if known", "day")], _accepted),
    "seen": ("Seen there", [Field("note", "Note")], _seen),
    "result": (
        "The result is back",
        [
            Field("says", "What they found, in short", needed=True),
            Field("they_follow", "Do they follow it from now on?", "choice", choices=_YES),
        ],
        _result,
    ),
    "rejected": ("Rejected there: somebody must decide", [_WORDS], _rejected),
    "unseen": ("Discharged there without being seen", [_WORDS], _unseen),
    "carry_on": (
        "It goes on: sent again, or elsewhere",
        [Field("why", "Why, and how", needed=True)],
        _carry_on,
    ),
    "end": (
        "End this referral",
        [
            Field("reason", "Reason", "choice", choices=CLOSE_WORDS),
            Field("why", "Why", needed=True),
        ],
        _end,
    ),
}


ABOUT_REFERRALS = frozenset(_REFERRAL)


def proposal_sheet(row: ProposalLine, *, forward: bool) -> Form:
    """Return the sheet that answers one proposed date."""

    def store(desk: Desk, values: Values) -> str:
        from recall.desk.plans import earlier_dates

        earlier_dates.answer(desk, row.number, forward=forward, why=values["why"])
        return "Brought forward." if forward else "Left as it stands."

    title = "Bring the date forward" if forward else "Leave the date as it stands"
    return Form(
        title,
        [Field("why", "Why", needed=True)],
        store,
        lines=[
            f"{row.reference}  {row.name}, born {full_day(row.born)}: {row.ear} {row.track}",
            f"Latest now {full_day(row.latest)}, would be {full_day(row.would_be)} ({row.rule}).",
        ],
        does="Bring forward" if forward else "Leave it",
    )


def draft_of(desk: Desk, row: ReferralLine) -> str:
    """Return the draft of a referral's letter."""
    from recall.desk.referrals import progress

    return progress.draft_letter(desk, row.referral_id).text
