"""What is done about somebody of another site: refused but for what must not wait.

Which acts must not wait is reviewed by hand: they help or protect whoever rings, walks in or is
told about at the wrong site. Common practice, no source.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy import select, text

from recall.desk.contacts.contacting import log_contact
from recall.desk.contacts.entries import Attempt
from recall.desk.core.guarding import ASKED, NEVER_WAITS, NUMBER, always
from recall.desk.core.rights import RIGHTS
from recall.desk.core.site_rights import ABOUT, READS, ROWS
from recall.desk.core.undo import undo
from recall.desk.people.deaths import record_death
from recall.desk.people.editing import edit_details, edit_needs, record_objection, record_unsafe
from recall.desk.people.looked_at import who_looked
from recall.desk.people.person_card import find, person
from recall.desk.people.ringing_back import who_rings
from recall.desk.practice.matters import Entry, close, write_down
from recall.errors import Refused
from recall.records import tables
from recall.records.database.store import Store
from recall.records.tables.statements import table_of
from tests.bare import add_unchecked
from tests.desk.practice import DAY, desk_at, open_follow_ups, rows
from tests.desk.test_rights import EVERY
from tests.desk.two_sites import at, take_on, three_children

MUST_NOT_WAIT = {
    "people.deaths.record_death",
    "people.editing.record_objection",
    "people.editing.record_unsafe",
    "practice.matters.close",
    "practice.matters.pass_on",
    "practice.matters.write_down",
    "referrals.progress.spoke_with",
    "visits.closing.close_visit",
}
"""Reviewed by hand. A visit is of whoever was examined; an emergency is arranged by telephone;
a message goes to whoever sees to it, and is closed by its owner."""
SOMETIMES = {"contacts.contacting.log_contact"}
"""Where it is their call, or somebody got worse."""
ABOUT_NOBODY = {
    *("give_all_back", "undo", "mark_everybody", "replan", "import_file", "land", "propose"),
    *("read_whole", "look_at_taking_back", "take_back", "write_reminders", "print_day", "run"),
    *("export", "write_papers", "add_person", "adopt", "confirm_all", "answer_kind", "refuse"),
    *("answer_loosened", "bring_up_to_date", "refit", "prepare", "open_pages", "pile_of"),
    *("mark_posted", "print_batch", "spread_lists", "claim", "bind", "give_code", "say_count"),
    *("kept_long_enough", "language_meant"),
}
"""Their own acts, files, batches, jobs, staff: about no one person, or one who is new. What is
answered for all at once is answered for those who are shown."""


@pytest.fixture
def group(store: Store) -> Store:
    take_on(store)
    three_children(store)
    return store


def about(function: Callable[..., Any]) -> list[str]:
    """The parameters of a function by which it is about somebody."""
    names = list(inspect.signature(function).parameters)
    number = getattr(function, NUMBER)
    return [n for n in names if n in ABOUT or (n == "number" and number)]


ACTS = {
    name: function
    for name, function in EVERY.items()
    if getattr(function, ASKED) not in READS and about(function)
}


def test_every_act_is_about_somebody_or_reviewed_as_about_nobody() -> None:
    without = {
        name
        for name, function in EVERY.items()
        if getattr(function, ASKED) not in READS
        and name not in ACTS
        and name.rpartition(".")[2] not in ABOUT_NOBODY
        and not getattr(function, NEVER_WAITS)
    }

    assert without == set()
    assert len(ACTS) > 50


def test_what_never_waits_is_what_was_reviewed() -> None:
    never = {name for name, f in EVERY.items() if getattr(f, NEVER_WAITS) is always}
    sometimes = {name for name, f in EVERY.items() if getattr(f, NEVER_WAITS) not in (None, always)}

    assert never == MUST_NOT_WAIT
    assert sometimes == SOMETIMES


def row_of(store: Store, table: Any) -> int:
    """The number of a row about the child of the south; where there is none, a bare one is made.

    Put in past every check: only whose it is matters here.
    """
    (who,) = rows(store, tables.Person, ref="S1")
    columns = table_of(table).c
    mine = select(columns.id).where(columns.person_id == who["id"])
    with store.read() as session:
        found = session.scalars(mine).first()
    if found is not None:
        return int(found)
    needed = [c.name for c in columns if not c.nullable and c.name not in ("id", "person_id")]
    add_unchecked(store.path, table_of(table).name, needed, who["id"])
    with store.read() as session:
        return int(session.scalars(mine).one())


def given(store: Store, function: Callable[..., Any]) -> dict[str, Any]:
    """Arguments that name the child of the south by every parameter that is about somebody."""
    found: dict[str, Any] = {}
    for name in about(function):
        what = getattr(function, NUMBER) if name == "number" else name
        if what in ROWS:
            number = row_of(store, ROWS[what])
            found[name] = [number] if name.endswith("s") else number
        elif what == "asks":
            found[name] = [f"F{row_of(store, tables.FollowUp)}"]
        elif what == "letter_number":
            found[name] = "7-0001"
        else:
            found[name] = ["S1"] if what == "refs" else "s-1"
    return found


@pytest.mark.parametrize("name", sorted(set(ACTS) - MUST_NOT_WAIT))
def test_each_act_about_somebody_of_another_site_is_refused(group: Store, name: str) -> None:
    function = ACTS[name]
    right = getattr(function, ASKED)
    role = sorted(RIGHTS[right] & {each.role for each in (at(group, h).by for h in NORTHERN)})[0]
    north = next(d for d in (at(group, h) for h in NORTHERN) if d.by.role == role)
    if "letter_number" in about(function):
        letter(group)
    asked = given(group, function)

    with pytest.raises(Refused, match=r"S1 belongs to South site, for which \w+ does not work"):
        function(north, **asked)


NORTHERN = ("nell", "noor", "nina", "nils")


@pytest.fixture(autouse=True)
def north_has_every_role(group: Store) -> None:
    """A manager and a practitioner who work for the north alone, beside the two who are there."""
    from recall.clock import Clock
    from recall.desk.core.rights import Role
    from recall.desk.core.session import StaffRow
    from recall.desk.practice.staff import add_staff

    for handle, role in (("nina", Role.MANAGER), ("nils", Role.PRACTITIONER)):
        member = StaffRow(0, handle, handle.title(), role, site="north", sites=("north",))
        add_staff(group, Clock.at(DAY), member, by="clara")


def letter(store: Store) -> None:
    """A letter to the child of the south, by its number."""
    row_of(store, tables.Letter)
    with store.write() as session:
        bare = {"void_at": None, "fields": '{"number":"7-0001"}'}
        session.execute(text("UPDATE letter SET void_at = :void_at, fields = :fields"), bare)


def test_the_sentence_says_whose_site_it_is_and_who_may(group: Store) -> None:
    with pytest.raises(Refused) as refused:
        edit_details(at(group, "nell"), "s1", None, caller_note="After four.")

    assert str(refused.value) == (
        "S1 belongs to South site, for which nell does not work. "
        "It needs one of: clara, mina, pat, rob, sue."
    )
    assert rows(group, tables.Person, ref="S1")[0]["caller_note"] == ""


def test_whoever_rings_the_wrong_site_is_helped(group: Store) -> None:
    """Found by name, read, what they say taken down, a message passed on; and taken back."""
    nell = replace(at(group, "nell"), is_signed=True, place="screen")
    assert {each.ref for each in find(nell, "Thackwell")} == {"N1", "S1", "A1"}
    assert {each.found.ref for each in who_rings(nell, "Thackwell", 9)} == {"N1", "S1", "A1"}
    assert person(nell, "S1").ref == "S1"
    assert [each.by for each in who_looked(at(group, "mina"), "S1")] == ["nell"]
    (who,) = rows(group, tables.Person, ref="S1")
    (row,) = open_follow_ups(group, who["id"])

    rang = Attempt("phone", "wants_clinician", "Asks for the clinician.", by_them=True)
    assert log_contact(nell, row["id"], None, rang).step == "clinician_call"
    assert undo(nell).person_ref == "S1"
    written = write_down(nell, "S1", Entry("message", "Ring the mother.", owner="reception"))
    assert close(nell, written.made or 0, "answered", "Rung.").words
    with pytest.raises(Refused, match="S1 belongs to South site"):
        log_contact(nell, row["id"], None, Attempt("phone", "no_answer"))
    worse = Attempt("phone", "worse", "Pain since the morning.")
    assert log_contact(nell, row["id"], None, worse).step == "clinician_call"


def test_what_protects_somebody_is_recorded_wherever_it_is_told(group: Store) -> None:
    nell = at(group, "nell")

    assert record_unsafe(nell, "S1").words
    assert record_objection(nell, "S1").words
    assert record_death(nell, "S1", DAY, "Rowan Thackwell").words
    assert rows(group, tables.Person, ref="S1")[0]["deceased_on"] == DAY


def test_whoever_works_for_the_site_or_for_all_is_not_refused(group: Store) -> None:
    for handle in ("sue", "pat", "mina", "rob"):
        assert edit_needs(at(group, handle), "S1", None, (handle,)).words
    assert edit_needs(at(group, "nell"), "A1", None, ("loop",)).words
    assert edit_needs(at(group, "nell"), "N1", None, ("loop",)).words
    with pytest.raises(Refused, match="N1 belongs to North site"):
        edit_needs(at(group, "sue"), "N1", None, ("x",))


def test_one_place_refuses_nothing(group: Store) -> None:
    assert edit_needs(desk_at(group, by="nell"), "S1", None, ("loop",)).words
