"""The keys of the visit form that keep their turn among the digits, however fast they are typed.

A digit goes from the ears to the screen. A key that moves the mark, or opens a sheet, has to go
the same way: a shorter one would let it overtake the digits typed before it, and these would be
written into another finding, or into the other ear.
"""

from __future__ import annotations

from tui.commands.table import commands_of

OPENS = (
    *("both_clear", "one_clear", "clear_except", "said", "note", "category", "dates"),
    *("strike", "raise_line", "lower_line", "earlier", "close"),
)
"""Commands after whose key the next ones are meant for a sheet."""
MOVES = (
    *("down", "up", "right_ear", "left_ear", "other_ear", "first", "last"),
    *("type", "same", "blank", "undo"),
)
"""Commands that move the mark, or are about what is marked or was typed last."""


def orders() -> dict[str, str]:
    """Return the keys that keep their turn, each with its action, from the table of commands."""
    commands = {c.id.partition(".")[2]: c for c in commands_of("visit")}
    named = (commands[name] for name in (*OPENS, *MOVES))
    return {key: c.action for c in named for key in c.keys.split(",")}


def jump_key() -> str:
    """Return the key of the jump, from the table of commands."""
    return next(c.keys for c in commands_of("visit") if c.id == "visit.jump")
