"""The sheet that a person takes home: what was found, what happens when, what to do meanwhile.

In plain words, and as far as whoever examined chooses to write down: a finding may be left out,
or all of them. It is printed and handed over; nothing of it is kept. Somebody who is sent on as
an emergency reads of that first, and of nothing that could keep them from going.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.catalogue import CATALOGUE
from recall.care.dates import is_child
from recall.care.ear import Ear
from recall.desk.core.acting import site_of
from recall.desk.core.guarding import needs
from recall.desk.core.looking import looks
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, signs_as
from recall.desk.people.ear_history import EarHistory, ear_history, planned
from recall.desk.people.sheet_findings import found_that_day
from recall.desk.people.sheet_lines import back
from recall.desk.people.sheet_meanwhile import meanwhile
from recall.desk.people.sheet_referrals import is_emergency, referred, seen_soon, sent_now
from recall.desk.people.sheet_words import ADULT, CHILD
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
from recall.records.facts.referral_loops import referral_loops

BY_HAND = "Given at your visit"


@needs(Right.LOOK)
@looks
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
        found=tuple(found_that_day(visits, leaves_out, plan)),
        following=(*now, *(line.says for line in sorted(lines))),
        meanwhile=meanwhile(
            known.case.visits,
            plan.advice,
            reader,
            goes_now=bool(now),
            soon=seen_soon(waits, desk.today),
        ),
        runs=any(_runs(ear) for visit in visits for ear in (visit.right, visit.left)),
    )


def _runs(ear: Ear | None) -> bool:
    return ear is not None and ear.discharge not in (None, "none")


def _data(desk: Desk, known: EarHistory, told: Told) -> LetterData:
    clinical = desk.by.may_decide
    with desk.store.read() as session:
        site = site_of(session, known.person_id)
    child = is_child(known.born, desk.today)
    return LetterData(
        number=f"V-{known.person_id}",
        kind="visit_sheet",
        language="en",
        recipient=(known.name, BY_HAND),
        salutation=f"the parent or carer of {known.name}" if child else known.name,
        practice=practice_words(desk, site),
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
