"""The rows of the table for looking through what history asked for."""

from __future__ import annotations

from tui.commands.kinds import Command

CHANGEOVER: tuple[Command, ...] = (
    Command(
        "changeover.still_open",
        "s",
        "Still open",
        "It is still open: it begins anew today and enters its steps.",
        1,
        writes="marked",
    ),
    Command("changeover.done", "d", "Was done", "It was done: where, and when.", 2),
    Command(
        "changeover.not_needed", "n", "Not needed", "Strike it out, for a reason of the list.", 3
    ),
    Command("changeover.under_care", "c", "Under care", "Somebody else follows it: who.", 4),
    Command("changeover.confirm", "f", "Confirm", "Confirm the plan of the marked person.", 5),
    Command("changeover.kinds", "k", "Kinds", "Show everything that is alike, as one group.", 6),
    Command(
        "changeover.pick", "space", "Pick", "Pick the marked line, for one answer about several.", 7
    ),
    Command("changeover.pick_all", "asterisk", "Pick all", "Pick every line shown, or none.", 8),
    Command("changeover.more", "plus", "More", "Show one more portion than today's."),
    Command("changeover.undo", "u", "Undo", "Take back the last answer.", writes="any"),
    Command("changeover.open", "enter", "Whole story", "Everything on the marked person."),
    Command("changeover.next", "down", "Next", "Mark the next line."),
    Command("changeover.previous", "up", "Previous", "Mark the line before."),
    Command("changeover.page_down", "pagedown", "Page down", "Go one page down."),
    Command("changeover.page_up", "pageup", "Page up", "Go one page up."),
    Command("changeover.first", "home", "First", "Go to the first line."),
    Command("changeover.last", "end", "Last", "Go to the last line."),
    Command("changeover.again", "comma", "Look again", "Read the list again."),
)
