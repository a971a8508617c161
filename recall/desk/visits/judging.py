"""What may be made of a line of the plan, and its rows: while closing a visit or between visits."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import msgspec
from sqlalchemy import select

from recall.care.case import Visit
from recall.care.dates import is_child
from recall.care.ear import Ear, Side
from recall.care.services import SERVICES
from recall.desk.core.acting import Act
from recall.desk.core.calling_off import open_bookings, pull_letters
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.drafting import STILL_NEEDED
from recall.desk.visits.drafts import Acceptance, Draft
from recall.desk.visits.rows import decision_row
from recall.errors import InputError, Refused
from recall.records import tables
from recall.records.facts.cases import stands
from recall.schedule.calendar import say_day
from recall.schedule.explained import only_sure
from recall.schedule.judging import explained_away
from recall.schedule.merging import RANK
from recall.schedule.plan import BECAUSE_WORDS, Decision
from recall.schedule.plan_lines import Judgement, Line, care_of, decided


def say_judged(row: tables.Decision | Decision) -> str:
    """Say what was made of a line, and why."""
    about = (row.to or row.track or "").replace("_", " ")
    done = {"strike": "struck out", "weigh": f"made {row.urgency}", "move": "moved"}[row.action]
    why = BECAUSE_WORDS[row.because] if row.because else ""
    more = f" ({row.why})" if row.why else ""
    return f"{about}, {row.ear} ear, {row.rule or 'its days'}: {done}, {why}{more}"


@needs(Right.DECIDE)
def refuse(desk: Desk, line: Line, judgement: Judgement, last: Visit | None, born: date) -> None:
    """Refuse what may not be made of a line, with what would make it possible.

    Args:
        desk: who acts, on which day.
        line: as it stands.
        judgement: what somebody makes of it.
        last: the visit that found it, for what explains an emergency.
        born: the person's birth date.
    """
    _refuse_incomplete(desk, line, judgement)
    ears: dict[Side, Ear | None] = {
        "right": last.right if last else None,
        "left": last.left if last else None,
    }
    if _makes_milder(line, judgement):
        for decision in decided(line, judgement, desk.today):
            other: Side = "left" if decision.ear == "right" else "right"
            pair = ears[decision.ear], ears[other]
            tracks = (decision.track or "drum",)
            sure = only_sure(desk.protocol, decision.on)
            if not explained_away(line.urgency, tracks, decision, pair, sure):
                raise Refused(
                    f"An emergency stands ({line.words()}) until something explains it for that "
                    "ear.",
                    hint="Say what explains it; for hearing, record that ear as better or passed, "
                    "or both ears as measured.",
                )
    declined = judgement.does == "strike" and judgement.because == "declines"
    if declined and is_child(born, desk.today) and not judgement.considered:
        raise Refused(
            "This is about somebody whom others bring.",
            hint=f"{desk.config.children.safeguarding_prompt} Then say that it was considered.",
        )


def _makes_milder(line: Line, judgement: Judgement) -> bool:
    if judgement.does == "weigh":
        return judgement.urgency is None or RANK[judgement.urgency] > RANK[line.urgency]
    later = judgement.window is not None and judgement.window[2] > line.latest
    return judgement.does == "strike" or later


def _refuse_incomplete(desk: Desk, line: Line, judgement: Judgement) -> None:
    until, window = judgement.until, judgement.window
    if judgement.next_seen is not None and judgement.next_seen < desk.today:
        raise InputError(
            f"{say_day(judgement.next_seen)} has gone by.",
            hint="Say when they are seen there next, or nothing.",
        )
    if until is not None and (until <= desk.today or any(until <= d.earliest for d in line.dues)):
        raise InputError(
            f"It is not asked for before {until} anyway.", hint="Give a later day, or none."
        )
    if judgement.does == "weigh" and judgement.urgency in (None, line.urgency):
        raise InputError(f"It is {line.urgency} already.", hint="Give another urgency.")
    if judgement.does != "move":
        return
    if line.referral is not None:
        raise InputError(
            "A referral has its days from its urgency.", hint="Raise or lower it instead."
        )
    if window is None:
        raise InputError("A move needs its three days.")
    if not desk.today <= window[0] <= window[1] <= window[2]:
        raise InputError(
            "The days are out of order, or gone by.", hint="Earliest, then target, then latest."
        )


def keep(act: Act, judged: Sequence[tuple[Line, Judgement]], on: date, born: date) -> None:
    """Store what was made of some lines, inside an act."""
    for line, judgement in judged:
        for decision in decided(line, judgement, on):
            act.add("decision", **decision_row(act.person_id, decision))
        for care in care_of(line, judgement, on, is_child(born, on)):
            content = msgspec.json.encode(care).decode()
            act.add("under_care", person_id=act.person_id, content=content)
    fallen = [line for line, j in judged if j.does == "strike" and j.until is None]
    _call_off(act, {(d.ear, d.track, d.kind) for line in fallen for d in line.dues})


def _call_off(act: Act, fallen: set[tuple[str, str, str]]) -> None:
    """Call off what is booked for follow-ups of which nothing is left, and pull their letters."""
    if not fallen:
        return
    link, d, f = tables.FollowUpDue, tables.Due, tables.FollowUp
    wanted = (
        select(link.follow_up_id, d.ear, d.track, d.kind)
        .join_from(link, d, link.due_id == d.id)
        .join(f, f.id == link.follow_up_id)
        .where(f.person_id == act.person_id, f.is_open, link.left_at.is_(None), d.is_open)
    )
    holds: dict[int, set[tuple[str, str, str]]] = {}
    for number, *due in act.session.execute(wanted):
        holds.setdefault(number, set()).add((due[0], due[1], due[2]))
    over = [number for number, dues in holds.items() if dues <= fallen]
    for booking in open_bookings(act):
        if booking.follow_up_id in over and booking.starts_local.date() > act.desk.today:
            ends = {"what": "cancelled_by_practice", "why": "Struck out."}
            act.add("booking_event", booking_id=booking.id, **ends)
    for number in over:
        pull_letters(act, "Struck out.", number)


def keep_needed(act: Act, given: Draft, accepted: Acceptance) -> None:
    """Note which referrals stand although their reason is gone, so that nobody is asked again."""
    r = tables.Referral
    for line in given.groundless:
        if line.referral is None or line.name not in accepted.still_needed:
            continue
        same = r.person_id == act.person_id, r.to == line.referral.to, r.is_open, stands(r)
        asked = r.asked_on == line.referral.asked_on
        for number in act.session.scalars(select(r.id).where(*same, asked)).all():
            act.add("referral_event", referral_id=number, what=STILL_NEEDED)


def say_withdrawn(judged: Sequence[tuple[Line, Judgement]], on: date) -> str:
    """Say who must be told that a referral asked before is withdrawn."""
    gone = [
        line.referral
        for line, made in judged
        if line.referral is not None
        and made.does == "strike"
        and made.until is None
        and line.asked_on < on
    ]
    return " ".join(
        f"Tell {SERVICES[r.to].short} that the referral of {say_day(r.asked_on)} is withdrawn."
        for r in gone
    )
