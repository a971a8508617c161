"""Closing a visit: look again, acknowledge what presses, store, and say what happens next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

import msgspec
from textual.content import Content

from recall.care.case import Visit
from recall.errors import RecallError
from recall.schedule.plan import BECAUSE_WORDS, Decision, FollowUp, Plan
from recall.schedule.plan_lines import Judgement, Line, lines_of
from tui.dialogs.acknowledge import Acknowledge, Acknowledged
from tui.dialogs.ask import Ask
from tui.dialogs.choose import Choose
from tui.dialogs.digits import Digits, Question
from tui.dialogs.form import Field, Form, Values
from tui.ears.form import VisitForm
from tui.visits import judging
from tui.visits.plan_text import plan_lines, presses, visits_needed
from tui.words.text import full_day, literal, short_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk, StaffRow
    from recall.desk.people.ear_history import EarHistory
    from recall.desk.visits.drafts import Closed, Draft

NEEDED = "needed"
NOTES = 2
"""So many notes are shown before a visit is closed; the others are in the person's story."""
NEWLINE = Content("\n")


@dataclass(frozen=True)
class Ready:
    """A visit that can be closed: its draft, what was changed by hand, and who would close it."""

    draft: Draft
    plan: Plan
    """With what was changed by hand."""
    changes: tuple[Decision, ...]
    handle: str
    name: str
    may_have_examined: tuple[StaffRow, ...] = ()
    """Between whom it is asked; nobody where it is known."""
    judged: tuple[tuple[str, Judgement], ...] = ()
    """Lines of the draft's plan by name, and what was made of each."""
    before: tuple[Line, ...] = ()
    """What was open before this visit."""
    still_needed: tuple[str, ...] = ()
    """Referrals by name that stand although their reason is gone."""
    notes: tuple[str, ...] = ()
    """What to know before contact, and what was written down last about the person."""
    milder_why: str = ""
    """Why a correction may drop or lower what pressed."""


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


def make_ready(desk: Desk, known: EarHistory, form: VisitForm) -> Ready:
    """Return what closing would come to; nothing is stored."""
    from recall.desk.people.ear_history import planned, without
    from recall.desk.visits.drafting import draft
    from recall.desk.visits.drafts import VisitNote

    visit, may_have = _examined(desk, form)
    note = VisitNote(
        category=form.category,
        category_why=form.category_why,
        ears=form.category_ears,
        words=form.note,
        for_letters=form.letter_words,
        corrects=form.corrects,
    )
    given = draft(desk, known.ref, visit, note)
    changes = changes_of(form, given.plan)
    known = without(known, form.corrects)
    plan, _ = plan_with_judged(desk, known, visit, form)
    judged = tuple((line.name, made) for line, made in judging.in_force(form, given.plan))
    before = lines_of(planned(desk, known, None))
    found = Ready(given, plan, changes, desk.by.handle, desk.by.name, may_have, judged, before)
    return replace(found, notes=_notes(desk, known.ref))


def _notes(desk: Desk, ref: str) -> tuple[str, ...]:
    """Return what was written down about a person, as it is read before a visit is closed."""
    from recall.desk.people.person_card import person

    card = person(desk, ref)
    known = [f"Before contact: {card.caller_note}"] if card.caller_note else []
    return (*known, *(f"Note, {full_day(n.on)}: {n.words}" for n in card.notes[:NOTES]))


def plan_with_judged(
    desk: Desk, known: EarHistory, visit: Visit | None, form: VisitForm
) -> tuple[Plan, list[str]]:
    """Return the plan with everything that was set by hand, and in words what was judged."""
    from recall.desk.people.ear_history import planned

    changes = preview_changes(form)
    made = planned(desk, known, visit, changes)
    judged = judging.decisions(form, made)
    if not judged:
        return made, []
    return planned(desk, known, visit, (*changes, *judged)), judging.judged_words(form, made)


def _examined(desk: Desk, form: VisitForm) -> tuple[Visit, tuple[StaffRow, ...]]:
    """Return the visit with who examined, and between whom that is to be asked."""
    from recall.desk.visits.examining import examined

    if form.corrects is not None:
        return form.visit, ()
    found = examined(desk, form.examiner)
    return msgspec.structs.replace(form.visit, examiner=found.by), found.ask


def preview_changes(form: VisitForm) -> tuple[Decision, ...]:
    """Return everything set by hand, for the plan as one types."""
    return (*form.asks, *form.moves)


def changes_of(form: VisitForm, plan: Plan) -> tuple[Decision, ...]:
    """Return what is stored beside the visit: moves of dues that are there, and an ask by hand.

    A kind of follow-up without findings is stored with the visit itself.
    """
    asked = form.asks if form.has_findings else ()
    there = {(d.ear, d.track, d.kind) for f in plan.follow_ups for d in f.dues}
    return (*asked, *(m for m in form.moves if (m.ear, m.track, m.kind) in there or asked))


