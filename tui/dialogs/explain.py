"""The help of a screen: what one sees, and every key, made from the table of commands."""

from __future__ import annotations

from typing import Any

from textual.content import Content
from textual.screen import Screen

from tui.commands.kinds import EVERYWHERE, Command
from tui.commands.table import TITLES, commands_of
from tui.dialogs.told import Told
from tui.words.text import cut


def explanation(screen: Screen[Any]) -> Told:
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
    return Told(f"Help: {TITLES.get(where, 'the desk')}", text)


def _row(command: Command) -> Content:
    return Content.assemble((cut(command.all_keys, 11), "bold $desk-key"), f"{command.says}\n")
