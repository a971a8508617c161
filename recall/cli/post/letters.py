"""`recall letters`: the week's letters, written, printed, posted, returned."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import (
    CONTEXT,
    DAY,
    acting,
    agreed,
    as_data,
    at_site,
    emit,
    emit_data,
    emit_lines,
    in_config,
    say,
    settings,
)
from recall.cli.shared.numbers import NUMBER, AtLeast
from recall.cli.shared.whose import emit_whose, emit_whose_row, follow_up_of
from recall.schedule.calendar import say_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.post.batches import Prepared
    from recall.desk.post.printing import Printed

FAULTY = 2
"""Exit status of a check that found something to put right."""
SHOWN = 10


@click.group(context_settings=CONTEXT)
def letters() -> None:
    """The week's letters: made, looked at, printed, posted, returned; checked."""


@letters.command()
@click.option("--week", type=DAY, help="Any day of the week; this week where left out.")
@at_site
@acting
def make(week: date | None, **given: Any) -> None:
    """Write and print the letters that are due by the end of a week.

    Prints the paths of the pages and of the list. Running it again makes nothing twice.
    Only confirmed plans get letters, and a backlog comes in weekly portions.
    """
    from recall.desk.post.batches import prepare
    from recall.desk.post.printing import unprinted

    with opened(given) as desk:
        prepared = prepare(desk, week)
        _tell_written(prepared)
        todo = unprinted(desk, prepared.week_on)
        for batch in todo:
            _print(desk, batch)
        if not todo:
            what = "is printed already" if prepared.batch_id else "has no letters"
            say(f"The week of {say_day(prepared.week_on)} {what}; nothing was made.")


@letters.command()
@click.option("--week", type=DAY, help="Any day of the week; this week where left out.")
@at_site
@acting
def write(week: date | None, **given: Any) -> None:
    """Write the letters of a week without printing them, to look at them first."""
    from recall.desk.post.batches import prepare

    with opened(given) as desk:
        prepared = prepare(desk, week)
    _tell_written(prepared)
    say(f"See recall letters preview {prepared.number}." if prepared.number else "No letters.")


@letters.command()
@click.argument("follow_up", metavar="FOLLOW_UP|REF")
@acting
def spoken(follow_up: str, **given: Any) -> None:
    """Print what to say in a call in the place of the letter about a FOLLOW_UP."""
    from recall.desk.post.call_scripts import script_for

    with opened(given, reading=True) as desk:
        number = follow_up_of(desk, follow_up)
        script = script_for(desk, number)
        emit_whose_row(desk, "follow-up", number)
        emit_lines(script)


@letters.command("open")
@click.argument("batch", type=NUMBER)
@click.option("--to", type=click.Path(path_type=Path), required=True, help="A folder.")
@acting
def open_(batch: int, to: Path, **given: Any) -> None:
    """Write the sealed pages of a BATCH that was posted where they can be read.

    Only an encrypted register seals them; take them away when you have read them.
    """
    from recall.desk.post.posted_pages import open_pages

    with opened(given) as desk:
        for path in open_pages(desk, batch, to):
            emit(f"{path}\n")


@letters.command()
@click.argument("batch", type=NUMBER)
@click.option("--text", is_flag=True, help="Show what each letter says, too.")
@as_data
@acting
def preview(batch: int, text: bool, form: str | None, **given: Any) -> None:
    """Show who gets what in a BATCH, what is held back and why, what would be pulled now."""
    from recall.desk.post.showing import Shown, text_of_letter
    from recall.desk.post.showing import preview as shown

    with opened(given, reading=True) as desk:
        rows = shown(desk, batch)
        if form:
            emit_data(form, Shown, rows)
            return
        for row in rows:
            kind = row.kind.replace("_", " ")
            emit_lines(f"{row.number:<10}{row.state:<10}{kind:<22}{row.reference:<10}{row.to}")
            told = [row.because, "urgent: ring them, too" * row.urgent]
            told.append("" if row.format == "standard" else row.format.replace("_", " "))
            told.append(row.envelope)
            if any(told):
                emit_lines(f"{'':<10}{'; '.join(filter(None, told))}")
            if text:
                emit(f"\n{text_of_letter(desk, row.letter_id)}\n")


@letters.command("print")
@click.argument("batch", type=NUMBER)
@acting
def print_(batch: int, **given: Any) -> None:
    """Make the pages of a BATCH, or make them again from the text that was kept."""
    from recall.desk.post.posting import batch_id

    with opened(given) as desk:
        _print(desk, batch_id(desk, batch))


letters.add_command(print_, "reprint")


@letters.command("list")
@as_data
@acting
def list_(form: str | None, **given: Any) -> None:
    """List the batches, the last one first."""
    from recall.desk.post.posting import BatchLine, batches

    with opened(given, reading=True) as desk:
        rows = batches(desk)
    if form:
        emit_data(form, BatchLine, rows)
        return
    for row in rows:
        state = f"posted {row.posted_on}" if row.posted_on else "not posted"
        state = state if row.printed_at else "not printed"
        emit(
            f"{row.number:>4}  week of {row.week_on}  {row.letters:>5} {_letters(row.letters)}, "
            f"{row.held} held back, {row.taken_off} taken off  {state}\n"
        )


