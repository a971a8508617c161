"""Addresses and adults become what the choice of addressee works on."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from recall.loop.addressee import Adult, addressees
from recall.protocol.loading import load
from recall.records.database.store import Store
from recall.records.people.addresses import reachable
from recall.records.tables import AdultFor, ContactPoint
from tests.records.build import DAY, MADE, person


def adult(session: Session, number: int, name: str, **more: Any) -> None:
    values = {"role": "responsible_adult", **more}
    session.add(AdultFor(id=number, person_id=1, name=name, **values, **MADE))
    session.flush()


def home(session: Session, number: int, lines: str, adult_id: int | None, **more: Any) -> None:
    values = {"kind": "address", "raw": lines, "value": lines, "postcode": "WR9 4AB", **more}
    session.add(ContactPoint(id=number, person_id=1, adult_id=adult_id, **values, **MADE))
    session.flush()


def test_adults_at_one_address_share_a_home_and_a_second_home_is_another(store: Store) -> None:
    with store.write() as session:
        person(session)
        for number, name in ((1, "Ann Marsh"), (2, "Ben Marsh"), (3, "Cy Rowe")):
            adult(session, number, name)
        home(session, 11, "1 Kiln Lane", 1)
        home(session, 12, "1 Kiln Lane", 2)
        home(session, 13, "9 Tarn Road", 3)

        found = reachable(session, [1], DAY)[1]

    assert [(a.id, a.home) for a in found.person.adults] == [(1, 11), (2, 11), (3, 13)]
    assert found.home(13).value == "9 Tarn Road"


def test_an_address_that_ended_or_was_not_understood_is_no_home(store: Store) -> None:
    with store.write() as session:
        person(session)
        home(session, 11, "1 Kiln Lane", None, until=DAY)
        home(session, 12, "?", None, value=None, problem="no street")

        found = reachable(session, [1], DAY)[1]

    assert found.person.home is None


def test_the_only_safe_address_is_chosen(store: Store) -> None:
    with store.write() as session:
        person(session)
        adult(session, 1, "Ann Marsh", since=date(2020, 1, 1))
        home(session, 11, "1 Kiln Lane", 1, safe="no")
        home(session, 12, "9 Tarn Road", 1, safe="only_this", rank=2)

        found = reachable(session, [1], DAY)[1]

    own = Adult(id=1, role="responsible_adult", home=12, safe="only_this", since=date(2020, 1, 1))
    assert found.person.adults == (own,)


def test_a_childs_letter_goes_to_both_homes(store: Store) -> None:
    with store.write() as session:
        person(session)
        for number, lines in ((1, "1 Kiln Lane"), (2, "9 Tarn Road")):
            adult(session, number, f"Adult {number}")
            home(session, 10 + number, lines, number)

        found = reachable(session, [1], DAY)[1]

    assert [to.home for to in addressees(found.person, DAY, load().contact).to] == [11, 12]
