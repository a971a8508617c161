"""`recall close`, `correct`, `void`: a visit is closed, put right, or taken out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any, get_args

import click

from recall.care.case import Category, Visit
from recall.care.ear import SIDES, Side
from recall.cli.shared.acts import opened
from recall.cli.shared.common import acting, agreed, emit, gathered, read_bytes, say
from recall.cli.shared.whose import emit_whose
from recall.cli.visits.clear_option import FINDINGS, Examined, examined, with_clear
from recall.cli.visits.plan_text import plan_text
from recall.errors import InputError, Refused
from recall.schedule.plan_lines import lines_of

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.visits.drafts import Acceptance, Draft, VisitNote
    from recall.schedule.plan_lines import Judgement


def _note(
    category: Category | None,
    ears: tuple[Side, ...],
    note: str | None,
    letter_words: str | None,
    ref: str | None,
) -> VisitNote:
    from recall.desk.visits.drafts import VisitNote

    return VisitNote(
        category=category,
        ears=tuple(ears),
        words=note,
        for_letters=letter_words or "",
        ref=ref or None,
    )


def _acceptance(
    looked: bool,
    arranged_with: str | None,
    strike: tuple[str, ...],
    considered: bool,
    milder_why: str,
    still_needed: tuple[str, ...],
) -> Acceptance:
    from recall.desk.visits.drafts import Acceptance

    judged = tuple(_struck(each, considered) for each in strike)
    return Acceptance(
        looked=looked,
        arranged_with=arranged_with or "",
        judged=judged,
        milder_why=milder_why,
        still_needed=still_needed,
    )


def _struck(text: str, considered: bool) -> tuple[str, Judgement]:
    """Return a line and why it is struck out, written as LINE=REASON or LINE=REASON: WORDS."""
    from recall.schedule.plan import BECAUSE_WORDS
    from recall.schedule.plan_lines import Judgement

    name, _, reason = text.partition("=")
    word, _, why = reason.partition(":")
    because = next((b for b in BECAUSE_WORDS if b == word.strip().replace("-", "_")), None)
    if because is None:
        known = ", ".join(b.replace("_", "-") for b in BECAUSE_WORDS)
        raise InputError(f"{text!r} strikes nothing out.", hint=f"LINE=REASON, one of: {known}.")
    return name.strip(), Judgement("strike", because, why.strip(), considered=considered)


_yes = click.option("--yes", is_flag=True, help="Accept the plan without being asked.")
_beside = gathered(
    "note",
    _note,
    click.option("--category", type=click.Choice(get_args(Category))),
    click.option("--ear", "ears", multiple=True, type=click.Choice(SIDES)),
    click.option("--note", help="Free words; searched for signs that press."),
    click.option("--letter-words", help="Your words for the letters of what is referred."),
    click.option("--ref", help="The practice's own reference of the visit."),
)
_accepted = gathered(
    "accepted",
    _acceptance,
    click.option("--looked", is_flag=True, help="Every question was looked at."),
    click.option(
        "--arranged-with", metavar="NAME", help="With whom an emergency was arranged by phone."
    ),
    click.option(
        "--strike",
        multiple=True,
        metavar="LINE=REASON",
        help="Strike a line of the plan out; as LINE=REASON: WORDS with more words.",
    ),
    click.option(
        "--still-needed", multiple=True, metavar="LINE", help="It stands, its reason being gone."
    ),
    click.option(
        "--milder-why", default="", help="Why a correction may drop or lower what pressed."
    ),
    click.option(
        "--considered", is_flag=True, help="The prompt about those brought was considered."
    ),
)


def _visit_options(command: Any) -> Any:
    return _beside(_accepted(_yes(command)))


@click.command()
@click.argument("person", metavar="REF")
@acting
@examined
@_visit_options
def close(
    person: str,
    examined: Examined,
    note: VisitNote,
    accepted: Acceptance,
    yes: bool,
    **given: Any,
) -> None:
    """Close a visit of the person REF: with findings, ears that are clear, or a category alone.

    Shows the plan before it is accepted. An older visit plans the person again from that day.
    """
    from recall.desk.visits.drafting import draft

    with opened(given) as desk:
        visit = _read(desk, person, examined.findings, examined.on or desk.today)
        visit = with_clear(desk, person, visit, examined.clear, note.ears)
        _close(desk, draft(desk, person, visit, note), accepted, yes)


@click.command()
@click.argument("visit_ref", metavar="VISIT")
@acting
@FINDINGS
@_visit_options
def correct(
    visit_ref: str,
    findings: str | None,
    note: VisitNote,
    accepted: Acceptance,
    yes: bool,
    **given: Any,
) -> None:
    """Put the VISIT right: its reference, or #number. What is left out stays as it was."""
    from recall.desk.visits.drafting import correction
    from recall.desk.visits.finding import find_visit

    with opened(given) as desk:
        number, old, person = find_visit(desk, visit_ref)
        visit = _read(desk, person, findings, old.on) if findings else old
        _close(desk, correction(desk, number, visit, note), accepted, yes)


