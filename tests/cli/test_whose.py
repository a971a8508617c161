"""Whose it was comes first, and a person's reference stands in the place of every number."""

from __future__ import annotations

import click
import pytest

from recall.cli.main import recall
from recall.cli.shared.numbers import Number
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.merging import RANK
from tests.cli.test_loop_commands import Typed
from tests.cli.test_loop_commands import typed as typed  # a fixture
from tests.cli.test_odd_references import ARGUMENTS, FIRST, ODD, STORED
from tests.desk.practice import FLUID, KERATIN, desk_at, rows, somebody, visit

DIED = ("person", "died", STORED, "--day", "today", "--name", "Rowan Thackwell")

WHO = ("Rowan Thackwell", "born")
BOOKED = ("book", STORED, "15/9 9.00")
NUMBERS = {
    "follow_up": "follow-up",
    "meant": "follow-ups",
    "booking_id": "appointment",
    "referral": "referral",
}
"""What commands call an argument that is a number, or a person in its place."""
GIVEN: dict[str, tuple[str, ...]] = {
    "book": ("15/9 10.30",),
    "booking attended": ("--on", "15/9"),
    "booking calendar": (),
    "booking call-off": ("person",),
    "booking earlier": ("mornings",),
    "booking missed": ("--on", "15/9"),
    "booking offer": (),
    "booking move": ("thu 9.30", "person"),
    "booking slip": (),
    "contact address": ("--how", "with the GP"),
    "contact give-back": (),
    "contact gp-told": ("--how", "by phone"),
    "contact hold": ("--until", "tomorrow", "--why", "at sea"),
    "contact looked": (),
    "contact log": ("no-answer",),
    "contact note": ("prefers mornings",),
    "contact take": (),
    "decide": ("--why", "moved house", "--show"),
    "letters spoken": (),
    "refer accepted": ("--appointment", "15/9"),
    "refer carry-on": ("--why", "sent again"),
    "refer chased": (),
    "refer close": ("entered_in_error", "--why", "another person"),
    "refer discharged": ("--why", "no answer"),
    "refer draft": (),
    "refer gp-acted": (),
    "refer letter": (),
    "refer missed-there": (),
    "refer not-there": ("--why", "stayed at home"),
    "refer rejected": ("--why", "no room"),
    "refer result": ("clear",),
    "refer seen": (),
    "refer sent": (),
    "refer spoke": ("Dr Quill",),
    "refer words": ("Please see him soon.",),
}
"""What each needs beside the number."""


BEFORE = {"decide": ("keep-trying",)}
"""What stands before the number."""
OWN_NUMBERS = {
    *("line back", "line seen", "matters close", "matters pass", "protocol answer", "undo"),
    *("person adult-ended", "person care-ended", "person reach-change", "person reach-ended"),
    *("person risk-ended",),
    *(f"letters {what}" for what in ("open", "posted", "preview", "print", "reprint")),
}
"""What takes a number and nothing else, reviewed by hand: a person may have many of it, or it is
nobody's."""


def prepared(typed: Typed, command: str) -> None:
    """Make what a command is about."""
    if command.startswith("booking"):
        assert typed(*BOOKED)[0] == 0
    if command == "booking offer":
        assert typed("booking", "call-off", STORED, "person")[0] == 0


def arguments(command: str) -> set[str | None]:
    return {each.name for each in taken(command)}


def taken(command: str) -> list[click.Argument]:
    """Return the arguments of a command."""
    found: click.Command = recall
    for word in command.split():
        assert isinstance(found, click.Group)
        held = found.get_command(click.Context(found), word)
        assert held is not None
        found = held
    return [each for each in found.params if isinstance(each, click.Argument)]


def every(group: click.Group, path: tuple[str, ...] = ()) -> list[str]:
    """Return the names of all commands that do something."""
    names: list[str] = []
    for word in group.list_commands(click.Context(group)):
        found = group.get_command(click.Context(group), word)
        if isinstance(found, click.Group):
            names += every(found, (*path, word))
        else:
            names.append(" ".join((*path, word)))
    return names


def a_child(store: Store) -> None:
    """Somebody with something open in one ear and a referral for the other."""
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk, STORED), right=FLUID, left=KERATIN)


