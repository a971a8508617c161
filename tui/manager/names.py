"""The manager's lists by name and key, in the order in which they are shown."""

from __future__ import annotations

from textual.content import Content
from textual.style import Style

from tui.manager import accounts
from tui.manager.charts import DRAWN
from tui.manager.lists import LISTS
from tui.manager.second_look import SECOND_LOOK

ALL_LISTS = (*LISTS, *SECOND_LOOK)
KEYS = {
    "overdue": "1",
    "lost": "2",
    "referrals": "3",
    "failsafe": "4",
    "proposals": "5",
    "ahead": "6",
    "returns": "7",
    "jobs": "8",
    "rules": "9",
    "milder": "0",
    "loosened": "v",
    "clinician": "i",
    "accounts": "f",
}
VIEWS = tuple(KEYS)
"""In the order in which they are shown."""
TITLES = {each.id: each.title for each in ALL_LISTS} | {each.id: each.title for each in DRAWN}
TITLES[accounts.ID] = "Accounts"


def names(shown: str, width: int) -> Content:
    """Return the names of the lists with their keys, on as many lines as they need."""
    parts = []
    for view, key in KEYS.items():
        click = Style.from_meta({"@click": f"screen.show('{view}')"})
        style = "bold reverse" if view == shown else ""
        part = Content.assemble((f" {key}", "bold $desk-key"), " ", (TITLES[view], style))
        parts.append(part.stylize(click))
    in_one = sum(part.cell_length for part in parts) < width
    half = len(parts) if in_one else len(parts) // 2 + 1
    rows = [Content("").join(part) for part in (parts[:half], parts[half:]) if part]
    return Content("\n").join(rows)