def examiner_sheet(ready: Ready) -> Choose | None:
    """Return the question who examined, where somebody else began the visit."""
    able = ready.may_have_examined
    if not able:
        return None
    does = {ready.handle: "who closes the visit"}
    choices = [
        (each.handle, f"{each.name}, {does.get(each.handle, 'who began the visit')}")
        for each in able
    ]
    if able[0].handle != ready.handle:
        choices.append(("", "somebody else: not recorded"))
    return Choose(f"Examined by {able[0].name}?", choices)


def with_examiner(ready: Ready, handle: str) -> Ready:
    """Return a visit that can be closed with who examined; nobody where none was named."""
    visit = msgspec.structs.replace(ready.draft.visit, examiner=handle or None)
    return replace(ready, draft=replace(ready.draft, visit=visit), may_have_examined=())


def milder_sheet(ready: Ready) -> Form | None:
    """Return the sheet that names what a correction drops or lowers, and asks why."""
    lost = ready.draft.milder
    if not lost:
        return None

    def store(_desk: object, values: Values) -> Ready:
        return replace(ready, milder_why=values["why"])

    lines = [*(each.words() for each in lost), "It waits for a second person to see it."]
    field = Field("why", "Why it presses less", needed=True)
    return Form("This makes the plan milder", [field], store, lines=lines, does="Enter Go on")


def groundless_sheet(ready: Ready) -> Digits | None:
    """Return what is asked once about each referral whose reason is gone."""
    judged = {name for name, _ in ready.judged}
    asked = [line for line in ready.draft.groundless if line.name not in judged]
    if not asked:
        return None
    withdrawn = tuple((word, f"withdrawn: {why}") for word, why in BECAUSE_WORDS.items())
    answers = ((NEEDED, "still needed"), *withdrawn)
    return Digits(
        "Its reason is gone",
        [Question(f"{line.words()[:1].upper()}{line.words()[1:]}?", answers) for line in asked],
    )


def with_answers(ready: Ready, given: Sequence[str]) -> Ready:
    """Return what is ready with the answers about referrals whose reason is gone."""
    judged = {name for name, _ in ready.judged}
    names = [line.name for line in ready.draft.groundless if line.name not in judged]
    pairs = list(zip(names, given, strict=True))
    reasons = {name: b for name, word in pairs for b in BECAUSE_WORDS if b == word}
    gone = tuple((name, Judgement("strike", because)) for name, because in reasons.items())
    needed = tuple(name for name, word in pairs if word == NEEDED)
    return replace(ready, judged=(*ready.judged, *gone), still_needed=needed)


def accept_sheet(ready: Ready, today: date) -> Ask:
    """Return the question whether the plan is accepted, with what to look at again."""
    lines = [f"? {question.says}" for question in ready.draft.questions]
    lines += ready.notes
    lines += ready.draft.offers
    lines += [f"Plan: {visits_needed(ready.plan)}."]
    lines += accepted_lines(ready, today)
    yes = "I looked again: close it" if ready.draft.questions else "Accept and close"
    title = (
        "Look again, before this visit is closed" if ready.draft.questions else "Close this visit?"
    )
    return Ask(title, lines, yes=yes, no="Back to the form")


def accepted_lines(ready: Ready, today: date) -> list[str]:
    """Return what is accepted, ear by ear: new, open already, falling away, struck out."""
    on, after = ready.draft.visit.on, lines_of(ready.plan)
    asked = {line.name: line.words() for line in lines_of(ready.draft.plan)}
    judged = dict(ready.judged)
    struck = [name for name, made in judged.items() if made.does == "strike"]
    after = tuple(line for line in after if line.name not in struck or _stands_later(line, judged))
    new = [line for line in after if line.asked_on == on]
    open_already = [line for line in after if line.asked_on != on]
    left = {part[:2] for line in after for part in line.parts()}
    gone = [line for line in ready.before if not any(p[:2] in left for p in line.parts())]
    visits = ready.plan.follow_ups
    groups = (
        ("New", [_said(line, today, visits) for line in new]),
        ("Open already", [_said(line, today, visits) for line in open_already]),
        ("Falls away", [line.words() for line in gone if line.name not in struck]),
        ("Struck out", [asked[name] for name in struck if name in asked]),
    )
    return [f"{title}: {each}" for title, lines in groups for each in lines]


def _stands_later(line: Line, judged: Mapping[str, Judgement]) -> bool:
    return judged[line.name].until is not None


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


def books_now(plan: Plan, today: date) -> Sequence[str]:
    """Return what is to be booked before they leave, in words."""
    near = [f for f in plan.follow_ups if (f.latest - today).days <= 70]
    said = [f"Book before they leave: by {short_day(f.latest, today)}." for f in near]
    return [*said, "The person's screen comes next: b books there."] if said else said
