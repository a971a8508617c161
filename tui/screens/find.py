"""Find: anybody, by whatever they say about themselves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from itertools import chain, repeat
from typing import TYPE_CHECKING, Any

from textual import on
from textual.containers import Vertical
from textual.widget import Widget
from textual.widgets import Input, Static

from recall.care.dates import age_on
from tui.dialogs.choose import Choice, Choose
from tui.register.key_pace import READ
from tui.screens.listing import ListScreen
from tui.widgets.row_list import Part, RowList
from tui.words.text import full_day, literal, several

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.people.ringing_back import MayRing

LIMIT = 50
KEYS = "123456789abcdefghijklmnopqrstuvwxyz"
"""By which those who were rung today are chosen."""
HOWS = {"exact": "", "begins": "begins so", "sounds": "sounds so", "near": "spelt nearly so"}
SAYS = "Part of a name, a birth date, a phone number, a postcode or a reference."
SEVERAL = "More than one person: look who it is, mark them, then Enter."


class FindScreen(ListScreen):
    """Find anybody."""

    WHERE = "find"
    REFILL_ON_RETURN = True
    HELP = """\
Type what the person says: part of a name, the birth date in any usual order, a phone number, a
postcode, a reference, or several of them. Spelling need not be right. Up and Down mark somebody,
Enter opens. Check name, birth date and postcode together: there are twins. Where nobody is found,
Enter writes down somebody new, with what you typed filled in; Ins does so anyway.
Before you type, those whom the practice rang today stand here: whoever rings back is found by the
last digits of the number, or the name; F4 once more offers each of them by one key.
While you type, F1 explains and F2 leads back to Today: letters go into the field."""

    _text = ""
    _shown_at = 0.0
    """Since when the list of that text is in sight."""

    def body(self) -> Iterable[Widget]:
        """Give the field, what came of it, and the people found."""
        with Vertical(classes="body"):
            yield Input(placeholder=SAYS, id="asked")
            yield Static(literal(SAYS), id="told")
            yield RowList(self.draw_row, empty="", id="found")

    def on_screen_resume(self) -> None:
        """Put the cursor into the field; whatever is typed takes the place of the old words."""
        asked = self.query_one("#asked", Input)
        asked.focus()
        asked.action_select_all()

    def refill(self) -> None:
        """Ask again what was asked last."""
        self._ask(self.query_one("#asked", Input).value)

    @on(Input.Changed, "#asked")
    def _typed(self, changed: Input.Changed) -> None:
        self._ask(changed.value)

    def _ask(self, text: str) -> None:
        self.read("find", partial(_find, text=text), partial(self._show, text))

    def _show(self, text: str, found: Sequence[Any]) -> None:
        self.went_well()
        self.row_list.forget()
        numbers = [row.found.id for row in found]
        self.row_list.show(numbers, stay_on=numbers[0] if numbers and text != self._text else None)
        if text != self._text:
            self._text, self._shown_at = text, self.app.key_clock.now()
        self.row_list.fill({row.found.id: row for row in found})
        told = SAYS if not text.strip() else several(len(found), "person", "people")
        if found and not text.strip():
            last = ", the last one first" * (len(found) > 1)
            told = f"Rung today: {several(len(found), 'person', 'people')}{last}."
            told += " F4 once more gives each a key."
        if len(found) >= LIMIT:
            told = f"The first {LIMIT} people; type more to find fewer."
        if text.strip() and not found:
            told = "Nobody. Try part of the name, or the birth date. Enter: somebody new."
        self.query_one("#told", Static).update(literal(told, "$desk-quiet"))

    def draw_row(self, ringing: MayRing, width: int) -> Sequence[Part]:
        """Return one line: name, birth date and postcode together, then the rest."""
        row = ringing.found
        today = self.app.today
        years = f"({age_on(row.born, today)})" if today else ""
        rung = f"rung at {ringing.rung_at}" if ringing.rung_at else HOWS.get(row.how, "")
        gone = "has died" if row.deceased_on else rung
        fixed = 12 + 6 + 10 + 10
        tail = 16 if width >= 76 else 0
        name = width - fixed - tail
        return [
            (f"{row.family_name}, {row.given_names}", name, ""),
            (full_day(row.born).rjust(11), 12, ""),
            (years, 6, "quiet"),
            (row.postcode or "—", 10, ""),
            (row.ref, 10, "quiet"),
            (gone, tail, "alarm" if row.deceased_on else "quiet"),
        ]

    @on(Input.Submitted, "#asked")
    @on(RowList.Chosen)
    def action_open(self) -> None:
        """Open the person that is marked; not before the list is that of what stands in the field.

        Enter right after what was typed, as a quick hand or a scanner of references gives it,
        opens the one person it is about; where several are found they are shown, to be read.
        """
        text = self.query_one("#asked", Input).value
        if text != self._text:
            self.read_to_open("find", partial(_find, text=text), partial(self._show_to_open, text))
        else:
            self._open_marked()

    def _show_to_open(self, text: str, found: Sequence[Any]) -> None:
        self._show(text, found)
        if len(found) == 1:
            self._open_marked()

    def _open_marked(self) -> None:
        from tui.screens.person import PersonScreen

        row = self.row_list.row
        if len(self.row_list.numbers) > 1 and self.app.key_clock.now() - self._shown_at < READ:
            self.say(SEVERAL)
        elif row is not None:
            self.app.push_screen(PersonScreen(row.found.ref))
        elif self._text.strip() and not self.row_list.numbers:
            self.action_new_person()

    def ask_who_rings_back(self) -> None:
        """Ask which of those who were rung today it is, each by a key of their own."""
        self.read_to_open("rung", partial(_find, text=""), self._who_rings_back)

    def _who_rings_back(self, rung: Sequence[MayRing]) -> None:
        if not rung:
            self.say("Nobody was rung today yet.")
            return

        def chosen(reference: str | None) -> None:
            if reference:
                self.app.show_person(reference)

        choices = [
            Choice(each.found.ref, _in_one_line(each), key)
            for each, key in zip(rung, chain(KEYS, repeat("")), strict=False)
        ]
        self.app.push_screen(
            Choose("Who rings back? Rung today, the last one first", choices), chosen
        )

    def action_new_person(self) -> None:
        """Write down somebody new, with what was typed filled in."""
        text = self.query_one("#asked", Input).value
        self.read("said", partial(_said, text=text), self._new_person)

    def _new_person(self, said: Any) -> None:
        from tui.people.entering import enter_somebody

        enter_somebody(self, said)


def _in_one_line(ringing: MayRing) -> str:
    """Return who it is and when they were rung: name, birth date and postcode together."""
    row = ringing.found
    name = f"{row.family_name}, {row.given_names}"
    where, at = row.postcode or "no postcode", ringing.rung_at
    return f"{name}, born {full_day(row.born)}, {where}, rung at {at}"


def _said(desk: Desk, *, text: str) -> Any:
    from recall.desk.people import new_person

    return new_person.taken_apart(desk, text)


def _find(desk: Desk, *, text: str) -> Sequence[MayRing]:
    from recall.desk.people import ringing_back

    return ringing_back.who_rings(desk, text, LIMIT)
