"""What the person said: a list on which everything that was said is ticked, on one sheet.

A word stands on a line; where the ears were told apart it stands twice. What more is known of
it (which ear, since when, over how long, what explains it) is typed on a sheet of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, ClassVar, get_args

import msgspec
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from recall.care.case import Reported, ReportWord
from recall.care.ear import Side
from recall.errors import InputError
from tui.dialogs.base import DeskDialog
from tui.dialogs.form import Field, Form, Values
from tui.ears.text import read_onset, read_when, show_when
from tui.words.text import literal, plain

Report = ReportWord | Reported
WORDS: tuple[ReportWord, ...] = get_args(ReportWord)
BOTH = "both"
EARS = (("", "not said"), ("right", "right"), ("left", "left"), (BOTH, "both"))
BY_DIGIT: dict[str, Side | None] = {"1": "right", "2": "left", "3": None}
EXPLAINED = "loss_explained"
OF_AN_EAR: frozenset[ReportWord] = frozenset(
    {
        "sudden_hearing_loss",
        "facial_weakness",
        "facial_numbness",
        "pain",
        "night_pain",
        "severe_pain",
        "tinnitus_one_sided",
        "tinnitus_pulsatile",
        "bled",
        "bled_by_itself",
        "blocked_feeling",
        "barotrauma",
        "hurt_by_care",
        "own_injury",
    }
)
"""Complaints that are about an ear: which one is asked, or that it is both. Common practice."""
NOTED = "noted: only a test or better hearing ends it"
"""Of an explained loss: the evidence for that ear decides, not this word."""
WHICH = "which ear? 1 right, 2 left, 3 both"
_WIDE = 24


@dataclass(frozen=True)
class SaidLine:
    """One word of the list, and what was said; None where it was not."""

    word: ReportWord
    report: Report | None = None
    sided: bool = False
    """Whether it was said which ear it is about, or that it is both."""

    @property
    def needs_ear(self) -> bool:
        """Return whether it was ticked, is about an ear, and nobody said which."""
        asked = self.report is not None and self.word in OF_AN_EAR
        return asked and not self.sided and self.more.ear is None

    @property
    def more(self) -> Reported:
        """Return what is known of it beside the word."""
        return self.report if isinstance(self.report, Reported) else Reported(what=self.word)


def lines_of(reported: Sequence[Report]) -> tuple[SaidLine, ...]:
    """Return every word, ticked where it was said."""
    found: list[SaidLine] = []
    for word in WORDS:
        told = [each for each in reported if word_of(each) == word]
        found += [SaidLine(word, each, sided=True) for each in told] or [SaidLine(word)]
    return tuple(found)


def word_of(report: Report) -> ReportWord:
    """Return the word of something that was said."""
    return report.what if isinstance(report, Reported) else report


def ticked(lines: Sequence[SaidLine]) -> tuple[Report, ...]:
    """Return what was said."""
    return tuple(line.report for line in lines if line.report is not None)


def bare(report: Reported) -> Report:
    """Return the word alone, where nothing else is known."""
    return report.what if report == Reported(what=report.what) else report


def report_words(report: Report) -> str:
    """Return one thing that was said, in words: of which ear, since when."""
    more = more_words(report).replace(" ear", "", 1)
    return f"{word_of(report).replace('_', ' ')}{f' ({more})' if more else ''}"


def more_words(report: Report) -> str:
    """Return what is known of it beside the word."""
    if not isinstance(report, Reported):
        return ""
    told = [f"{report.ear} ear" if report.ear else ""]
    told += [f"since {show_when(report.since)}" if report.since else ""]
    if report.onset_days is not None:
        told += [f"came on over {report.onset_days} day{'' if report.onset_days == 1 else 's'}"]
    told += [f"because: {report.because}" if report.because else ""]
    return ", ".join(filter(None, told))


def line_text(line: SaidLine) -> Content:
    """Return a line of the list."""
    words = line.word.replace("_", " ")
    if line.report is None:
        return literal(f"  {words}")
    said = (f"✓ {words:<{_WIDE}} ", "bold")
    more = WHICH if line.needs_ear else plain(more_words(line.report))
    if line.word == EXPLAINED:
        more = f"{more}; {NOTED}" if more else NOTED
    return Content.assemble(said, (more, "$desk-alarm" if line.needs_ear else "$desk-quiet"))


def details(line: SaidLine, on: date) -> Form:
    """Return the sheet for what is known of something that was said."""
    known = line.more
    ear = known.ear or (BOTH if line.sided else "")
    over = "" if known.onset_days is None else str(known.onset_days)
    fields = [
        Field("ear", "Which ear", "choice", choices=EARS, value=ear),
        Field(
            "since",
            "Since",
            value=show_when(known.since) if known.since else "",
            hint="a day, a month as 2026-08, or 3d, 6w",
        ),
        Field("over", "Came on over", value=over, hint="so many days, or 6w, 3m, 2y"),
    ]
    if line.word == EXPLAINED:
        by = "A clinician explained it: by what"
        cause = Field("because", by, value=known.because or "", hint=NOTED)
        fields.append(cause)

    def store(_desk: object, values: Values) -> SaidLine:
        return SaidLine(line.word, _read(line.word, values, on), sided=bool(values["ear"]))

    return Form(line.word.replace("_", " ").capitalize(), fields, store, does="Write it")


def _read(word: ReportWord, values: Values, on: date) -> Report:
    given: dict[str, Any] = {
        "ear": values["ear"] if values["ear"] != BOTH else None,
        "because": values.get("because") or None,
        "onset_days": read_onset(values["over"]) if values["over"] else None,
        "since": read_when(values["since"], on) if values["since"] else None,
    }
    told = {name: value for name, value in given.items() if value not in (None, "")}
    try:
        return bare(msgspec.convert({"what": word, **told}, Reported))
    except msgspec.ValidationError:
        raise InputError("That cannot be written down so.", hint="Check the days.") from None


def _missing(line: SaidLine) -> str:
    """Say what a ticked line needs: an explained loss its cause, what is about an ear the ear."""
    if line.report is not None and line.word == EXPLAINED and not line.more.because:
        return "An explained loss needs its cause: Tab."
    if line.needs_ear:
        return f"{line.word.replace('_', ' ').capitalize()}: which ear? 1 right, 2 left, 3 both."
    return ""


class TickList(OptionList):
    """The lines; Enter takes them all, Space or a click ticks one."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "screen.done", "Take them", show=False),
        Binding("space", "select", "Tick", show=False),
    ]


