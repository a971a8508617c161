"""What a command of the desk is, and what an area is; the rows are in `tui.commands`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

EVERYWHERE = "everywhere"
SIGNS = {
    "escape": "Esc",
    "enter": "Enter",
    "space": "Space",
    "question_mark": "?",
    "slash": "/",
    "full_stop": ".",
    "comma": ",",
    "plus": "+",
    "minus": "-",
    "asterisk": "*",
    "equals_sign": "=",
    "pageup": "PgUp",
    "pagedown": "PgDn",
    "left": "Left",
    "right": "Right",
    "up": "Up",
    "down": "Down",
    "home": "Home",
    "end": "End",
    "tab": "Tab",
    "insert": "Ins",
    "ctrl+p": "Ctrl+P",
    "ctrl+q": "Ctrl+Q",
    "ctrl+s": "Ctrl+S",
}
"""How keys are written for people, where not as they are."""


def shown(key: str) -> str:
    """Return a key as people read it.

    >>> shown("question_mark"), shown("f4"), shown("b")
    ('?', 'F4', 'b')
    """
    return SIGNS.get(key) or (key.upper() if len(key) > 1 and key[0] == "f" else key)


Writes = Literal["", "marked", "any"]
"""Whether a key writes at once, without a sheet, and whether about what is marked."""


@dataclass(frozen=True)
class Command:
    """One thing that a key does."""

    id: str
    """`where.what`; the action is the screen's `action_what`, or `runs` where given."""
    keys: str
    """One key, or several with commas between; the first is the one shown."""
    words: str
    """Two or three words, for the foot and the palette."""
    says: str
    """One sentence, for the help."""
    foot: int = 0
    """Place in the line of keys at the foot; 0 keeps it out of the line."""
    runs: str = ""
    writes: Writes = ""
    """Whether its key writes at once, without a sheet, and whether about what is marked."""

    @property
    def where(self) -> str:
        """Return the screen that the command belongs to."""
        return self.id.partition(".")[0]

    @property
    def action(self) -> str:
        """Return the action as a binding names it."""
        if self.runs:
            return self.runs
        what = self.id.partition(".")[2]
        return f"app.{what}" if self.where == EVERYWHERE else f"screen.{what}"

    @property
    def key(self) -> str:
        """Return the first key as people read it."""
        return shown(self.keys.partition(",")[0])

    @property
    def all_keys(self) -> str:
        """Return all keys as people read them."""
        return " or ".join(shown(key) for key in self.keys.split(","))


@dataclass(frozen=True)
class Area:
    """One of the places that the desk consists of, and where its screen is."""

    id: str
    keys: str
    words: str
    says: str
    screen: str
    """Module and class, imported when somebody first goes there."""
