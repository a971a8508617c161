"""Every key of the desk, in one table.

Bindings, the palette, the line of keys at the foot, the help of each screen and the key table
of the manual are all made from `COMMANDS`. Keys stay in the set that reaches a program on
every terminal: letters, digits, a few signs, F1 to F10, arrows, space, enter, escape. An id is
public and never changes: other places name a command by it.
"""

from __future__ import annotations

from textual.binding import Binding, BindingType

from tui.commands.changeover import CHANGEOVER
from tui.commands.clinic import CLINIC_AREAS, CLINIC_COMMANDS, CLINIC_TITLES
from tui.commands.day import DAY
from tui.commands.kinds import EVERYWHERE, Area, Command
from tui.commands.matters import MATTERS
from tui.commands.outcomes import OUTCOME_COMMANDS

AREAS: tuple[Area, ...] = (
    Area(
        "start",
        "f2",
        "Today",
        "How much there is today, and what needs attention.",
        "tui.screens.start:StartScreen",
    ),
    Area(
        "queue",
        "f3",
        "Calls",
        "The people to reach today, one of them in hand.",
        "tui.screens.queue:QueueScreen",
    ),
    Area(
        "find",
        "f4,slash",
        "Find",
        "Find anybody by whatever they say about themselves.",
        "tui.screens.find:FindScreen",
    ),
    Area(
        "day",
        "f5",
        "The day",
        "Who comes today or on another day, and who came.",
        "tui.screens.appointments:AppointmentsScreen",
    ),
    *CLINIC_AREAS,
)
"""The areas in the order of their keys; each keeps its place while one looks elsewhere."""

_EVERYWHERE = (
    Command("everywhere.explain", "question_mark,f1", "Help", "Explain this screen and its keys."),
    Command(
        "everywhere.back",
        "escape",
        "Back",
        "Go back one step, at last to Today.",
        runs="app.step_back",
    ),
    *(
        Command(f"everywhere.{a.id}", a.keys, a.words, a.says, 0, f"app.go('{a.id}')")
        for a in AREAS
    ),
    Command("everywhere.act_as", "f9", "Who acts", "Say who is at this desk now."),
    Command("everywhere.look", "f10", "Colours", "Take the next set of colours."),
    Command("everywhere.command_palette", "ctrl+p", "Commands", "Look for a command by name."),
    Command("everywhere.leave", "ctrl+q", "Leave", "Leave the desk."),
)

_START = (
    Command("start.first", "enter,1", "Begin", "Do what the first line of this screen says.", 1),
    Command("start.second", "2", "Second choice", "Do what the second line says."),
    Command("start.third", "3", "Third choice", "Do what the third line says."),
    Command("start.new_person", "n", "Somebody new", "Write down somebody new, in one sheet.", 3),
    Command("start.again", "r", "Look again", "Read the register again.", 2),
    Command("start.said", "a", "All notices", "Read all that is said at the top, whole."),
)

_QUEUE = (
    *OUTCOME_COMMANDS,
    Command("queue.book", "b", "Book", "Book an appointment for the person in hand.", 2),
    Command("queue.note", "n", "Note", "Write something down about the person in hand.", 3),
    Command(
        "queue.skip", "s", "Skip", "Leave the person for today or until a day, and say why.", 4
    ),
    Command(
        "queue.undo",
        "u",
        "Undo",
        "Take back the last thing you did here, also after moving on.",
        5,
        writes="any",
    ),
    Command("queue.done", "g", "Step done", "Record a step that is no call, such as a check."),
    Command(
        "queue.take",
        "c",
        "Claim",
        "Claim the person in hand, or let go; or take them from a lost desk under your name.",
        6,
        writes="marked",
    ),
    Command(
        "queue.via", "v", "By…", "Say how you are trying: phone, text, e-mail, letter, in person."
    ),
    Command(
        "queue.words",
        "y",
        "Words",
        "The words for the call: who you are, whom you ask for, what to say, on a machine.",
    ),
    Command(
        "queue.pass_on",
        "p",
        "Pass on",
        "An interpreter, a complaint, an incident, a message: to whoever sees to it.",
    ),
    Command("queue.number", "right", "Next number", "Take the next number of the person in hand."),
    Command("queue.open", "enter", "Whole story", "Everything on the person in hand.", 7),
    Command("queue.next", "down,j", "Next", "Take the next person in hand."),
    Command("queue.previous", "up", "Previous", "Take the person before in hand."),
    Command("queue.page_down", "pagedown", "Page down", "Go one page down the list."),
    Command("queue.page_up", "pageup", "Page up", "Go one page up the list."),
    Command("queue.first", "home", "First", "Go to the first of the list."),
    Command("queue.last", "end", "Last", "Go to the last of the list."),
    Command(
        "queue.more",
        "full_stop",
        "All outcomes",
        "Show every outcome with its key, or the person again.",
    ),
    Command("queue.again", "r", "Look again", "Read the list again; the person in hand stays."),
)