class Said(DeskDialog[tuple[Report, ...]]):
    """Everything that can be said; gives what was ticked, or None where it was left."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("tab", "screen.details", "More", show=False),
        Binding("plus", "screen.again", "Once more", show=False),
        Binding("ctrl+s", "screen.done", "Take them", show=False),
        *(Binding(digit, f"screen.ear('{digit}')", show=False) for digit in BY_DIGIT),
        Binding("down,up", "app.nothing", show=False),
    ]

    def __init__(self, reported: Sequence[Report], on: date) -> None:
        """Show what was said so far.

        Args:
            reported: that.
            on: the day of the visit, from which a span is counted back.
        """
        super().__init__()
        self._before = self._lines = lines_of(reported)
        self._on, self._typed, self._warned = on, "", False
        self._moved = False
        """Whether a letter led anywhere yet: the first one may mean the line marked already."""

    def compose(self) -> ComposeResult:
        """Show the list, and below it what the keys do."""
        with Vertical(classes="sheet"):
            yield Static(literal("Said by the person, or whoever came along"), classes="title")
            yield TickList(*(Option(line_text(line)) for line in self._lines), id="ticks")
            keys = "Space ticks, 1 right, 2 left, 3 both. Letters lead to a word."
            yield Static(literal(keys), classes="hint")
            more = "Tab ear and since when, + once more (other ear). Enter takes them."
            yield Static(literal(more), classes="hint")
            yield Static("", classes="wrong")

    @property
    def _list(self) -> TickList:
        return self.query_one(TickList)

    @property
    def _at(self) -> int:
        return self._list.highlighted or 0

    def on_mount(self) -> None:
        """Put the cursor into the list, on the first line."""
        self._list.highlighted = 0
        self._list.focus()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Tick a line, or take the tick away."""
        line = self._lines[event.option_index]
        self._put(event.option_index, replace(line, report=None if line.report else line.word))

    def on_key(self, event: events.Key) -> None:
        """Go to the next line that begins with the letters typed."""
        if event.character is None or not event.character.isalpha():
            return
        event.stop()
        letter = event.character.lower()
        for typed in (self._typed + letter, letter):
            if (place := self._place_of(typed)) is not None:
                self._typed, self._moved = typed, True
                self._list.highlighted = place
                return

    def _place_of(self, typed: str) -> int | None:
        """Return the next line whose word begins so, or has a part that does."""
        begins = [n for n, line in enumerate(self._lines) if line.word.startswith(typed)]
        found = begins or [n for n, line in enumerate(self._lines) if f"_{typed}" in line.word]
        stays = len(typed) > 1 or not self._moved
        after = [n for n in found if n > self._at or (n == self._at and stays)]
        return next(iter((*after, *found)), None)

    def _put(self, place: int, line: SaidLine) -> None:
        self._typed = ""
        self.complain("")
        self._lines = (*self._lines[:place], line, *self._lines[place + 1 :])
        self._list.replace_option_prompt_at_index(place, line_text(line))

    def action_ear(self, digit: str) -> None:
        """Say which ear it is about; what is about an ear was said."""
        line = self._lines[self._at]
        told = msgspec.structs.replace(line.more, ear=BY_DIGIT[digit])
        self._put(self._at, replace(line, report=bare(told), sided=True))

    def action_details(self) -> None:
        """Ask for what more is known of the marked line."""
        place = self._at

        def told(line: SaidLine | None) -> None:
            if line is not None:
                self._put(place, line)

        self.app.push_screen(details(self._lines[place], self._on), told)

    def action_again(self) -> None:
        """Give the marked line once more, so that the ears are told apart."""
        place = self._at
        if self._lines[place].report is None:
            self.complain("Tick it first: then + gives it once more, for the other ear.")
            return
        again = SaidLine(self._lines[place].word)
        self._lines = (*self._lines[: place + 1], again, *self._lines[place + 1 :])
        self._list.clear_options()
        self._list.add_options([Option(line_text(line)) for line in self._lines])
        self._list.highlighted = place + 1

    def action_done(self) -> None:
        """Take what was ticked, once nothing that it needs is missing."""
        for place, line in enumerate(self._lines):
            if missing := _missing(line):
                self._list.highlighted = place
                self.complain(missing)
                return
        self.dismiss(ticked(self._lines))

    def action_leave(self) -> None:
        """Leave; where something was ticked, only at the second time."""
        if self._lines != self._before and not self._warned:
            self._warned = True
            self.complain("Esc once more throws away what you ticked.")
            return
        super().action_leave()