def test_every_command_that_takes_such_a_number_is_tried_here() -> None:
    taking_one = {name for name in every(recall) if arguments(name) & NUMBERS.keys()}

    assert taking_one == {*GIVEN}


def test_no_other_command_takes_a_bare_number() -> None:
    """By the kind of the argument, whatever it is called."""
    bare = {n for n in every(recall) if any(isinstance(a.type, Number) for a in taken(n))}

    assert bare == OWN_NUMBERS


@pytest.mark.parametrize("command", GIVEN)
def test_a_reference_stands_for_the_number_and_whose_it_is_comes_first(
    typed: Typed, store: Store, command: str
) -> None:
    a_child(store)
    prepared(typed, command)
    given = GIVEN[command]
    on = {"on": "2026-09-15"} if "--on" in given else {}
    given = given[: given.index("--on")] if on else given

    status, out, err = typed(
        *command.split(), *BEFORE.get(command, ()), ODD, *given, by="clara", **on
    )

    if status == 0:
        first = (err if command in BESIDE else out).splitlines()[0]
        assert all(word in first for word in WHO), out
    assert "There is no" not in err
    assert "is not a valid" not in err


BESIDE = ("booking calendar", "booking slip", "refer draft")
"""What prints a document or data says whose it is beside it."""
REFUSED = ("refer gp-acted", "refer carry-on", "contact address", "contact gp-told")
"""What this child's step or stage does not allow; tried elsewhere."""


@pytest.mark.parametrize("command", [name for name in GIVEN if name not in REFUSED])
def test_what_this_child_allows_is_done(typed: Typed, store: Store, command: str) -> None:
    """So that the test above shows something for all but a few."""
    a_child(store)
    prepared(typed, command)
    given = GIVEN[command]
    on = {"on": "2026-09-15"} if "--on" in given else {}
    given = given[: given.index("--on")] if on else given

    status, _, err = typed(
        *command.split(), *BEFORE.get(command, ()), ODD, *given, by="clara", **on
    )

    assert status == 0, err


@pytest.mark.parametrize("command", ARGUMENTS)
def test_whatever_is_said_about_somebody_begins_with_whose_it_is(
    typed: Typed, store: Store, command: str
) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk, STORED), right=FLUID)
    before = {
        "person not-died": (
            "person",
            "died",
            STORED,
            "--day",
            "today",
            "--name",
            "Rowan Thackwell",
        ),
        "person contact-again": ("person", "objects", STORED),
        "person erase": DIED,
    }
    if command in before:
        assert typed(*before[command], by="clara")[0] == 0

    status, out, err = typed(
        *command.split(), *FIRST.get(command, ()), ODD, *ARGUMENTS[command], by="clara"
    )

    assert status == 0, err
    first = (err if command == "person sheet" else out).splitlines()[0]
    assert all(word in first for word in WHO), out


def test_the_most_pressing_is_meant_where_more_is_open(typed: Typed, store: Store) -> None:
    a_child(store)
    assert typed("contact", STORED, "no-answer", on="2026-11-20")[0] == 0
    (contact,) = rows(store, tables.Contact)
    pressing = {row["id"]: row["urgency"] for row in rows(store, tables.FollowUp)}
    assert len(set(pressing.values())) > 1
    assert pressing[contact["follow_up_id"]] == min(pressing.values(), key=lambda u: RANK[u])


def test_whoever_has_two_referrals_is_asked_which(typed: Typed, store: Store) -> None:
    a_child(store)
    asked = ("--ear", "right", "--urgency", "high", "--why", "asked")
    assert typed("refer", "ask", STORED, "audiology", *asked, by="clara")[0] == 0

    status, _, err = typed("refer", "seen", STORED)

    assert status != 0
    assert "has several: [1], [2]." in err


def test_a_short_day_is_counted_from_the_day_that_on_names(typed: Typed, store: Store) -> None:
    a_child(store)

    assert typed("contact", STORED, "call-again-on", "--until", "thu")[0] == 0
    (contact,) = rows(store, tables.Contact)
    assert str(contact["until"]) == "2026-09-03"