_FIND = (
    Command("find.open", "enter", "Open", "Open the person that is marked.", 1),
    Command(
        "find.new_person", "insert", "Somebody new", "Write down somebody new, in one sheet.", 4
    ),
    Command("find.next", "down", "Next", "Mark the next person.", 2),
    Command("find.previous", "up", "Previous", "Mark the person before.", 3),
)

_PERSON = (
    Command("person.book", "b", "Book", "Book, move or call off an appointment.", 1),
    Command(
        "person.told",
        "l",
        "They rang",
        "Record what came of their call, letter or coming in, or of a call of yours.",
        2,
    ),
    Command("person.visit", "v", "New visit", "Begin a visit, or judge open lines without one.", 3),
    Command("person.course", "e", "Course", "The course of both ears over the years.", 4),
    Command(
        "person.contact_points",
        "c",
        "Contact details",
        "Change numbers and addresses, and what is safe.",
        5,
    ),
    Command("person.needs", "n", "Needs", "Change language, format and what helps the person.", 6),
    Command("person.risks", "r", "Risks", "Change what makes the ears of this person a risk.", 7),
    Command(
        "person.adults",
        "a",
        "Adults",
        "Change who is responsible for the person, or cares for them.",
        8,
    ),
    Command(
        "person.pass_on",
        "p",
        "Pass on",
        "An interpreter, a complaint, an incident, a message: to whoever sees to it.",
    ),
    Command("person.undo", "u", "Undo", "Take back the last thing you did."),
    Command(
        "person.correct", "w", "Put right", "Put a name, the birth date or the NHS number right."
    ),
    Command("person.objects", "o", "Objection", "Record that the person asks not to be contacted."),
    Command("person.died", "x", "Has died", "Record a death; asks for the name to be typed."),
    *(
        Command(f"person.section_{n}", f"{n}", name, f"{says}.", runs=f"screen.section({n - 1})")
        for n, name, says in (
            (1, "Open", "What is open, and what to know before treating the ears"),
            (2, "Ears", "Both ears side by side, visit by visit"),
            (3, "Reach", "How to reach the person, who answers for them, needs and risks"),
            (4, "Tried", "Contacts and letters"),
            (5, "Notes", "What was written down"),
        )
    ),
    Command("person.up", "up", "Up", "Scroll up."),
    Command("person.down", "down", "Down", "Scroll down."),
    Command("person.page_up", "pageup", "Page up", "Scroll a page up."),
    Command("person.page_down", "pagedown,space", "Page down", "Scroll a page down."),
    Command("person.again", "comma", "Look again", "Read the person again."),
)

COMMANDS: tuple[Command, ...] = (
    *_EVERYWHERE,
    *_START,
    *_QUEUE,
    *_FIND,
    *_PERSON,
    *DAY,
    *CLINIC_COMMANDS,
    *MATTERS,
    *CHANGEOVER,
)
"""All commands; further screens add their rows here."""

NARROW = Command(
    "everywhere.sites",
    "",
    "Sites",
    "Show the lists of one site alone, or of all yours again.",
)
"""Found by its name alone, and only where the practice has several sites."""


def commands_of(where: str) -> tuple[Command, ...]:
    """Return the commands of one screen, in the order of the table."""
    return tuple(command for command in COMMANDS if command.where == where)


def bindings(where: str) -> list[BindingType]:
    """Return the bindings of one screen, or of the whole desk for `everywhere`."""
    return [
        Binding(c.keys, c.action, c.words, show=False, tooltip=c.says, id=c.id)
        for c in commands_of(where)
    ]


def foot(where: str) -> tuple[Command, ...]:
    """Return the commands for the line of keys, in their order."""
    return tuple(sorted((c for c in commands_of(where) if c.foot), key=lambda c: c.foot))


TITLES = {
    EVERYWHERE: "everywhere",
    "start": "Today",
    "queue": "Calls",
    "find": "Find",
    "person": "One person",
    "matters": "To see to",
    "changeover": "History",
    "day": "Appointments",
    **CLINIC_TITLES,
}
"""What each screen is called."""
