"""The help of a screen: what one sees, every key, and at a second F1 the manual's page."""

from __future__ import annotations

from typing import Any, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from recall import manual
from recall.manual.plain import is_rule, plain
from tui.commands.kinds import EVERYWHERE, Command
from tui.commands.table import TITLES, commands_of
from tui.dialogs.text_sheet import TextSheet
from tui.words.text import cut, literal

MANUAL: dict[str, tuple[str, str]] = {
    "start": ("reception", "Today"),
    "queue": ("reception", "The calls"),
    "find": ("reception", "Somebody rings or walks in"),
    "person": ("reception", "Somebody rings or walks in"),
    "visit": ("practitioner", "Close the visit while the person is there"),
    "course": ("practitioner", "The ears over the years"),
    "manager": ("manager", "Manager"),
    "post": ("post", "The post"),
    "day": ("reception", "Who comes, and who came"),
    "changeover": ("bringing-a-practice-in", "8. The changeover: history is not today's work"),
    "matters": ("reception", "What somebody has to see to"),
}
"""The page of the manual for each screen, and the heading at which it opens."""
_WIDTH = 66
"""What fits on a sheet beside the bar by which it scrolls."""


class Help(TextSheet):
    """The help of a screen; F1 turns to the manual."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,space,question_mark", "screen.leave", "Put away", show=False),
        Binding("f1", "screen.manual", "Manual", show=False),
    ]
    HINT: ClassVar[str] = "Esc puts this away; Up and Down scroll; F1 again: the manual."

    def __init__(self, title: str, text: Content, where: str) -> None:
        """Show a text under a title, and keep the manual's page of a screen at hand."""
        super().__init__(title, text)
        self._page: tuple[str, str] | None = MANUAL.get(where, ("reception", "Reception"))

    def action_manual(self) -> None:
        """Show the manual's page; where it is shown already, put the sheet away."""
        if self._page is None:
            self.action_leave()
            return
        (name, heading), self._page = self._page, None
        lines = plain(manual.page(name), _WIDTH, pictures=False)
        at = lines.index(heading)
        self.query_one(".title", Static).update(literal(f"Manual: {manual.title(name)}"))
        self._hint = TextSheet.HINT
        self._say_more()
        scroll = self.query_one(VerticalScroll)
        scroll.query_one(Static).update(_drawn(lines))
        self.call_after_refresh(scroll.scroll_to, y=at, animate=False)


def explanation(screen: Screen[Any]) -> Help:
    """Return a sheet that explains a screen."""
    where = getattr(screen, "WHERE", "")
    told = getattr(screen, "explained", lambda: "")()
    whole = "\n\n".join(" ".join(part.split()) for part in told.split("\n\n"))
    text = Content(f"{whole}\n\n") if told else Content("")
    for heading, commands in (
        ("Keys here", commands_of(where)),
        ("Keys everywhere", commands_of(EVERYWHERE)),
    ):
        if commands:
            text += Content.assemble((f"{heading}\n", "bold $desk-lead"))
            text += Content("").join([_row(command) for command in commands])
            text += Content("\n")
    return Help(f"Help: {TITLES.get(where, 'the desk')}", text, where)


def _row(command: Command) -> Content:
    return Content.assemble((cut(command.all_keys, 11), "bold $desk-key"), f"{command.says}\n")


def _drawn(lines: list[str]) -> Content:
    """Return a page with its headings in the colour of headings; no line moves."""
    drawn = []
    for line, after in zip(lines, [*lines[1:], ""], strict=True):
        style = "bold $desk-lead" if is_rule(after) else "$desk-rule" if is_rule(line) else ""
        drawn.append(Content.assemble((line, style)))
    return Content("\n").join(drawn)
