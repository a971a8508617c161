"""The lines at the edges of every screen: headline, notice, and the keys at the foot."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.style import Style
from textual.widgets import Static

from recall.desk.oversight.alarm import Alarm
from tui.commands.kinds import Command
from tui.widgets.words import Words
from tui.words.text import cut, literal, plain


class Headline(Static):
    """Where one is, which day it is, how much is left, and who acts."""

    def show(self, title: str, day: str, right: Sequence[str]) -> None:
        """Show the three parts; the right one gives way last."""
        self._parts = (title, day, right)
        self._draw()

    def on_resize(self) -> None:
        """Lay the parts out again."""
        self._draw()

    _parts: tuple[str, str, Sequence[str]] = ("", "", ())

    def _draw(self) -> None:
        title, day, right = self._parts
        left = Content.assemble((f" {plain(title)} ", "bold"), (f" {day} ", "$desk-band-quiet"))
        end = Content(" · ".join(plain(part) for part in right if part) + " ")
        room = self.size.width - left.cell_length - end.cell_length
        # One line, whatever it says: laying the screen out anew would cost more than all.
        self.update(left + Content(" " * max(1, room)) + end, layout=False)


class Notice(Static):
    """What concerns everybody at this desk, in one line; empty, it takes no room.

    What went wrong is shown whole, whatever room it takes.
    """

    _words: tuple[str, ...] = ()

    def show(self, words: Sequence[str], *, alarm: bool = False, whole: bool = False) -> None:
        """Show the first sentence and how many more there are, or all of them."""
        self._words = tuple(words)
        self.set_class(bool(words), "-said")
        self.set_class(alarm, "-alarm")
        self._whole = whole or alarm
        self._draw()

    _whole = False

    def on_resize(self) -> None:
        """Fit the new width."""
        self._draw()

    def _draw(self) -> None:
        if not self._words:
            self.update("")
            return
        if self._whole:
            self.update(Content("\n").join([self._line(each) for each in self._words]))
            return
        more = len(self._words) - 1
        end = f" And {more} more: F2." if more else ""
        first = cut(self._words[0], max(10, self.size.width - len(end) - 2)).rstrip()
        style = "bold $desk-alarm" if isinstance(self._words[0], Alarm) else ""
        self.update(literal(f"! {first}{end}", style))

    def _line(self, words: str) -> Content:
        return literal(f"! {words}", "bold $desk-alarm" if isinstance(words, Alarm) else "")


ALWAYS = (
    ("Ctrl+P", "Search", "app.command_palette"),
    ("?", "Help", "app.explain"),
    ("Esc", "Back", "app.step_back"),
)
"""The keys at the end of every line of keys: what is to be done is found by its name."""


class KeysLine(Words):
    """The keys that matter here, each with a word; a click does the same."""

    def __init__(self, commands: Sequence[Command] = ()) -> None:
        """Show these commands, and always how to get help and back."""
        super().__init__()
        self._commands = tuple(commands)

    def on_mount(self) -> None:
        """Draw once there is a width."""
        self._draw()

    def on_resize(self) -> None:
        """Leave out what does not fit."""
        self._draw()

    def show(self, commands: Sequence[Command]) -> None:
        """Show other keys."""
        self._commands = tuple(commands)
        self._draw()

    def _draw(self) -> None:
        end = Content("").join(_key(*each) for each in ALWAYS)
        room = self.size.width - end.cell_length
        line = Content(" ")
        for command in self._commands:
            part = _key(command.key, command.words, command.action)
            if line.cell_length + part.cell_length > room:
                break
            line += part
        self.update(line + Content(" " * max(0, room - line.cell_length)) + end)


def _key(key: str, words: str, action: str) -> Content:
    """Return a key with its word, both clickable."""
    click = Style.from_meta({"@click": action})
    return Content.assemble(
        (f"{key}", "bold $desk-key"), (f" {words}", "$desk-ink"), ("  ", "")
    ).stylize(click)
