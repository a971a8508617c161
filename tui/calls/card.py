"""The call card of the person in hand: who it is, whom to ask for, what to say, what was tried."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING

from textual.content import Content
from textual.style import Style

from recall.care.dates import age_on
from recall.protocol.contact_steps import STEP
from recall.schedule.calendar import say_day
from tui.calls import numbers
from tui.calls.acts import booked
from tui.commands.kinds import Command
from tui.commands.outcomes import OUTCOME_COMMANDS
from tui.words.signs import STEP_WORDS, loud_styled, words
from tui.words.text import cut, full_day, literal, plain, several, wrapped

if TYPE_CHECKING:
    from recall.desk.worklists.call_card import CallCard

LABEL = 9
"""Cells for the word before each line."""
NOTE_LINES = 2
"""Lines of each note; the whole of it is in the person's notes."""
SHORTEST = 4
"""The last step in which a card is made shorter."""
Line = Content


def call_card(
    row: CallCard, today: date, width: int, most: int = 99, here: str = "", cut_off: str = ""
) -> list[Line]:
    """Return the lines of a call card, at most so many, the identity check first.

    `here` names who else is to be reached on the same number; `cut_off` says in the last line
    where the rest is, if not even the shortest card has room.

    Where there is little room, older attempts and the step give way, then the end of the note:
    they are in the person's story, one key away. What is to be said is never shortened.
    """
    lines: list[Line] = []
    for spare in range(SHORTEST + 1):
        lines = _all_lines(row, today, max(20, width), spare, here)
        if len(lines) <= most:
            return lines
    return [*lines[: most - 1], literal(cut(cut_off, width), "bold $desk-warn")]


def shortest(row: CallCard, today: date, width: int, here: str) -> list[Line]:
    """Return the card with all that must be known and said, and nothing else."""
    return _all_lines(row, today, max(20, width), SHORTEST, here)


def _all_lines(row: CallCard, today: date, inner: int, spare: int, here: str) -> list[Line]:
    """Return all lines; each step of `spare` leaves something out."""
    attempts = row.attempts[: (5, 2, 1, 1, 1)[spare]]
    return [
        *_who(row, today, inner),
        *(() if row.contact_stopped else _who_to_ask_for(row, inner, (3, 2, 1, 1, 1)[spare])),
        *_spoken(row, inner),
        *_comes(row, today, inner),
        *(_labelled("Here too", here, inner) if here else ()),
        *[line for each in row.to_tell for line in _to_tell(each, inner)],
        *_notes(row.notes[: (2, 1, 1, 1, 1)[spare]], inner, 1 if spare > 2 else NOTE_LINES),
        *[line for each in row.warnings for line in _labelled("! Mind", each, inner, kind="alarm")],
        *[line for each in row.needs for line in _labelled("Needs", each, inner, kind="warn")],
        *_say(row, inner),
        *_by(row, today, inner),
        *(_step(row, inner) if spare == 0 else ()),
        *(_tried(attempts, inner, 1 if spare > 2 else 99) if spare < SHORTEST else ()),
    ]


def _who_to_ask_for(row: CallCard, inner: int, most: int) -> Iterator[Line]:
    yield from _labelled("Ask for", row.ask_for or "nobody is recorded", inner, bold=True)
    for n, (label, text) in enumerate(numbers.lines(row, most)):
        yield from _labelled(label, text, inner, bold=n == 0)


def _spoken(row: CallCard, inner: int) -> Iterator[Line]:
    """The call of the day to the same one about another: seen before one rings again."""
    if row.spoken is not None:
        label = "! Today" if row.spoken.reached else "Today"
        yield from _labelled(label, row.spoken.words, inner, kind="warn")


def _comes(row: CallCard, today: date, inner: int) -> Iterator[Line]:
    """What they are booked for already, the next one: whoever comes today need not be rung."""
    for each in row.comes[:1]:
        is_today = each.starts_local.date() == today
        when = "today " if is_today else f"{say_day(each.starts_local.date(), weekday=True)} at "
        more = f", and {len(row.comes) - 1} more" if len(row.comes) > 1 else ""
        text = f"{when}{booked(each)}, for something else{more}"
        yield from _labelled("! Comes" if is_today else "Comes", text, inner, kind="warn")


