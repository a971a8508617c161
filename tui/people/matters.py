"""The sheets for matters: write one down, pass it on, close it by name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, cast

from textual.app import App

from recall.loop.matters import KIND, KINDS, OWNER_WORDS, Kind
from tui.dialogs.choose import Choice, Choose
from tui.dialogs.form import Field, Form, Values
from tui.words.text import full_day, plain, several

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.worklists.matter_list import Answered, MatterLine

NEW = "new"
WORSE = "Somebody is worse? Hand the call to a clinician now; a message is too slow."


def the_owner(kind: Kind) -> str:
    """Return whose a matter of a kind is where nobody is named."""
    words = OWNER_WORDS[kind.owner]
    return words if kind.owner == "reception" else f"the {words}"


def choices(open_ones: Sequence[MatterLine]) -> list[Choice]:
    """Return what can be passed on about a person, and what is open already."""
    made = [
        Choice(f"{NEW} {kind.id}", f"{kind.title}, for {the_owner(kind)}")
        for kind in KINDS
        if kind.by_hand
    ]
    known = [
        Choice(f"{row.number}", f"Close: {row.title.lower()}, {row.owner}: {plain(row.text)}"[:64])
        for row in open_ones
    ]
    return [*made, *known]


def ask(
    app: App[Any],
    about_whom: tuple[str | None, Sequence[str]],
    known: Sequence[MatterLine],
    then: Callable[[Next | None], None],
) -> None:
    """Ask what it is, and show its sheet.

    Args:
        app: where the sheets are shown.
        about_whom: the person's reference, or None, and the lines that say who it is.
        known: the matters that are open and may be closed from here.
        then: takes what came of it.
    """
    ref, lines = about_whom

    def chosen(value: str | None) -> None:
        if value is not None:
            app.push_screen(sheet(value, ref, lines, known), then)

    app.push_screen(Choose("Pass on" if ref else "What is it?", choices(known)), chosen)


def sheet(chosen: str, ref: str | None, lines: Sequence[str], known: Sequence[MatterLine]) -> Form:
    """Return the sheet of one of the choices."""
    does, _, kind = chosen.partition(" ")
    if does == NEW:
        return writing_down(kind, ref, lines)
    return closing(next(row for row in known if f"{row.number}" == does))


def writing_down(kind_id: str, ref: str | None, lines: Sequence[str]) -> Form:
    """Return the sheet on which a matter is written down."""
    kind = KIND[kind_id]

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.practice.matters import Entry, write_down

        entry = Entry(kind.id, values["text"], values["owner"], values["due"])
        return write_down(desk, ref, entry)

    fields = (
        Field("text", "What", hint=kind.asks, needed=True),
        Field("due", "By when", "day", hint=f"empty: in {several(kind.days, 'working day')}"),
        Field("owner", "For", "owner", hint=f"handle or role; empty: {the_owner(kind)}"),
    )
    warned = [WORSE] if kind.id == "message" else []
    return Form(kind.title, fields, store, lines=[*lines, *warned], does="Pass it on")


def closing(row: MatterLine) -> Form:
    """Return the sheet that closes a matter by name."""
    kind = KIND[row.kind]

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.practice.matters import close

        return close(desk, row.number, values["how"], values["text"])

    hint = "the answer, or what was found" if kind.says_how else "may stay empty"
    how = Field("how", "How it ends", "choice", choices=kind.closes)
    text = Field("text", "What came of it", hint=hint)
    fields = (text, how) if kind.says_how else (how, text)
    return Form(f"Close: {kind.title.lower()}", fields, store, lines=about(row), does="Close it")


def passing(row: MatterLine) -> Form:
    """Return the sheet that gives a matter to somebody else."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.practice.matters import pass_on

        return pass_on(desk, row.number, values["to"], due=values["due"], why=values["why"])

    fields = (
        Field("to", "To", "owner", hint="a handle, or clinicians, manager …", needed=True),
        Field("due", "By when", "day", hint=f"empty: {full_day(row.due_on)}, as it was"),
        Field("why", "Why", hint="may stay empty"),
    )
    return Form("Pass it to somebody else", fields, store, lines=about(row), does="Pass it on")


def about(row: MatterLine) -> list[str]:
    """Return whom and what a matter is about, as lines above a sheet."""
    who = f"{row.name}, born {full_day(row.born)}, {row.postcode or 'no postcode'}"
    lines = [f"{who}, {row.reference}"] if row.reference else []
    lines = [*lines, f"{row.taken_by}, {full_day(row.taken_on)}: {row.text}"]
    if (known := as_answered(row)) is None:
        return lines
    return [*lines, f"{answered(known)}{known.answer and ': '}{known.answer}"]


def as_answered(row: MatterLine) -> Answered | None:
    """Return a matter as somebody else closed it; None where it is open."""
    return cast("Answered", row) if row.is_closed else None


def answered(row: Answered) -> str:
    """Return who closed a matter and when."""
    return f"{row.closed_by}, {full_day(row.closed_on)}, {row.closed}"


def late(row: MatterLine, today: date) -> str:
    """Return by when a matter is to be seen to, and how late it is."""
    if row.late_by_days:
        return f"{several(row.late_by_days, 'day')} late"
    return "today" if row.due_on == today else f"by {full_day(row.due_on)}"
