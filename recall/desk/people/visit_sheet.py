"""The sheet that a person takes home: what was found, what happens when, what to do meanwhile.

In plain words, and as far as whoever examined chooses to write down: a finding may be left out,
or all of them. It is printed and handed over; nothing of it is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from recall.care.case import Visit
from recall.care.catalogue import CATALOGUE
from recall.care.ear import SIDES, Ear
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, signs_as
from recall.desk.people.ear_history import EarHistory, ear_history, planned
from recall.desk.referrals.colleague_letters import SERVICE, practice_words
from recall.errors import InputError, LetterError, Refused
from recall.letters.compose import compose
from recall.letters.composed import ComposedLetter
from recall.letters.data import LetterData, Told
from recall.letters.pages import make_pdf
from recall.letters.wording import Wording
from recall.schedule.calendar import say_day
from recall.schedule.found import Found, findings_of
from recall.schedule.plan import FollowUp, Plan, Referral

BY_HAND = "Given at your visit"
AGAIN = "We would like to see you again."


@needs(Right.LOOK)
def visit_sheet(
    desk: Desk, ref: str, *, tells_findings: bool = True, leaves_out: Sequence[str] = ()
) -> ComposedLetter:
    """Return the sheet for somebody's newest visit.

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
    visit = max(known.case.visits, key=lambda v: v.on)
    plan = planned(desk, known, None)
    told = Told(
        visit_on=visit.on,
        found=tuple(_found(visit, set(leaves_out))) if tells_findings else (),
        following=tuple(_following(plan)),
        meanwhile=tuple(dict.fromkeys(a.says for a in plan.advice)),
    )
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


def _data(desk: Desk, known: EarHistory, told: Told) -> LetterData:
    clinical = desk.by.may_decide
    return LetterData(
        number=f"V-{known.person_id}",
        kind="visit_sheet",
        language="en",
        recipient=(known.name, BY_HAND),
        salutation=known.name,
        practice=practice_words(desk),
        on=desk.today,
        cautions=(),
        signed_by=desk.by.name if clinical else "",
        signed_role=signs_as(desk.by) if clinical else "",
        told=told,
    )


def _found(visit: Visit, leaves_out: set[str]) -> Iterator[str]:
    for side in SIDES:
        ear = visit.right if side == "right" else visit.left
        if ear is None:
            continue
        words = dict.fromkeys(
            plain
            for f in findings_of(ear)
            if f.name not in leaves_out and (plain := _plain(f, ear))
        )
        if words:
            yield f"{side.capitalize()} ear: {', '.join(words)}."
        elif ear.drum_seen == "full" and not findings_of(ear):
            yield f"{side.capitalize()} ear: nothing that needs to be followed."


def _plain(found: Found, ear: Ear) -> str:
    """Return a finding in words for the person; what is only suspected says so."""
    words = "less hearing" if found.name == "hearing_dB" else CATALOGUE[found.name].plain
    if found.name == "wax_found" and ear.clearance == "cleared":
        return f"{words}, which we took out"
    return f"perhaps {words}" if found.value == "suspected" else words


def _following(plan: Plan) -> Iterator[str]:
    for referral in plan.referrals:
        yield _referred(referral)
    for one in sorted(plan.follow_ups, key=lambda f: (f.target, f.latest)):
        yield _asked_back(one)


def _referred(referral: Referral) -> str:
    service = SERVICE[referral.to].lower()
    if referral.urgency == "emergency":
        return f"You go to this service today: {service}."
    stages = referral.stages
    return (
        f"We refer you to this service: {service}. You should be seen there by "
        f"{say_day(stages.seen_by)}. If you have heard nothing by {say_day(stages.accepted_by)}, "
        "please call us."
    )


def _asked_back(one: FollowUp) -> str:
    why = " ".join(dict.fromkeys(d.says_aloud for d in one.dues if d.says_aloud)) or AGAIN
    return f"{why} About {say_day(one.target)}, and by {say_day(one.latest)} at the latest."
