"""The rows of the table for the day's appointments."""

from __future__ import annotations

from tui.commands.kinds import Command

DAY: tuple[Command, ...] = (
    Command("day.came", "1", "Came", "They came.", 1, writes="marked"),
    Command(
        "day.missed",
        "2",
        "Did not come",
        "They did not come; a child is then not brought.",
        2,
        writes="marked",
    ),
    Command(
        "day.not_brought",
        "3",
        "Not brought",
        "Whoever was to bring them did not.",
        3,
        writes="marked",
    ),
    Command("day.move", "m", "Move", "Move the appointment: when, with whom, how long.", 4),
    Command("day.call_off", "x", "Call off", "Call the appointment off.", 5),
    Command("day.wish", "e", "Earlier", "They would come earlier if a time falls free."),
    Command("day.offer", "f", "Offer", "Whom to ring about a time that was called off."),
    Command("day.free", "w", "When free", "Every time that is free on the day, as far as told."),
    Command("day.undo", "u", "Undo", "Take back the last thing you did here.", 6, writes="any"),
    Command("day.diary", "n", "Diary", "Say how many the practice's own diary has.", writes="any"),
    Command("day.print", "p", "Print", "Make a PDF of the day's list.", writes="any"),
    Command(
        "day.reminders",
        "r",
        "Reminders",
        "Write the file for whatever sends reminders.",
        writes="any",
    ),
    Command("day.open", "enter", "Whole story", "Everything on the one in hand."),
    Command("day.earlier_day", "left", "Day before", "Look at the day before."),
    Command("day.later_day", "right", "Next day", "Look at the next day."),
    Command("day.today", "t", "Today", "Look at today."),
    Command("day.other_day", "d", "Day", "Go to any day."),
    Command("day.next", "down,j", "Next", "Take the next one in hand."),
    Command("day.previous", "up", "Previous", "Take the one before in hand."),
    Command("day.page_down", "pagedown", "Page down", "Go one page down."),
    Command("day.page_up", "pageup", "Page up", "Go one page up."),
    Command("day.first", "home", "First", "Go to the first."),
    Command("day.last", "end", "Last", "Go to the last."),
    Command("day.again", "comma", "Look again", "Read the day again; who is in hand stays."),
)
