"""The sheet that a person takes home: what was found, what happens when, what to do meanwhile.

In plain words, and as far as whoever examined chooses to write down: a finding may be left out,
or all of them. It is printed and handed over; nothing of it is kept. Somebody who is sent on as
an emergency reads of that first, and of nothing that could keep them from going.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import Reported, ReportWord, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.dates import is_child
from recall.care.ear import SIDES, Ear, Side
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, signs_as
from recall.desk.people.ear_history import EarHistory, ear_history, planned
from recall.desk.people.sheet_lines import back
from recall.desk.people.sheet_referrals import is_emergency, referred, sent_now
from recall.desk.people.sheet_words import ADULT, CHILD, advice_words
from recall.desk.referrals.colleague_letters import practice_words
from recall.desk.worklists.open_items import open_follow_ups
from recall.errors import InputError, LetterError, Refused
from recall.letters.compose import compose
from recall.letters.composed import ComposedLetter
from recall.letters.data import LetterData, Told
from recall.letters.pages import make_pdf
from recall.letters.wording import Wording
from recall.loop.referral import ReferralLoop
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.facts.events import referral_loops
from recall.schedule.found import Found, findings_of
from recall.schedule.plan import Plan

BY_HAND = "Given at your visit"
DEEP = 3
"""From this grade on (Tos) an attic pocket is a sign of disease."""
DEEP_POCKET = "a deep pocket at the top of the eardrum"


@needs(Right.LOOK)
def visit_sheet(
    desk: Desk, ref: str, *, tells_findings: bool = True, leaves_out: Sequence[str] = ()
) -> ComposedLetter:
    """Return the sheet for somebody's newest day here, whether they were seen once or more often.

    Args:
        desk: whose register.
        ref: the person's reference.
        tells_findings: whether what was found is on it at all.
        leaves_out: findings that are not told, by their names in a case file.

    Raises:
        NotFound: no such person.
        Refused: there was no visit yet.
        InputError: no such finding.
    """
    unknown = [name for name in leaves_out if name not in CATALOGUE]
    if unknown:
        raise InputError(f"{unknown[0]!r} is no finding.", hint="See the columns of visits.csv.")
    known = ear_history(desk, ref)
    if not known.case.visits:
        raise Refused(f"There is no visit of {ref} yet.", hint="Close the visit first.")
    told = _told(desk, known, set(leaves_out))
    if not tells_findings:
        told = msgspec.structs.replace(told, found=())
    return compose(_data(desk, known, told), Wording(desk.config.files.wording))


@needs(Right.LOOK)
def print_sheet(desk: Desk, sheet: ComposedLetter, out: Path) -> None:
    """Make the sheet a PDF.

    Raises:
        LetterError: the page cannot be made or written.
    """
    made = make_pdf([sheet], out, title="Your visit")
    if made.held:
        raise LetterError(
            f"The sheet cannot be printed: {made.held[0].because}.",
            hint="Print it as text instead: leave --out away.",
        )


def _told(desk: Desk, known: EarHistory, leaves_out: set[str]) -> Told:
    """Return what the sheet tells of somebody's newest day here."""
    on = max(visit.on for visit in known.case.visits)
    visits = [visit for visit in known.case.visits if visit.on == on]
    plan = planned(desk, known, None)
    reader = CHILD if is_child(known.born, desk.today) else ADULT
    with desk.store.read() as session:
        loops = _open_referrals(session, known.person_id)
        open_now = open_follow_ups(desk, session, known.person_id)
    now = sent_now(loops, on)
    waits = [loop for loop in loops if not is_emergency(loop, on)]
    lines = [*referred(desk, waits, reader, on), *back(desk, open_now, reader, waits)]
    return Told(
        visit_on=on,
        whose=f"{reader.your[:1].upper()}{reader.your[1:]}",
        found=tuple(_found_that_day(visits, leaves_out, plan)),
        following=(*now, *(line.says for line in sorted(lines))),
        meanwhile=() if now else advice_words(plan.advice, reader),
    )


def _data(desk: Desk, known: EarHistory, told: Told) -> LetterData:
    clinical = desk.by.may_decide
    child = is_child(known.born, desk.today)
    return LetterData(
        number=f"V-{known.person_id}",
        kind="visit_sheet",
        language="en",
        recipient=(known.name, BY_HAND),
        salutation=f"the parent or carer of {known.name}" if child else known.name,
        practice=practice_words(desk),
        on=desk.today,
        signed_by=desk.by.name if clinical else "",
        signed_role=signs_as(desk.by) if clinical else "",
        told=told,
    )


def _open_referrals(session: Session, person_id: int) -> list[ReferralLoop]:
    """Return a person's open referrals, the most pressing first."""
    r = tables.Referral
    wanted = select(r.id).where(r.person_id == person_id, r.is_open, stands(r))
    numbers = session.scalars(wanted.order_by(r.urgency_rank, r.id)).all()
    return list(referral_loops(session, list(numbers)).values())


def _without_a_line(visits: Sequence[Visit], plan: Plan) -> set[Side]:
    """Return the ears about which nothing is planned and nothing was said."""
    about = {d.ear for f in plan.follow_ups for d in f.dues}
    about |= {side for one in plan.referrals for side in one.ears}
    said = any(visit.reported for visit in visits)
    return set() if said else set(SIDES) - about


def _found_that_day(visits: Sequence[Visit], leaves_out: set[str], plan: Plan) -> Iterator[str]:
    """Yield what was found on a day; what a further visit of it found is told after that."""
    quiet = _without_a_line(visits, plan)
    told: set[str] = set()
    for visit in visits:
        lines = [line for line in _found(visit, leaves_out, quiet) if line not in told]
        yield from (f"Later that day: {line}" if told else line for line in lines)
        told.update(lines)


def _found(visit: Visit, leaves_out: set[str], quiet: set[Side]) -> Iterator[str]:
    if visit.reported:
        yield f"You told us: {', '.join(dict.fromkeys(map(_said, visit.reported)))}."
    for side in SIDES:
        ear = visit.right if side == "right" else visit.left
        if ear is None:
            continue
        everything = findings_of(ear)
        told = (_plain(f, ear) for f in everything if f.name not in leaves_out)
        words = dict.fromkeys(filter(None, told))
        if words:
            yield f"{side.capitalize()} ear: {', '.join(words)}."
        elif ear.drum_seen == "full" and side in quiet and not everything:
            yield f"{side.capitalize()} ear: nothing that needs to be followed."


def _said(item: ReportWord | Reported) -> str:
    if not isinstance(item, Reported):
        return item.replace("_", " ")
    return item.what.replace("_", " ") + (f" ({item.ear} ear)" if item.ear else "")


def _plain(found: Found, ear: Ear) -> str:
    """Return a finding in words for the person; what is only suspected says so."""
    words = CATALOGUE[found.name].plain
    if found.name == "attic_grade" and found.value >= DEEP:
        return DEEP_POCKET
    if found.value == "could_not_test":
        return "hearing could not be checked"
    if found.name == "wax_found" and ear.clearance == "cleared":
        return f"{words}, which we took out"
    return f"perhaps {words}" if found.value == "suspected" else words