@click.command()
@click.argument("visit_ref", metavar="VISIT")
@click.option("--why", required=True, help="The reason; it stays with the visit.")
@_yes
@acting
def void(visit_ref: str, why: str, yes: bool, **given: Any) -> None:
    """Take a VISIT out that should not be there. The row stays, with the reason."""
    from recall.desk.visits.closing import void_visit
    from recall.desk.visits.finding import find_visit

    with opened(given) as desk:
        number, visit, person = find_visit(desk, visit_ref)
        emit_whose(desk, person)
        if agreed(f"Void the visit of {person} on {visit.on}?", yes):
            say(void_visit(desk, number, why).words)


def _read(desk: Desk, person: str, findings: str | None, on: date) -> Visit:
    """Return the visit of a file; its day may be left out."""
    from recall.desk.visits.finding import read_visit

    if findings is None:
        return Visit(on=on)
    return read_visit(desk, person, read_bytes(findings), on)


def _settled(desk: Desk, given: Draft, accepted: Acceptance) -> None:
    """Refuse to leave open whether a referral stands whose reason is gone.

    Whoever may not decide leaves that to somebody who may.
    """
    answered = {*accepted.still_needed, *(name for name, _ in accepted.judged)}
    left = [line for line in given.groundless if line.name not in answered]
    if left and desk.by.may_decide:
        name = left[0].name
        raise Refused(
            f"Not closed: the reason of {name} is gone, and nobody said whether it stands.",
            hint=f"Add --still-needed {name}, or --strike {name}=explained.",
        )


def _close(desk: Desk, given: Draft, accepted: Acceptance, yes: bool) -> None:
    """Show the plan and the questions, ask, and store."""
    from recall.desk.visits.closing import close_visit

    emit_whose(desk, given.reference)
    emit(plan_text(given.plan))
    if given.note.category is None and given.suggested:
        say(f"Category: {given.suggested.replace('_', ' ')}.")
    if lines := lines_of(given.plan):
        say(f"Lines, as --strike names them: {', '.join(line.name for line in lines)}.")
    for line in given.groundless:
        say(
            f"? {line.words().capitalize()}: its reason is gone. "
            f"--still-needed {line.name}, or --strike {line.name}=explained."
        )
    for words in (*given.offers, *(f"! {told}" for told in given.sent)):
        say(words)
    for lost in given.milder:
        say(f"! Milder: {lost.words()}")
    for question in given.questions:
        say(f"? {question.says}")
    _settled(desk, given, accepted)
    if given.questions and not accepted.looked:
        looked = agreed("Did you look at this again?", False, "--looked")
        accepted = replace(accepted, looked=looked)
    if not agreed("Close the visit with this plan?", yes):
        say("Not closed; nothing was changed.")
        return
    say(close_visit(desk, given, accepted).words)
