"""Digits: one or more questions in a row, each answered by one digit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.style import Style
from textual.widgets import Static

from tui.dialogs.base import DeskDialog
from tui.words.text import literal, plain


@dataclass(frozen=True)
class Question:
    """One question with its answers; the first one has the digit `first`."""

    asks: str
    answers: Sequence[tuple[str, str]]
    """Each with its value and its words."""
    first: int = 0


Asked = Question | Callable[[Sequence[str]], Question]
"""A question, or what makes one of the answers before it."""


class Digits(DeskDialog[tuple[str, ...]]):
    """Questions that one digit each answers; gives all answers, or None where it was left."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("backspace", "screen.go_back", "Question before", show=False)
    ]

    def __init__(self, title: str, questions: Sequence[Asked]) -> None:
        """Ask some questions in a row."""
        super().__init__()
        self._title_words, self._questions = title, questions
        self._given: list[str] = []
        self._early: list[int] = []

    def compose(self) -> ComposeResult:
        """Show the question that is to be answered, under those that are."""
        with Vertical(classes="sheet"):
            yield Static(literal(self._title_words), classes="title")
            yield Static(id="asked")
            yield Static(literal("Esc leaves, Backspace goes back."), classes="hint")
            yield Static("", classes="wrong")

    def on_mount(self) -> None:
        """Ask the first, and take what was typed before the sheet was there."""
        self._draw()
        for digit in self._early:
            self.action_take(digit)

    def early(self, digit: int) -> None:
        """Take a digit that was typed while the sheet was opening."""
        if self.is_mounted:
            self.action_take(digit)
        else:
            self._early.append(digit)

    def on_key(self, event: events.Key) -> None:
        """Take an answer by its digit."""
        if event.key.isdecimal():
            event.stop()
            self.action_take(int(event.key))

    def action_take(self, digit: int) -> None:
        """Take an answer, and ask the next question."""
        if len(self._given) == len(self._questions):
            return
        question = self._question(len(self._given))
        place = digit - question.first
        if not 0 <= place < len(question.answers):
            last = question.first + len(question.answers) - 1
            self.complain(f"{digit} means nothing here: {question.first} to {last}.")
            return
        self.complain("")
        self._given.append(question.answers[place][0])
        if len(self._given) == len(self._questions):
            self.dismiss(tuple(self._given))
        else:
            self._draw()

    def _question(self, place: int) -> Question:
        asked = self._questions[place]
        return asked if isinstance(asked, Question) else asked(self._given[:place])

    def action_go_back(self) -> None:
        """Ask the question before again."""
        if self._given:
            self._given.pop()
            self._draw()

    def _draw(self) -> None:
        parts: list[Content] = []
        for n in range(min(len(self._given) + 1, len(self._questions))):
            question = self._question(n)
            parts.append(literal(question.asks, "bold"))
            for place, (value, words) in enumerate(question.answers):
                digit = place + question.first
                if n < len(self._given):
                    if value == self._given[n]:
                        parts.append(literal(f"  ✓ {words}", "$desk-good"))
                    continue
                row = Content.assemble((f"  {digit} ", "bold $desk-key"), plain(words))
                parts.append(row.stylize(Style.from_meta({"@click": f"screen.take({digit})"})))
        self.query_one("#asked", Static).update(Content("\n").join(parts))
