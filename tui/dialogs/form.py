"""Form: a few fields on a sheet, stored from the sheet itself.

The sheet stays until the register has taken what was typed. Where it does not, the sentence
that says why stands on the sheet and everything typed is still there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Button, Input, Static

from recall.errors import Conflict, InputError, RecallError
from recall.exchange.typed_days import read_call_at, read_day, read_time, read_when
from recall.schedule.calendar import say_day
from tui.dialogs.base import DeskDialog
from tui.dialogs.fields import Fields, Line
from tui.dialogs.names import handles, know
from tui.register.key_pace import NOT_SEEN, READ
from tui.widgets.cycle import Cycle
from tui.words.text import literal, plain

if TYPE_CHECKING:
    from recall.desk.core.session import Desk

Kind = Literal[
    "text", "day", "past_day", "time", "when", "call_at", "number", "choice", "handle", "owner"
]
Values = dict[str, Any]
SURE = "sure"
"""The value that says whether a doubt was shown and the same was stored once more."""


VERSION = "version"
"""The value that says at which version a thing is that another desk changed, once that was seen."""


def newest(values: Values, known: int) -> int:
    """Return the version that was seen last: of the row, or since another desk changed it."""
    found: int = values.get(VERSION) or known
    return found


class Doubt(InputError):
    """What was typed is likely wrong; asked to store the same once more, it is stored."""


@dataclass(frozen=True)
class Field:
    """One thing to fill in."""

    id: str
    label: str
    kind: Kind = "text"
    value: str = ""
    hint: str = ""
    needed: bool = False
    choices: Sequence[tuple[str, str]] = field(default=())
    offered: date | None = None
    """The day that is meant where only a time is typed."""


@dataclass(frozen=True, slots=True)
class Checks:
    """What is said where something that was typed is wrong."""

    before: Callable[[Values], str] | None = None
    """Says what is wrong with the values before anything is stored."""
    blame: Callable[[RecallError, Values], str] | None = None
    """Says which field is to be typed anew where storing is refused."""
    live: Callable[[Desk, Values], str] | None = None
    """Says something about the values while they are typed; what cannot be read is left out."""


NO_CHECKS = Checks()
NAMES = ("handle", "owner")
"""Kinds of field that name somebody who works here: looked up as soon as the name is given."""
NOT_WORDS = "Words change nothing here: Left and Right choose, Enter goes on to the next field."
WORDS_NOWHERE = "What you typed is kept nowhere: write it where it belongs, or Ctrl+S once more."


class Form(DeskDialog[Any]):
    """Fields to fill in; gives what storing them came to, or None where it was left."""

    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+s", "screen.store", "Store")]

    def __init__(
        self,
        title: str,
        fields: Sequence[Field],
        store: Callable[[Desk, Values], Any],
        *,
        lines: Sequence[str] = (),
        does: str = "Store",
        checks: Checks = NO_CHECKS,
    ) -> None:
        """Ask for some fields and store them.

        Args:
            title: what is being done.
            fields: what is asked for.
            store: does it, at the desk; what it returns is given to whoever asked.
            lines: whom or what it is about.
            does: the word on the button.
            checks: what is said where something that was typed is wrong.
        """
        super().__init__()
        self._title_words, self._fields, self._store = title, fields, store
        self._lines, self._does, self._checks = lines, does, checks
        self._warned = False
        self._doubted: Values | None = None
        self._version: int | None = None
        self._nobodys = ""
        """The field that names nobody who works here, as far as was said."""
        self._in_sight: float | None = None
        self._days: dict[str, date] = {}
        """The day of a field that was doubted: another time alone is on the same day."""
        self._fleeting = False
        """Whether what is complained of is settled by typing something else."""
        self._told_now = ""

    def on_mount(self) -> None:
        """Take note of when the sheet is in sight."""
        self.call_after_refresh(self._is_in_sight)
        if any(each.kind == "handle" for each in self._fields):
            self.read("handles", handles, self._offer, self._tell_nothing)
        self._go_to_what_is_missing()
        typed, self.app.typed_ahead = self.app.typed_ahead, ""
        if typed and isinstance(self.focused, Input):
            self.focused.value += typed

    def _go_to_what_is_missing(self) -> None:
        """Begin where something is still needed, if the first field is filled in already."""
        first = self._fields[0] if self._fields else None
        if first is None or not (first.needed and first.value):
            return
        missing = next((each for each in self._fields if each.needed and not each.value), None)
        if missing is not None:
            self.query_one(f"#f-{missing.id}").focus()

    def _offer(self, handles: str) -> None:
        """Say before the hint of a field that names who sees somebody who it may be."""
        for each, label in zip(self._fields, self.query(".label").results(Static), strict=True):
            if each.kind == "handle" and handles:
                label.update(_label(replace(each, hint=f"{handles}; {each.hint}")))

    def _is_in_sight(self) -> None:
        self._in_sight = self.app.key_clock.now()

    def _is_read(self) -> bool:
        """Return whether the sheet was in sight long enough to be read."""
        since = self._in_sight
        return since is not None and self.app.key_clock.now() - since >= READ

    def compose(self) -> ComposeResult:
        """Show the fields, one below the other."""
        with Vertical(classes="sheet"):
            yield Static(literal(self._title_words), classes="title")
            for line in self._lines:
                yield Static(literal(line), classes="about")
            with Fields():
                for each in self._fields:
                    yield Static(_label(each), classes="label")
                    yield self._widget(each)
            if self._checks.live:
                yield Static("", classes="told")
            yield Static("", classes="wrong")
            with Horizontal(classes="buttons"):
                yield Button(literal(f"Ctrl+S {self._does}"), id="store")
                yield Button(literal("Esc Leave"), id="leave")

    @staticmethod
    def _widget(each: Field) -> Cycle | Input:
        if each.kind == "choice":
            return Cycle(each.choices, each.value, id=f"f-{each.id}")
        return Line(each.value, id=f"f-{each.id}", select_on_focus=False)

    def action_leave(self) -> None:
        """Leave; where something was typed, only at the second time."""
        if self._is_changed() and not self._warned:
            self._warned = True
            self.complain("Esc once more throws away what you typed.")
            return
        super().action_leave()

    def unsaved(self) -> str:
        """Return which sheet is half filled."""
        if self.writing or not self._is_changed():
            return ""
        return f"A sheet that is half filled: {plain(self._title_words).removesuffix('.')}."

    def _is_changed(self) -> bool:
        return any(
            self.query_one(f"#f-{each.id}", Input).value != each.value
            for each in self._fields
            if each.kind != "choice"
        )

    def on_input_changed(self) -> None:
        """Say what there is to say about what is being typed, once it can be read."""
        if self._fleeting:
            self._fleeting = False
            self.complain("")
        live = self._checks.live
        if live is None:
            return
        values = {}
        for each in self._fields:
            with suppress(InputError):
                values[each.id] = self._value(each)
        self.read("live", lambda desk: live(desk, values), self._tell, self._tell_nothing)

    def _tell(self, words: str) -> None:
        self._told_now = words
        self.query_one(".told", Static).update(literal(words))
        self.call_after_refresh(self.fit)

    def _tell_nothing(self, _error: RecallError) -> None:
        """What is typed is judged when it is stored."""
        self._tell("")

    def on_input_submitted(self) -> None:
        """Enter goes to the next field; from the last one it stores."""
        self._go_on()

    @on(Input.Blurred)
    def _name_given(self, event: Input.Blurred) -> None:
        """Say at once where a name is nobody's who works here."""
        given = event.value.strip()
        each = next((f for f in self._fields if event.input.id == f"f-{f.id}"), None)
        if each is None or each.kind not in NAMES or not given or not self.is_current:
            return
        ask = partial(know, given=given, roles=each.kind == "owner")
        known, unknown = partial(self._known, each.id), partial(self._unknown, each.id)
        self.read(f"name {each.id}", ask, known, unknown)

    def _known(self, name: str, _nothing: None) -> None:
        """Take back what was said of this name, and nothing that was said of anything else."""
        if self._nobodys == name:
            self._nobodys = ""
            self.complain("")

    def _unknown(self, name: str, error: RecallError) -> None:
        self._nobodys = name
        self.report(error)

    def on_cycle_gone_on(self) -> None:
        """Enter does the same where there are a few answers."""
        self._go_on()

    def on_cycle_no_answer(self) -> None:
        """Say that words belong elsewhere."""
        self.complain(NOT_WORDS)

    def _go_on(self) -> None:
        fields = [self.query_one(f"#f-{each.id}") for each in self._fields]
        here = fields.index(self.focused) if self.focused in fields else -1
        if here + 1 < len(fields):
            fields[here + 1].focus()
        else:
            self.action_store()

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Do what a button says."""
        if event.button.id == "store":
            self.action_store()
        else:
            self.action_leave()

    def action_store(self) -> None:
        """Read the fields and store them, or say which one cannot be read.

        A text with a line end that was pasted into a list would open the sheet and store it.
        """
        if not self._is_read():
            self.complain(NOT_SEEN)
            return
        if isinstance(self.focused, Cycle) and self.focused.forget_words():
            self.complain(WORDS_NOWHERE)
            return
        try:
            values = {each.id: self._read(each) for each in self._fields}
            wrong = self._checks.before(values) if self._checks.before else ""
            if wrong:
                raise InputError(wrong)
        except InputError as error:
            self.complain(str(error))
            self._fleeting = True
            return
        self.complain("")
        given = {**values, SURE: values == self._doubted, VERSION: self._version}

        def refused(error: RecallError) -> None:
            self._not_stored(error, values)

        self.write(lambda desk: self._store(desk, given), self._stored, refused)

    def _stored(self, came_to: Any) -> None:
        self.dismiss(came_to)

    def _not_stored(self, error: RecallError, values: Values) -> None:
        """Say why, and go to the field that is to be typed anew, where it is known."""
        name = self._checks.blame(error, values) if self._checks.blame else ""
        if name:
            self._go_to(name)
        if isinstance(error, Doubt):
            self._doubted = values
            self.complain(self._say_doubt(f"{error}", name, values))
            self._fleeting = True
        elif isinstance(error, Conflict) and error.version is not None:
            self._version = error.version
            again = "What you typed is still here: Ctrl+S once more stores it all the same."
            self.complain(f"{error.message} {again}")
        else:
            self.complain(f"{error} What you typed is still here.")

    def _go_to(self, name: str) -> None:
        """Go to the field to be typed anew; what is typed takes the place of a time."""
        field = self.query_one(f"#f-{name}")
        field.focus(scroll_visible=False)
        if isinstance(field, Input) and self._kind(name) == "when":
            field.action_select_all()

    def _kind(self, name: str) -> Kind | None:
        return next((each.kind for each in self._fields if each.id == name), None)

    def _say_doubt(self, words: str, name: str, values: Values) -> str:
        """Return what is doubted, unless that stands on the sheet, and how to go on."""
        said = self._told_now and words.removesuffix(".") in self._told_now
        more = "."
        if name and self._kind(name) == "when":
            self._days[name] = values[name].date()
            more = f"; a time alone is on {say_day(self._days[name], weekday=True)}."
        return f"{'See above.' if said else words} Ctrl+S once more stores it as it is{more}"

    def _read(self, each: Field) -> Any:
        """Return what a field holds.

        Raises:
            InputError: it cannot be read, or is needed and empty.
        """
        try:
            return self._value(each)
        except InputError:
            self.query_one(f"#f-{each.id}").focus()
            raise

    def _value(self, each: Field) -> Any:
        if each.kind == "choice":
            return self.query_one(f"#f-{each.id}", Cycle).value
        text = self.query_one(f"#f-{each.id}", Input).value.strip()
        if not text:
            if each.needed:
                raise InputError(f"Nothing is written yet under “{plain(each.label)}”.")
            return "" if each.kind in ("text", *NAMES) else None
        each = replace(each, offered=self._days.get(each.id, each.offered))
        return _read(each, text, self.app.today)


def _read(each: Field, text: str, today: date | None) -> Any:
    """Return what the text of a field says."""
    if each.kind in ("day", "past_day") and today:
        return read_day(text, today, past=each.kind == "past_day")
    if each.kind == "when" and today:
        return read_when(text, today, each.offered)
    if each.kind == "call_at" and today:
        return read_call_at(text, today)
    if each.kind == "time":
        return read_time(text)
    if each.kind == "number":
        return _number(text)
    return text


def _label(each: Field) -> Content:
    return Content("  ").join([literal(each.label), literal(each.hint, "$desk-quiet")])


def _number(text: str) -> int:
    if not text.isdecimal():
        raise InputError(f"“{text}” is no whole number.", hint="Use digits only.")
    return int(text)
