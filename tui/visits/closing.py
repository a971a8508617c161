"""Closing a visit: what is accepted and acknowledged, what is stored, and what happens next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from textual.content import Content

from recall.errors import RecallError
from recall.schedule.plan import FollowUp, Plan, Referral
from recall.schedule.reading import follow_ups_read
from tui.dialogs.acknowledge import Acknowledge, Acknowledged
from tui.dialogs.ask import Ask
from tui.visits.accepted import accepted_lines
from tui.visits.plan_text import plan_lines, presses, visits_needed
from tui.visits.ready import Ready
from tui.words.text import literal, short_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.visits.drafts import Closed

NEWLINE = Content("\n")


@dataclass(frozen=True)
class LetterDraft:
    """A referral letter to check and sign: its text, and where its page is or why there is none."""

    text: str
    page: str


@dataclass(frozen=True)
class Done:
    """A closed visit, with the drafts of its referral letters."""

    closed: Closed
    drafts: tuple[LetterDraft, ...]


def accept_sheet(ready: Ready, today: date) -> Ask:
    """Return the question whether the plan is accepted, with what to look at again."""
    lines = [f"? {question.says}" for question in ready.draft.questions]
    lines += ready.notes
    lines += ready.draft.offers
    lines += [f"Sent already: {told}" for told in ready.draft.sent]
    lines += [f"Plan: {visits_needed(ready.plan)}."]
    lines += accepted_lines(ready, today)
    yes = "I looked again: close it" if ready.draft.questions else "Accept and close"
    title = (
        "Look again, before this visit is closed" if ready.draft.questions else "Close this visit?"
    )
    return Ask(title, lines, yes=yes, no="Back to the form")


def pressing_sheet(ready: Ready, today: date) -> Acknowledge | None:
    """Return the sheet for what presses and this visit asks for, where there is any."""
    new = [r for r in presses(ready.plan) if r.asked_on == ready.draft.visit.on]
    new = [r for r in new if not _is_arranged(r, ready)]
    if not new:
        return None
    used = ready.plan.protocol
    alone = Plan(case_version=1, protocol=used, on=ready.plan.on, referrals=tuple(new))
    emergency = any(r.urgency == "emergency" for r in new)
    title = "EMERGENCY: arrange it by phone while they are here" if emergency else ""
    return Acknowledge(
        title or "URGENT: this must not wait",
        plan_lines(alone, today, 64),
        lambda name: _wrong_name(name, ready),
        ready.handle,
        arranges=emergency,
    )


def _is_arranged(referral: Referral, ready: Ready) -> bool:
    """Return whether somebody was spoken with for a referral that stands as it stood before."""
    if referral.to not in ready.arranged:
        return False
    stood = [was.referral for was in ready.before if was.referral is not None]
    return any(
        (was.to, was.urgency, was.ears, was.stages, was.reasons)
        == (referral.to, referral.urgency, referral.ears, referral.stages, referral.reasons)
        for was in stood
    )


def _wrong_name(name: str, ready: Ready) -> str:
    right = {ready.handle.casefold(), ready.name.casefold()}
    if name.casefold() in right:
        return ""
    return f"That is not the name of {ready.handle}, who acts here. F9 says who acts."


def store(desk: Desk, ready: Ready, acknowledged: Acknowledged) -> Done:
    """Close the visit, and draft the letters of what presses."""
    from recall.desk.visits.closing import close_visit
    from recall.desk.visits.drafts import Acceptance

    accepted = Acceptance(
        looked=True,
        acknowledged_by=acknowledged.name,
        arranged_with=acknowledged.arranged_with,
        changes=ready.changes,
        judged=ready.judged,
        milder_why=ready.milder_why,
        still_needed=ready.still_needed,
    )
    return Done(close_visit(desk, ready.draft, accepted), tuple(_drafts(desk, ready)))


def _drafts(desk: Desk, ready: Ready) -> list[LetterDraft]:
    from recall.desk.people import person_card
    from recall.desk.referrals import progress

    new = {r.to for r in ready.plan.referrals if r.asked_on == ready.draft.visit.on}
    found: list[LetterDraft] = []
    seen = set()
    for referral in person_card.person(desk, ready.draft.reference).referrals:
        if referral.to in new and referral.to not in seen:
            seen.add(referral.to)
            text = progress.draft_letter(desk, referral.id).text
            found.append(LetterDraft(text, _printed(desk, referral.id)))
    return found


def _printed(desk: Desk, referral_id: int) -> str:
    """Make the draft's page; the visit is closed already, so trouble is said and stops nothing."""
    from recall.desk.post.printing import letters_folder
    from recall.desk.referrals.progress import print_draft

    try:
        page = letters_folder(desk) / f"referral-{referral_id}.pdf"
        print_draft(desk, referral_id, page)
    except RecallError as error:
        return f"No page was made: {error} Later: recall refer draft {referral_id} --pdf FILE"
    return f"To print and sign: {page}"


def closed_lines(done: Done, plan: Plan, today: date) -> Content:
    """Return what a closed visit came to: the words, the plan, and the drafts."""
    lines = [literal(done.closed.words, "bold $desk-good")]
    lines += [literal(draft.page) for draft in done.drafts]
    lines += [Content("")]
    lines += [literal(words, "bold") for words in books_now(plan, today)]
    lines += plan_lines(plan, today, 64)
    for draft in done.drafts:
        lines += [Content(""), literal("Draft of the referral letter, to check and sign", "bold")]
        lines += [literal(line) for line in draft.text.splitlines()]
    return NEWLINE.join(lines)


def _by(follow_up: FollowUp, today: date) -> str:
    """Return by when it is to be: never by a day that has gone by."""
    last = short_day(follow_up.latest, today)
    return f"by {last}" if today <= follow_up.latest else f"late since {last}, as soon as can be"


def books_now(plan: Plan, today: date) -> Sequence[str]:
    """Return what is to be booked before they leave, in words."""
    near = [f for f in follow_ups_read(plan) if (f.latest - today).days <= 70]
    said = [f"Book before they leave: {_by(f, today)}." for f in near]
    return [*said, "The person's screen comes next: b books there."] if said else said
