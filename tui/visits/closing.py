"""Closing a visit: what is accepted and acknowledged, what is stored, and what happens next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from textual.content import Content

from recall.errors import RecallError
from recall.schedule.plan import FollowUp, Plan
from recall.schedule.plan_lines import Judgement, Line, lines_of
from recall.schedule.reading import as_read, follow_ups_read
from tui.dialogs.acknowledge import Acknowledge, Acknowledged
from tui.dialogs.ask import Ask
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


def accepted_lines(ready: Ready, today: date) -> list[str]:
    """Return what is accepted, ear by ear: new, open already, falling away, struck out."""
    read = as_read(ready.plan)
    on, after = ready.draft.visit.on, lines_of(read)
    asked = {line.name: line.words() for line in lines_of(ready.draft.plan)}
    judged = dict(ready.judged)
    struck = [name for name, made in judged.items() if made.does == "strike"]
    after = tuple(line for line in after if line.name not in struck or _stands_later(line, judged))
    after = tuple(sorted(after, key=lambda line: _order(line, read.follow_ups)))
    new = [line for line in after if line.asked_on == on and not _stood(line, ready)]
    open_already = [line for line in after if line not in new]
    left = {part[:2] for line in after for part in line.parts()}
    gone = [line for line in ready.before if not any(p[:2] in left for p in line.parts())]
    moved = [line for line in after if _is_moved(line, ready)]
    visits = read.follow_ups
    groups = (
        ("New", [_said(line, today, visits) for line in new]),
        ("Open already", [_said(line, today, visits) for line in open_already]),
        ("Falls away", [line.words() for line in gone if line.name not in struck]),
        (
            "Other days",
            [_moved(line, ready, today, visits) for line in moved],
        ),
        ("Struck out", [asked[name] for name in struck if name in asked]),
        (
            "Weighed otherwise",
            [
                f"{asked[n]}, {made.urgency}"
                for n, made in judged.items()
                if made.does == "weigh" and n in asked
            ],
        ),
    )
    return [f"{title}: {each}" for title, lines in groups for each in lines]


def _stood(line: Line, ready: Ready) -> bool:
    """Return whether a line stood so before: an earlier visit of that day may have asked for it."""
    return any(
        (was.name, was.urgency, was.latest) == (line.name, line.urgency, line.latest)
        for was in ready.before
    )


def _is_moved(line: Line, ready: Ready) -> bool:
    """Return whether days of a line were set by hand in this form."""
    moved = {(m.ear, m.track, m.kind) for m in ready.changes if m.action == "move"}
    return any((due.ear, due.track, due.kind) in moved for due in line.dues)


def _moved(line: Line, ready: Ready, today: date, visits: Sequence[FollowUp]) -> str:
    """Return a line with the days that were set by hand, and those that it would have had."""
    before = next((each for each in lines_of(ready.draft.plan) if each.name == line.name), None)
    was = f"; by rule {short_day(before.dues[0].target, today)}" if before and before.dues else ""
    return f"{_said(line, today, visits)}{was}"


def _stands_later(line: Line, judged: Mapping[str, Judgement]) -> bool:
    return judged[line.name].until is not None


def _order(line: Line, visits: Sequence[FollowUp]) -> tuple[bool, date]:
    """Return where a line stands: what presses first, then by its day."""
    presses_ = line.urgency in ("emergency", "urgent")
    visit = next((v for v in visits if any(due in v.dues for due in line.dues)), None)
    good = line.latest if visit is None else visit.offer_on or visit.target
    return not presses_, good


def _said(line: Line, today: date, visits: Sequence[FollowUp]) -> str:
    """Return a line with its days: those of the one appointment, where it shares that."""
    loud = f"{line.urgency}: " if line.urgency in ("emergency", "urgent") else ""
    if line.referral is not None:
        return f"{loud}{line.words()}, seen by {short_day(line.latest, today)}"
    due = line.dues[0]
    visit = next((each for each in visits if due in each.dues), None)
    good = due.target if visit is None else visit.offer_on or visit.target
    when = visit or due
    window = f"{short_day(when.earliest, today)} to {short_day(when.latest, today)}"
    return f"{loud}{line.words()}, {short_day(good, today)} ({window})"


def pressing_sheet(ready: Ready, today: date) -> Acknowledge | None:
    """Return the sheet for what presses and this visit asks for, where there is any."""
    new = [r for r in presses(ready.plan) if r.asked_on == ready.draft.visit.on]
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
