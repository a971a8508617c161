"""`recall changeover`: what history asked for, shown in portions, and what a clinician answers."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import fill
from typing import TYPE_CHECKING, Any, get_args

import click

from recall.care.case import To
from recall.cli.shared.acts import opened
from recall.cli.shared.common import WIDTH, acting, as_data, at_site, emit, emit_data, gathered, say
from recall.cli.shared.numbers import AtLeast
from recall.cli.visits.lines import REASON, read_because
from recall.errors import InputError
from recall.schedule.calendar import say_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.plans.changeover import OldKind, OldLine, Portion
    from recall.desk.plans.looking_through import Answer, What

ANSWERS: dict[str, What] = {
    "still-open": "still_open",
    "done": "done",
    "not-needed": "not_needed",
    "under-care": "under_care",
}


@dataclass(frozen=True)
class _Which:
    """What of the history is meant."""

    by_kind: bool
    kind: str | None
    expect: int | None
    more: int


def _answer(
    word: str | None,
    because: str | None,
    of: To | None,
    considered: bool,
    **words: str,
) -> Answer | None:
    """Return what the options of an answer say; None where none is given."""
    from recall.desk.plans.looking_through import Answer

    if word is None:
        return None
    if word == "not-needed" and because is None:
        raise InputError("Not needed, and no reason is given.", hint="Add --because.")
    reason = read_because(because or "judgement")
    return Answer(ANSWERS[word], because=reason, of=of, considered=considered, **words)


@click.command()
@click.argument("asks", nargs=-1, metavar="[ASK]...")
@gathered(
    "made",
    _answer,
    click.option("--answer", "word", type=click.Choice(list(ANSWERS)), help="What it comes to."),
    click.option("--because", type=REASON, help="Not needed: the reason, from the short list."),
    click.option("--of", type=click.Choice(get_args(To)), help="Under care: whose."),
    click.option("--considered", is_flag=True, help="The prompt that is shown was considered."),
    click.option("--where", default="", help="Done: where."),
    click.option("--when", default="", help="Done: the day or month, as 2025-03."),
    click.option("--why", default="", help="More words."),
)
@gathered(
    "which",
    _Which,
    click.option("--kinds", "by_kind", is_flag=True, help="Count what is alike."),
    click.option("--kind", help="Everything of one kind, as --kinds names it."),
    click.option("--expect", type=AtLeast(0), help="How many of the kind were shown."),
    click.option("--more", type=AtLeast(0), default=0, help="Portions beyond today's."),
)
@at_site
@as_data
@acting
def changeover(
    asks: tuple[str, ...],
    made: Answer | None,
    which: _Which,
    form: str | None,
    **given: Any,
) -> None:
    """History to be looked through: what was asked for before you went live.

    Without anything it shows today's portion, the most dangerous first. ASK, as F12 or R7,
    takes an --answer; --kind with --expect answers everything that is alike at once. Until
    then nobody is rung, written to or chased about it. Only somebody who may decide answers.
    """
    from recall.desk.plans import changeover as history
    from recall.desk.plans.passing_time import settle

    if made is not None and bool(asks) is bool(which.kind):
        raise click.UsageError("--answer needs either ASK, as F12, or --kind with --expect")
    with opened(given, reading=made is None) as desk:
        settle(desk)
        if made is not None:
            _store(desk, asks, which, made)
        elif which.by_kind:
            _kinds(history.kinds(desk), form)
        elif which.kind is not None:
            _lines(history.of_kind(desk, which.kind), form)
        elif asks:
            _lines(history.of_asks(desk, asks), form)
        else:
            _portion(history.portion(desk, which.more), form)


def _store(desk: Desk, asks: tuple[str, ...], which: _Which, made: Answer) -> None:
    from recall.desk.plans import looking_through

    if which.kind is not None:
        done = looking_through.answer_kind(desk, which.kind, which.expect or 0, made)
    else:
        done = looking_through.answer(desk, asks, made)
    who = ", ".join(dict.fromkeys(each.person_ref for each in done))
    emit(fill(f"{who}: {made.words()}.", WIDTH, subsequent_indent="   ") + "\n")
    if ends := looking_through.ends_words(sum(each.ends for each in done)):
        emit(f"{ends}\n")
    say(f"{len(done):,} answered by {desk.by.name}. recall undo takes it back.")


def _portion(found: Portion, form: str | None) -> None:
    if form:
        _lines(found.lines, form)
        return
    if not found.left:
        emit("Nothing is left to be looked through.\n")
        return
    told = f"{found.left:,} to be looked through; {found.answered_today:,} answered today"
    emit(f"{told}, of {found.a_day:,} a day.\n\n")
    if not found.lines:
        say("Today's portion is done. Go on: recall changeover --more 1.")
    _lines(found.lines, None)


def _lines(lines: tuple[OldLine, ...], form: str | None) -> None:
    from recall.desk.plans.changeover import OldLine

    if form:
        emit_data(form, OldLine, lines)
        return
    for line in lines:
        emit(_line(line) + "\n")


def _line(line: OldLine) -> str:
    head = f"{line.ask}  {line.urgency}  {line.reference}  {line.name}  born {say_day(line.born)}"
    when = f"asked for on {say_day(line.asked_on)}, by {say_day(line.latest)}"
    then = f"Then: {line.clinical}" if line.clinical else ""
    texts = [f"{line.what}: {when}. ({line.kind})", then]
    if line.known:
        texts.append(f"Known: {line.known}.")
    if line.contact_stopped:
        texts.append(f"Mind: {line.contact_stopped}.")
    if line.unconfirmed:
        texts.append(f"{line.unconfirmed} visits not confirmed: recall confirm {line.reference}.")
    told = [fill(t, WIDTH, initial_indent="   ", subsequent_indent="      ") for t in texts if t]
    return "\n".join([fill(head, WIDTH, subsequent_indent="   "), *told]) + "\n"


def _kinds(kinds: tuple[OldKind, ...], form: str | None) -> None:
    from recall.desk.plans.changeover import OldKind

    if form:
        emit_data(form, OldKind, kinds)
        return
    if not kinds:
        emit("Nothing is left to be looked through.\n")
    for each in kinds:
        emit(f"{each.count:>6,}  {each.kind}, {each.children_in_words()}\n")
        emit(f"{'':>6}  asked for from {each.first_asked} to {each.last_asked}\n")
