"""The post without a screen: a batch in words, its letters as lines, and what can be done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.content import Content

from tui.dialogs.ask import Ask
from tui.dialogs.form import Field, Form, Values
from tui.widgets.row_list import Part
from tui.words.text import full_day, literal, plain, several, wrapped

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.post.posting import BatchLine, Pile, Pulled
    from recall.desk.post.showing import Shown

MOST_BATCHES = 60
SIGNS = {
    "written": "·",
    "printed": "=",
    "posted": "✓",
    "returned": "↩",
    "held back": "!",
    "pulled": "×",
    "to pull": "!",
}
KINDS = {"held back": "warn", "to pull": "alarm", "pulled": "quiet", "returned": "alarm"}
NEWLINE = Content("\n")


@dataclass(frozen=True)
class State:
    """One batch, its letters, and the numbers of all batches, the last one first."""

    batch: BatchLine | None
    letters: tuple[Shown, ...]
    numbers: tuple[int, ...]


@dataclass(frozen=True)
class Written:
    """What came of writing the letters of a week."""

    words: str
    number: int | None
    """Of the batch; None where there is none."""
    nobody: tuple[str, ...]
    """Follow-ups about which nobody can be written to, and why."""


@dataclass(frozen=True)
class Made:
    """What came of making the pages."""

    words: str
    differs: tuple[str, ...]
    """In what they are not what was printed first."""


def state_of(desk: Desk, *, number: int | None) -> State:
    """Return a batch; the last one where none is asked for."""
    from recall.desk.post import posting, showing

    known = posting.batches(desk, MOST_BATCHES)
    if not known:
        return State(None, (), ())
    batch = next((each for each in known if each.number == number), known[0])
    numbers = tuple(each.number for each in known)
    return State(batch, showing.preview(desk, batch.number), numbers)


def batch_words(state: State) -> str:
    """Return in a sentence what a batch is and how far it has come."""
    batch = state.batch
    if batch is None:
        return "No letters were ever written here. a writes those of this week."
    counted = Counter(row.state for row in state.letters)
    told = ", ".join(f"{count} {word}" for word, count in counted.items())
    if batch.posted_on is not None:
        where = f"posted on {full_day(batch.posted_on)}"
    elif batch.printed_at is not None:
        where = f"the file {batch.file_name}.pdf is made; m says that it was posted"
    else:
        where = "no file yet; p makes it"
    return f"Batch {batch.number}, week of {full_day(batch.week_on)}: {told or 'empty'}; {where}."


def draw(row: Shown, width: int) -> Sequence[Part]:
    """Return one letter as a line."""
    kind = KINDS.get(row.state, "")
    sign = SIGNS.get(row.state, " ")
    also = "+" if row.urgent else " "
    room = max(14, width - 2 - 8 - 12 - 22 - 7)
    to = room if room < 44 else room // 2
    return [
        (also, 2, "alarm"),
        (row.number, 8, "quiet"),
        (f"{sign} {row.state}", 12, kind),
        (row.to, to - 1, ""),
        ("", 1, ""),
        ("" if to == room else f"about {row.name}", room - to, "quiet"),
        ("", 1, ""),
        (row.kind.replace("_", " "), 21, ""),
        (row.envelope.partition(" in ")[0], 7, "quiet"),
    ]


def about(row: Shown, width: int) -> list[Content]:
    """Return everything else about a letter."""
    whom = f"{row.name}, born {full_day(row.born)}, {row.reference}"
    how = ", ".join(filter(None, (row.format.replace("_", " "), row.language, row.envelope)))
    told = [("About", whom), ("To", ", ".join((row.to, *row.address)) or "—"), ("Form", how)]
    if row.because:
        told.append(("Because", row.because))
    if row.urgent:
        told.append(("Also", "Ring them: this presses, and never goes by letter alone."))
    lines: list[Content] = []
    for label, text in told:
        first, *rest = wrapped(text, max(20, width - 9), 2)
        lines.append(Content.assemble((f"{label:<8}", "bold $desk-lead"), plain(first)))
        lines += [literal(line).pad_left(8) for line in rest]
    return lines


def as_printed(text: str) -> Content:
    """Return the text of a letter line by line, as it will print."""
    if not text.strip():
        return literal("The wording failed: this letter is held back.")
    return NEWLINE.join([literal(line) for line in text.splitlines()])


def text_of(desk: Desk, *, letter_id: int) -> str:
    """Return what a letter says."""
    from recall.desk.post.showing import text_of_letter

    return text_of_letter(desk, letter_id)


def prepare(desk: Desk) -> Written:
    """Write the letters of the week; return what came of it."""
    from recall.desk.post.batches import prepare as write

    done = write(desk)
    told = [f"{several(done.written, 'letter')} written, {done.held} of them held back."]
    if done.not_written:
        first = done.not_written[0]
        nobody = several(len(done.not_written), "follow-up")
        told.append(
            f"Nobody can be written to for {nobody}, as {first.reference}: {first.because}."
        )
    if done.backlog_left:
        told.append(f"{done.backlog_left} of the backlog wait for later weeks.")
    if done.unconfirmed:
        told.append(f"{done.unconfirmed} wait for a clinician to confirm their plan.")
    for one in done.left_out:
        told.append(f"No letter was made for {one} cannot be read.")
    nobody_told = tuple(f"{each.reference}: {each.because}" for each in done.not_written)
    return Written(" ".join(told), done.number, nobody_told)


def make(desk: Desk, *, batch_id: int) -> Made:
    """Make the pages of a batch; return where they are, and what differs from those before."""
    from recall.desk.post.printing import print_batch

    done = print_batch(desk, batch_id)
    emails = f", {done.emails} for e-mail" if done.emails else ""
    where = ", ".join(str(path) for path in done.pdfs) or str(done.list_path)
    held = len(done.held)
    told = f"{several(done.letters, 'letter')} on paper{emails}, {held} held back: {where}"
    if done.left_out:
        told += f". No letter: {'; '.join(done.left_out)} cannot be read"
    return Made(told, done.differs)


def pile(desk: Desk, *, number: int) -> Pile:
    """Return what leaves if a batch is posted now, and what comes off first; nothing is done."""
    from recall.desk.post.posting import pile_of

    return pile_of(desk, number)


def ask_posted(found: Pile, batch: BatchLine) -> Ask:
    """Return the question whether a batch went into the post, with what comes off first."""
    lines = [f"{several(found.letters, 'letter')}, printed from {batch.file_name}.pdf."]
    if found.off:
        lines.append(f"FIRST take {several(len(found.off), 'letter')} off the pile:")
        lines += [f"! {_off_the_pile(each)}" for each in found.off]
    if found.differs:
        lines.append("LOOK at the pages: the text that is kept is not what was printed first:")
        lines += [f"! {each}" for each in found.differs]
    title = f"Did batch {batch.number} go into the post?"
    return Ask(title, lines, yes="It was posted", no="Not yet")


def post(desk: Desk, *, number: int, taken_off: int) -> str:
    """Record that a batch was posted, without what was shown to come off the pile."""
    from recall.desk.post.posting import mark_posted

    off = len(mark_posted(desk, number, taken_off))
    return f"Batch {number} is posted." + (f" {off} taken off the pile." if off else "")


def _off_the_pile(letter: Pulled) -> str:
    beside = f" It lies in one envelope with {', '.join(letter.beside)}." if letter.beside else ""
    return f"{letter.number}  to {letter.to}: {letter.because}.{beside}"


def hold_sheet(row: Shown) -> Form:
    """Return the sheet that keeps a letter back."""

    def store(desk: Desk, values: Values) -> str:
        from recall.desk.post.posting import hold

        hold(desk, row.number, values["why"])
        return f"Letter {row.number} is held back."

    lines = [f"{row.number} to {row.to}, about {row.name} ({row.reference})"]
    return Form("Hold this letter back", [Field("why", "Why", needed=True)], store, lines=lines)


def release(desk: Desk, *, number: str) -> str:
    """Let a letter go that was held back."""
    from recall.desk.post.posting import unhold

    came = unhold(desk, number)
    return f"Letter {number}: {came}" if came else f"Letter {number} is let go."


def returned_sheet(marked: str) -> Form:
    """Return the sheet for a letter that came back, by the number at its top."""

    def store(desk: Desk, values: Values) -> str:
        from recall.desk.post.posting import mark_returned

        mark_returned(desk, values["number"])
        return f"Letter {values['number']} came back: check the address."

    field = Field("number", "Number of the letter", value=marked, needed=True, hint="as at its top")
    return Form("A letter came back", [field], store, does="It came back")


def export(desk: Desk, *, rows: Sequence[Shown]) -> str:
    """Write the list of a batch into a CSV file; return where it is."""
    from recall.desk.oversight.manager_lists import export as write

    return f"Written: {write(desk, 'letters', type(rows[0]), rows)}"
