"""Where somebody is written to in a person's place and has no address, it is said and asked for.

That nothing goes to the person against what the record says is common practice; no published
source is quoted for it.
"""

from __future__ import annotations

from datetime import date

import pytest

from recall.desk.contacts.contact_points import add_contact_point
from recall.desk.contacts.entries import ContactPoint
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.oversight.report_missing import missing
from recall.desk.people.editing import Adult, add_adult
from recall.desk.people.person_card import person
from recall.desk.post.batches import prepare
from recall.desk.post.call_scripts import script_for
from recall.desk.worklists.call_card import call_cards_of
from recall.loop.addressee import way_missing
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.no_way import without_a_way
from recall.records.people.addresses import reachable
from tests.desk.practice import FLUID, desk_at, later, open_follow_ups, rows, somebody, visit

ADULT = date(1950, 4, 3)
HOME = "9 Teasel Row\nWrenfield"
SAID = "who is written to in their place has no address"


@pytest.fixture
def desk(store: Store) -> Desk:
    """Somebody of age with an attorney in their place of whom nothing else is known."""
    desk = desk_at(store, by="clara")
    number = somebody(desk, born=ADULT, adult=False)
    add_adult(desk, "W1", Adult("Wyn Abel", "attorney", instead=True))
    visit(desk, number, right=FLUID)
    return desk


def attorney(desk: Desk) -> int:
    return int(rows(desk.store, tables.AdultFor)[0]["id"])


def found_missing(desk: Desk) -> dict[str, int]:
    with desk.store.read() as session:
        return {line.what: line.count for line in missing(session)}


def test_no_letter_goes_to_the_person_and_the_missing_way_is_work(desk: Desk) -> None:
    prepared = prepare(later(desk, 21))

    assert rows(desk.store, tables.Letter) == [] and prepared.written == 0
    (card,) = call_cards_of(desk, "W1")
    assert any(SAID in warning for warning in card.warnings)
    assert any(SAID in warning for warning in person(desk, "W1").warnings)
    assert failsafe.run(desk_at(desk.store, by="nightly")).counts["cannot_be_contacted"] == 1
    assert sum("in their place" in what and count for what, count in found_missing(desk).items())
    assert open_follow_ups(desk.store, 1)[0]["step"] not in ("invitation", "reminder")


def test_they_are_rung_in_the_place_of_letters_and_asked_for_by_name(desk: Desk) -> None:
    add_contact_point(desk, "W1", ContactPoint("phone", "01632 960555", adult_id=attorney(desk)))
    number = open_follow_ups(desk.store, 1)[0]["id"]

    assert "May I speak to Wyn Abel, please?" in script_for(desk, number)


def test_with_an_address_letters_go_there_and_nothing_is_missing(desk: Desk) -> None:
    home = ContactPoint("address", HOME, "WR9 9ZX", attorney(desk))
    add_contact_point(desk, "W1", home)

    (card,) = call_cards_of(desk, "W1")
    assert not any(SAID in warning for warning in card.warnings)
    assert "cannot_be_contacted" not in failsafe.run(desk_at(desk.store, by="nightly")).counts
    prepare(later(desk, 21))
    (letter,) = rows(desk.store, tables.Letter)
    assert letter["adult_id"] == attorney(desk)


@pytest.mark.parametrize("role", ["attorney", "carer", "care_home", "responsible_adult"])
@pytest.mark.parametrize("instead", [True, False])
@pytest.mark.parametrize("safe", ["", "yes", "no", "only_this"])
def test_the_rows_say_the_same_as_the_choice_of_whom_to_write_to(
    store: Store, role: str, instead: bool, safe: str
) -> None:
    desk = desk_at(store, by="clara")
    number = somebody(desk, born=ADULT, adult=False)
    add_adult(desk, "W1", Adult("Wyn Abel", role, instead=instead))
    if safe:
        way = ContactPoint(
            "address", "9 Teasel Row\nWrenfield", "WR9 9ZX", attorney(desk), safe=safe
        )
        add_contact_point(desk, "W1", way)

    with store.read() as session:
        known = reachable(session, [number], desk.today)[number].person
        assert (number in without_a_way(session, [number])) == bool(way_missing(known, desk.today))