def _say(row: CallCard, inner: int) -> Iterator[Line]:
    """What to read out; nothing where nobody is asked for: they came, or were to come."""
    step = STEP.get(row.step)
    asked = step is None or step.done_as not in ("attendance", "visit")
    if asked and row.why and not row.contact_stopped:
        yield from _labelled("Say", f"“{row.why}”", inner)


def _to_tell(text: str, inner: int) -> Iterator[Line]:
    """What was answered and is to be passed on in this call."""
    yield from _labelled("! Tell", text, inner, kind="alarm")


def _notes(notes: Sequence[str], inner: int, most: int) -> Iterator[Line]:
    """What was written down last, beside the number: on page five nobody sees it in time."""
    lines = [line for each in notes for line in wrapped(each, inner - LABEL, most)]
    for n, line in enumerate(lines):
        label = cut("Note" if n == 0 else "", LABEL)
        yield Content.assemble((label, "bold $desk-warn"), (line, "bold $desk-warn"))


def _who(row: CallCard, today: date, inner: int) -> Iterator[Line]:
    """Name, birth date and postcode together, then the reference."""
    loud = loud_styled(row.urgency)
    name = literal(cut(row.name, inner - loud.cell_length - 2), "bold $desk-lead")
    yield Content("  ").join([name, loud])
    years = age_on(row.born, today)
    child = ", a child" if years < 16 else ""
    yield Content.assemble(
        "born ",
        (full_day(row.born), "bold"),
        f" ({years}{child})  ",
        (plain(row.postcode or "no postcode"), "bold"),
        ("  " + plain(row.reference), "$desk-quiet"),
    )


def _by(row: CallCard, today: date, inner: int) -> Iterator[Line]:
    """By when: the earliest latest day of all that the call is about, and how late it is."""
    left = (row.call_by - today).days
    late = max(row.late_by_days, -left)
    when = f"{several(late, 'day')} late" if late else f"{several(left, 'day')} left"
    text = f"{full_day(row.call_by)} at the latest: {when}"
    yield from _labelled("By", text, inner, kind="alarm" if late else "")


def _step(row: CallCard, inner: int) -> Iterator[Line]:
    hour = f" at {row.hour:%H:%M}" if row.hour else ""
    due = f"{'promised for' if row.promised else 'due'} {full_day(row.next_step_on)}{hour}"
    yield from _labelled("Step", f"{words(STEP_WORDS, row.step)}, {due}", inner)


def _tried(attempts: Sequence[str], inner: int, most: int) -> Iterator[Line]:
    if not attempts:
        yield from _labelled("Tried", "nothing yet", inner)
    for n, each in enumerate(attempts):
        yield from _labelled("Tried" if n == 0 else "", each, inner, most=most)


def _labelled(
    label: str, text: object, width: int, *, bold: bool = False, kind: str = "", most: int = 99
) -> Iterator[Line]:
    """Give a text with its label before the first line."""
    style = f"bold $desk-{kind}" if kind else "bold" if bold else ""
    for n, line in enumerate(wrapped(text, width - LABEL, most)):
        head = label if n == 0 else ""
        yield Content.assemble(
            (cut(head, LABEL), f"bold $desk-{kind}" if kind else "$desk-quiet"), (line, style)
        )


def outcome_lines(width: int) -> int:
    """Return how many lines all the outcomes take."""
    return -(-len(OUTCOME_COMMANDS) // max(1, width // 24))


@lru_cache(maxsize=16)
def outcomes(width: int, height: int) -> tuple[Line, ...]:
    """Return the outcomes with their keys in as many columns and lines as there is room.

    The first ones are those that come up most; where not all fit, the last place says how to
    see the others, which work all the same.
    """
    columns = max(1, width // 24)
    cell = width // columns
    room = max(1, height) * columns
    shown = list(OUTCOME_COMMANDS)
    rest = len(shown) - room
    if rest > 0:
        shown = shown[: room - 1]
    cells = [_outcome(command, cell) for command in shown]
    if rest > 0:
        cells.append(_cell(".", f"{rest + 1} more", "screen.more", cell))
    lines = -(-len(cells) // columns)
    return tuple(
        Content("").join([cells[at] for at in range(line, len(cells), lines)])
        for line in range(lines)
    )


def _outcome(command: Command, width: int) -> Content:
    return _cell(command.key, command.words, command.action, width)


def _cell(key: str, text: str, action: str, width: int) -> Content:
    click = Style.from_meta({"@click": action})
    return Content.assemble((f" {key} ", "bold $desk-key"), cut(text, width - 3)).stylize(click)
