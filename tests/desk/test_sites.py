"""Several sites and one register: whose people each list shows, and who works for which.

That a list of one site shows that site's people, and whoever has none, follows from the job:
nobody may fall out between two sites. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import msgspec
import pytest

from recall.clock import Clock
from recall.desk.contacts.bookings import Booking, book
from recall.desk.core.narrowing import narrowed, sites_shown, sites_to_show
from recall.desk.core.rights import Role
from recall.desk.core.session import Desk, StaffRow, staff_member
from recall.desk.core.sites import not_worked_for, worked_for
from recall.desk.oversight.counts import counts
from recall.desk.oversight.notices import announcements
from recall.desk.people.editing import edit_details
from recall.desk.people.new_person import NewPerson, add_person
from recall.desk.people.person_card import person
from recall.desk.plans.confirming import confirm_all, plans, waiting
from recall.desk.practice.matters import Entry, write_down
from recall.desk.practice.staff import set_sites
from recall.desk.worklists import appointments, call_card, call_lines, lists
from recall.desk.worklists.matter_list import matters
from recall.desk.worklists.queue_lines import queue_lines
from recall.desk.worklists.referral_list import referrals
from recall.errors import InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    CLEAR,
    DAY,
    KERATIN,
    desk_at,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)
from tests.desk.two_sites import NORTH, SOUTH, at, take_on, three_children, when_late

SITES = (NORTH, SOUTH)


@pytest.fixture
def group(store: Store) -> Store:
    """Two sites, each with staff and a child, and one child of neither."""
    take_on(store)
    three_children(store)
    return store


def refs(found: Sequence[Any]) -> set[str]:
    return {row.reference for row in found}


def member(role: Role = Role.RECEPTION, site: str = "", *sites: str) -> StaffRow:
    return StaffRow(0, "wyn", "Wyn", role, site=site, sites=sites)


@pytest.mark.parametrize(
    ("who", "expected"),
    [
        (member(site="north"), {"north"}),
        (member(), {"north", "south"}),
        (member(Role.RECEPTION, "north", "south"), {"south"}),
        (member(Role.RECEPTION, "north", "all"), {"north", "south"}),
        (member(Role.MANAGER, "north"), {"north", "south"}),
        (member(Role.MANAGER, "north", "north"), {"north"}),
        (member(Role.JOBS), {"north", "south"}),
        (member(Role.CLINICAL_LEAD, "north"), {"north"}),
        (member(Role.RECEPTION, "closed long ago"), {"north", "south"}),
        (member(Role.RECEPTION, "north", "closed long ago"), {"north"}),
    ],
)
def test_who_works_for_which_sites(who: StaffRow, expected: Collection[str]) -> None:
    assert worked_for(SITES, who) == expected
    assert not_worked_for(SITES, who) == {"north", "south"} - set(expected)
    assert not_worked_for((), who) == not_worked_for((NORTH,), who) == frozenset()


LISTS: dict[str, Callable[[Desk], Sequence[Any]]] = {
    "calls": queue_lines,
    "calls and letters": lambda desk: queue_lines(desk, letters=True),
    "overdue": lists.overdue,
    "lost": lists.lost,
    "clinician": lists.for_clinician,
    "referrals": lambda desk: referrals(desk, everything=True),
    "plans": plans,
}


def shown(desk: Desk) -> dict[str, set[str]]:
    """Who is on each list."""
    return {name: refs(rows_of(desk)) for name, rows_of in LISTS.items()}


@pytest.mark.parametrize("on", ["today", "a day gone by"])
def test_every_list_leaves_out_the_other_sites_people_and_nobody_else(
    group: Store, on: str
) -> None:
    """The same day, looked at then and from a later day, on which it is worked out from facts."""
    for ref, site in (("N2", "north"), ("S2", "south"), ("A2", "")):
        number = somebody(desk_at(group), ref, site=site)
        visit(desk_at(group), number, confirmed=False, left=KERATIN)
    if on == "a day gone by":
        write_down(later(desk_at(group), 300), None, Entry("message", "They rang."))
    everybody = shown(when_late(at(group, "mina")))
    north, south = shown(when_late(at(group, "nell"))), shown(when_late(at(group, "sue")))

    assert everybody["calls and letters"] and everybody["overdue"] and everybody["plans"]
    for name, all_of in everybody.items():
        of_north = {ref for ref in all_of if ref[0] in "NA"}
        assert north[name] == of_north, name
        assert south[name] == {ref for ref in all_of if ref[0] in "SA"}, name
        assert narrowed_to(when_late(at(group, "mina")), "north", name) == of_north


def narrowed_to(desk: Desk, site: str, name: str) -> set[str]:
    return refs(LISTS[name](narrowed(desk, site)))


def test_counts_are_the_lengths_of_the_lists_that_are_shown(group: Store) -> None:
    for handle in ("mina", "nell", "sue", "pat"):
        desk = when_late(at(group, handle))
        found = counts(desk)
        assert found.by_step is not None
        assert found.by_step.to_reach == len(queue_lines(desk))
        assert found.by_step.lost == len(lists.lost(desk))
        assert found.overdue == len(lists.overdue(desk))
        assert found.referrals == len(referrals(desk))
        assert len(call_card.order(desk)) == found.by_step.to_reach
        assert sum(map(len, call_lines.call_lines(desk))) == found.by_step.to_reach
    assert counts(when_late(at(group, "nell"))).overdue == 2
    assert counts(when_late(at(group, "mina"))).overdue == 3


def test_what_waits_for_a_clinician_is_counted_and_confirmed_as_it_is_shown(group: Store) -> None:
    desk = desk_at(group)
    for ref, site in (("N2", "north"), ("S2", "south")):
        visit(desk, somebody(desk, ref, site=site), confirmed=False, right=CLEAR)
    north = at(group, "noor")

    assert (waiting(north).visits, waiting(at(group, "clara")).visits) == (1, 2)
    assert any("1 visits wait" in each for each in announcements(north))
    assert confirm_all(north, 1) == 1
    left = rows(group, tables.Visit, confirmed_at=None)
    assert [each["person_id"] for each in left] == [
        each["id"] for each in rows(group, tables.Person, ref="S2")
    ]


def test_the_days_appointments_are_those_of_the_sites_shown(group: Store) -> None:
    desk = desk_at(group)
    on = DAY + timedelta(days=50)
    for n, each in enumerate(rows(group, tables.Person)):
        (follow_up,) = open_follow_ups(group, each["id"])
        starts = datetime(on.year, on.month, on.day, 9 + n)
        book(desk, follow_up["id"], None, Booking(starts))

    def named(desk: Desk) -> set[str]:
        return {row.ref for row in appointments.day(desk, on)}

    assert named(at(group, "mina")) == {"N1", "S1", "A1"}
    assert named(at(group, "nell")) == {"N1", "A1"}
    assert named(narrowed(at(group, "pat"), "South site")) == {"S1", "A1"}


def test_matters_of_a_role_are_the_sites_and_ones_own_by_name_are_always_there(
    group: Store,
) -> None:
    write_down(at(group, "pat"), "S1", Entry("message", "Ring the mother.", owner="reception"))
    write_down(at(group, "pat"), "S1", Entry("message", "Ask about the letter.", owner="nell"))
    write_down(at(group, "pat"), None, Entry("message", "The kettle.", owner="reception"))

    assert [row.text for row in matters(at(group, "nell"))] == [
        "Ask about the letter.",
        "The kettle.",
    ]
    assert [row.text for row in matters(at(group, "sue"))] == ["Ring the mother.", "The kettle."]
    assert len(matters(at(group, "sue"), everybody=True)) == 3
    assert len(matters(at(group, "nell"), everybody=True)) == 2
    by_step = counts(at(group, "nell")).by_step
    assert by_step is not None and by_step.matters == 2


def test_narrowing_is_said_and_never_goes_beyond_ones_own_sites(group: Store) -> None:
    nell, pat, mina = (at(group, handle) for handle in ("nell", "pat", "mina"))

    assert (sites_shown(nell), sites_shown(pat), sites_shown(mina)) == (
        "North site",
        "all sites",
        "all sites",
    )
    assert sites_shown(narrowed(pat, "SOUTH")) == "South site"
    assert sites_shown(narrowed(narrowed(pat, "south"), "")) == "all sites"
    assert sites_to_show(pat) == (("north", "North site"), ("south", "South site"))
    assert sites_to_show(nell) == ()
    with pytest.raises(Refused, match="nell does not work for South site"):
        narrowed(nell, "south")
    with pytest.raises(InputError, match=r"'west' is no site of this practice. It may be: north"):
        narrowed(pat, "west")
    assert narrowed(pat, "south").acting_as("nell").only_site == ""


def test_a_practice_of_one_place_notices_nothing(group: Store) -> None:
    """The same register without sites in the configuration, or with one."""
    one = replace(
        desk_at(group, by="nell"),
        config=msgspec.structs.replace(desk_at(group).config, sites=(NORTH,)),
    )
    for desk in (desk_at(group, by="nell"), one):
        assert sites_shown(desk) == "" and sites_to_show(desk) == ()
        assert refs(lists.overdue(when_late(desk))) == {"N1", "S1", "A1"}
        assert person(desk, "S1").site == ""
    with pytest.raises(InputError, match="lists no sites"):
        narrowed(desk_at(group), "north")


def test_somebodys_sites_are_set_by_the_manager_and_stand_in_the_history(group: Store) -> None:
    clock = Clock.at(DAY)
    with pytest.raises(Refused, match=r"sue .* may not add staff"):
        set_sites(group, clock, "nell", own=None, sites=("south",), by="sue")
    with pytest.raises(NotFound):
        set_sites(group, clock, "nobody-here", own="south", sites=None, by="mina")

    now = set_sites(group, clock, "nell", own=None, sites=("south", "north"), by="mina")

    assert (now.site, now.sites) == ("north", ("south", "north"))
    assert refs(lists.overdue(when_late(at(group, "nell")))) == {"N1", "S1", "A1"}
    line = rows(group, tables.History, entity="staff", what="changed")[-1]
    (told,) = rows_of_payload(group, line["id"])
    assert told == {
        "was": {"site": "north", "sites": ""},
        "now": {"handle": "nell", "site": "north", "sites": "south,north"},
    }
    assert set_sites(group, clock, "nell", own="south", sites=(), by="mina").sites == ()
    assert staff_member(group, "nell", DAY).site == "south"
    assert history_is_whole(group)


def rows_of_payload(store: Store, number: int) -> list[Any]:
    wanted = tables.HistoryPayload.__table__.select().where(
        tables.HistoryPayload.history_id == number
    )
    with store.read() as session:
        return [msgspec.json.decode(row.content) for row in session.execute(wanted)]


def test_a_person_moves_to_another_site_by_the_details_and_it_is_told(group: Store) -> None:
    pat = at(group, "pat")

    done = edit_details(pat, "N1", None, site="South Site")

    assert done.words == "Changed: site."
    assert person(pat, "N1").site == "south"
    assert refs(lists.overdue(when_late(at(group, "nell")))) == {"A1"}
    with pytest.raises(InputError, match=r"'east' is no site of this practice"):
        edit_details(pat, "N1", None, site="east")
    assert history_is_whole(group)


def test_somebody_new_belongs_to_the_desks_own_site_unless_another_is_said(group: Store) -> None:
    def new(desk: Desk, name: str, site: str = "") -> str:
        born = date(1950, 3, len(name))
        done = add_person(desk, NewPerson(name, f"{name[0]}.", born, site=site))
        return rows(group, tables.Person, ref=done.person_ref)[0]["site"]

    assert new(at(group, "nell"), "Ash") == "north"
    assert new(at(group, "nell"), "Bray", "south") == "south"
    assert new(at(group, "clara"), "Coyle") == ""
