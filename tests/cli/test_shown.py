"""What commands print for people: nothing that hides or turns words, and who is left alone."""

from __future__ import annotations

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.people.editing import record_objection
from recall.records.database.store import Store
from tests.cli.test_loop_commands import Typed
from tests.cli.test_loop_commands import typed as typed  # a fixture
from tests.desk.practice import FLUID, desk_at, open_follow_ups, somebody, visit

TURNED = "Works \u202enights\u202c"


def test_a_mark_that_turns_writing_round_is_not_printed(typed: Typed, store: Store) -> None:
    desk = desk_at(store)
    visit(desk, somebody(desk, "W1"), right=FLUID)
    number = open_follow_ups(store, 1)[0]["id"]
    contacting.log_contact(desk, number, None, Attempt("phone", "no_answer", TURNED))
    contacting.note(desk, number, TURNED)
    for command in (("person", "W1"), ("person", "card", "W1"), ("queue", "--on", "2026-09-10")):
        _status, told, _beside = typed(*command)
        assert "\u202e" not in told and "\u202c" not in told, command
    assert "Works nights" in typed("person", "W1")[1]


def test_find_says_who_may_not_be_contacted(typed: Typed, store: Store) -> None:
    desk = desk_at(store)
    for ref in ("W1", "W2"):
        visit(desk, somebody(desk, ref), right=FLUID)
    record_objection(desk, "W2")
    told = typed("find", "Thackwell")[1]
    assert told.count("! Do not contact: asked not to be contacted (1 September 2026).") == 1
