"""The rows of the table for what somebody has to see to that is no recall."""

from __future__ import annotations

from tui.commands.kinds import Command

MATTERS: tuple[Command, ...] = (
    Command("matters.open", "enter", "Whole story", "Everything on the person it is about.", 1),
    Command("matters.close", "d", "Close", "Close the marked matter, by one of its closes.", 2),
    Command("matters.pass_on", "p", "Pass on", "Give the marked matter to somebody else.", 3),
    Command("matters.new", "n", "New", "Write down what is about nobody in the register.", 4),
    Command("matters.everybody", "a", "Everybody's", "Show everybody's, or your own again.", 5),
    Command("matters.next", "down", "Next", "Mark the next one."),
    Command("matters.previous", "up", "Previous", "Mark the one before."),
    Command("matters.page_down", "pagedown", "Page down", "Go one page down."),
    Command("matters.page_up", "pageup", "Page up", "Go one page up."),
    Command("matters.first", "home", "First", "Go to the first one."),
    Command("matters.last", "end", "Last", "Go to the last one."),
    Command("matters.again", "r", "Look again", "Read the list again; the marked one stays."),
)
