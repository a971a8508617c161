"""The lines at the edges of every screen: headline, notice, and the keys at the foot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate

from textual.content import Content
from textual.style import Style
from textual.widgets import Static

from recall.desk.oversight.alarm import Alarm
from tui.commands.kinds import Command
from tui.widgets.words import Words
from tui.words.text import cut, literal, plain, wrapped


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


ROOM, MOST, BELOW = 5, 12, 21
"""Lines that notices may take on Today, at most on a tall screen, and those that what stands
under them wants."""


class Notice(Static):
    """What concerns everybody at this desk, in one line; empty, it takes no room.

    What went wrong is shown whole, whatever room it takes. On Today as many sentences are shown
    as there is room for; the rest are counted, and a key shows them all.
    """

    _words: tuple[str, ...] = ()
    _whole = False
    _key = ""

    def show(self, words: Sequence[str], *, alarm: bool = False, key: str = "") -> None:
        """Show the first sentence and how many more there are, or all of them.

        Args:
            words: the sentences, what presses most first.
            alarm: whether they say what went wrong, which is shown whole.
            key: the key that shows all of them, where as many are shown as there is room for.
        """
        self._words, self._whole, self._key = tuple(words), alarm, key
        self.set_class(bool(words), "-said")
        self.set_class(alarm, "-alarm")
        self._draw()

    def on_resize(self) -> None:
        """Fit the new width."""
        self._draw()

    def _draw(self) -> None:
        if not self._words:
            self.update("")
        elif self._whole:
            self.update(Content("\n").join(map(_said, self._words, self._words)))
        elif self._key:
            self.update(Content("\n").join(self._as_there_is_room()))
        else:
            self.update(self._in_one_line(f" And {len(self._words) - 1} more: F2."))

    def _in_one_line(self, end: str) -> Content:
        end = end if len(self._words) > 1 else ""
        first = cut(self._words[0], max(10, self.size.width - len(end) - 2)).rstrip()
        return _said(self._words[0], f"{first}{end}")

    def _as_there_is_room(self) -> Iterator[Content]:
        """Give the sentences that fit whole, the first in any case, and how many there are more."""
        # Before it is laid out it takes the screen's width: a line too many would make a bar.
        width = max(20, (self.size.width or self.app.size.width - 2) - 2)
        room = min(MOST, max(ROOM, self.app.size.height - BELOW))
        told = [wrapped(words, width) for words in self._words]
        ends = list(accumulate(map(len, told)))
        fit = len(told) if ends[-1] <= room else max(1, sum(end < room for end in ends))
        for words, lines in zip(self._words[:fit], told, strict=False):
            yield _said(words, lines[0])
            yield from (_said(words, line, "  ") for line in lines[1:])
        if more := len(told) - fit:
            yield literal(f"! And {more} more: {self._key} shows all.", "bold")


def _said(words: str, shown: str, sign: str = "! ") -> Content:
    style = "bold $desk-alarm" if isinstance(words, Alarm) else ""
    return Content.styled(sign, style) + literal(shown, style)


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