@letters.command()
@click.argument("batch", type=NUMBER)
@click.option(
    "--taken-off",
    type=AtLeast(0),
    help="How many letters it says to take off, once they are off; without it, you are asked.",
)
@acting
def posted(batch: int, taken_off: int | None, **given: Any) -> None:
    """Record that a BATCH was posted; first says what to take off the pile, then asks."""
    from recall.desk.post.posting import mark_posted, pile_of

    with opened(given) as desk:
        pile = pile_of(desk, batch)
        for letter in pile.off:
            say(f"Take out {letter.number}, to {letter.to}: {letter.because}.")
            if letter.beside:
                say(f"  It lies in one envelope with {', '.join(letter.beside)}.")
        if pile.differs:
            say("The text that is kept is not what was printed first; look at the pages:")
            for said in pile.differs:
                say(f"  {said.removesuffix('.')}.")
        off = len(pile.off)
        leave = "1 letter leaves" if pile.letters == 1 else f"{pile.letters} letters leave"
        question = f"{leave}, {off} taken off. Was batch {batch} posted?"
        if not agreed(question, taken_off is not None, f"--taken-off {off}"):
            say("Nothing was recorded.")
            return
        mark_posted(desk, batch, off if taken_off is None else taken_off)
    say(f"Batch {batch} is posted.")


@letters.command()
@click.argument("number")
@acting
def returned(number: str, **given: Any) -> None:
    """Record that the letter NUMBER came back."""
    from recall.desk.post.posting import mark_returned, reference_of_letter

    with opened(given) as desk:
        mark_returned(desk, number)
        emit_whose(desk, reference_of_letter(desk, number))
    say(f"Letter {number} came back: check the address.")


@letters.command()
@click.argument("number")
@click.option("--why", default="", help="The reason.")
@acting
def hold(number: str, why: str, **given: Any) -> None:
    """Hold the letter NUMBER back, with the reason."""
    from recall.desk.post import posting

    with opened(given) as desk:
        posting.hold(desk, number, why)
        emit_whose(desk, posting.reference_of_letter(desk, number))
    say(f"Letter {number} is held back.")


@letters.command()
@click.argument("number")
@acting
def unhold(number: str, **given: Any) -> None:
    """Let the letter NUMBER go that was held back."""
    from recall.desk.post import posting

    with opened(given) as desk:
        words = posting.unhold(desk, number)
        emit_whose(desk, posting.reference_of_letter(desk, number))
    say(f"Letter {number} is let go. {words}")


@letters.command()
@in_config
def check(config: Path | None) -> int:
    """Try all wording, the practice's own too, against awkward names and long addresses."""
    from recall.letters.check import check_all

    found = check_all(settings(config).files.wording)
    for problem in found:
        emit_lines(f"{problem.where}: {problem.says}")
    say(f"{len(found)} to put right." if found else "All wording can be used.")
    return FAULTY if found else 0


def _print(opened: Desk, batch: int) -> None:
    from recall.desk.post.printing import print_batch

    done = print_batch(opened, batch)
    for path in done.pdfs:
        emit(f"{path}\n")
    for path in (done.list_path, *done.beside):
        emit(f"{path}\n")
    _tell_printed(done)


def _tell_left_out(left_out: tuple[str, ...]) -> None:
    for one in left_out:
        say(f"No letter was made for {one} cannot be read. See recall restore.")


def _letters(count: int) -> str:
    """Return the word for so many.

    >>> _letters(1), _letters(0)
    ('letter', 'letters')
    """
    return "letter" if count == 1 else "letters"


def _tell_written(done: Prepared) -> None:
    week = say_day(done.week_on)
    _tell_left_out(done.left_out)
    if done.written:
        say(f"Week of {week}: {done.written} {_letters(done.written)} written.")
    if done.not_written:
        several = "s" * (len(done.not_written) > 1)
        say(f"Nobody can be written to for {len(done.not_written)} follow-up{several}:")
        for one in done.not_written[:SHOWN]:
            say(f"  {one.reference}: {one.because}")
        if len(done.not_written) > SHOWN:
            say(f"  … and {len(done.not_written) - SHOWN} more.")
    if done.backlog_left:
        say(f"Backlog left for later weeks: {done.backlog_left} (letters.backlog_per_week).")
    if done.unconfirmed:
        say(f"Not written, for the plan is not confirmed: {done.unconfirmed}. See recall confirm.")


def _tell_printed(done: Printed) -> None:
    emails = f", {done.emails} for e-mail" if done.emails else ""
    say(
        f"Batch {done.number}: {done.letters} {_letters(done.letters)} on paper{emails}, "
        f"{len(done.held)} held back."
    )
    if done.differs:
        say("It is not what was printed first:")
        for said in done.differs:
            say(f"  {said.removesuffix('.')}.")
    for line in done.held[:SHOWN]:
        say(f"  {line.number} ({line.reference}): {line.held_back}")
    if len(done.held) > SHOWN:
        say(f"  … and {len(done.held) - SHOWN} more, named on the list.")
