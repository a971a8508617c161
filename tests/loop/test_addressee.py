"""To whom letters go. That a young person is written to from 16, and two homes each get a
letter, is common practice, no source; birthdays of 29 February fall on 1 March."""

from __future__ import annotations

from datetime import date

import pytest

from recall.loop.addressee import (
    Addressee,
    Adult,
    Person,
    addressees,
    contact_stopped,
    contact_warnings,
)
from tests.loop.tell import RULES

DAY = date(2026, 9, 1)
MOTHER = Adult(id=1, role="responsible_adult", home=10)
FATHER = Adult(id=2, role="responsible_adult", home=20)
CHILD = Person(born=date(2018, 3, 2), home=10, adults=(MOTHER, FATHER))


def to(person: Person, on: date = DAY) -> list[tuple[str, int, tuple[int, ...]]]:
    return [(a.role, a.home, a.adults) for a in addressees(person, on, RULES).to]


def person(**about: object) -> Person:
    return Person(**{"born": date(1960, 1, 1), "home": 5, **about})  # type: ignore[arg-type]


def test_two_homes_get_two_letters() -> None:
    assert to(CHILD) == [("responsible_adult", 10, (1,)), ("responsible_adult", 20, (2,))]


def test_two_adults_in_one_home_get_one_letter() -> None:
    together = Adult(id=2, role="responsible_adult", home=10)

    found = Person(born=CHILD.born, adults=(together, MOTHER))

    assert to(found) == [("responsible_adult", 10, (1, 2))]


def test_only_the_safe_adult_is_written_to() -> None:
    safe = Adult(id=1, role="responsible_adult", home=10, safe="only_this")
    unsafe = Adult(id=2, role="responsible_adult", home=20, safe="no")

    assert to(Person(born=CHILD.born, adults=(safe, FATHER))) == [("responsible_adult", 10, (1,))]
    assert to(Person(born=CHILD.born, adults=(MOTHER, unsafe))) == [("responsible_adult", 10, (1,))]


def test_somebody_who_no_longer_acts_is_not_written_to() -> None:
    former = Adult(id=2, role="responsible_adult", home=20, until=DAY)

    assert to(Person(born=CHILD.born, adults=(MOTHER, former))) == [("responsible_adult", 10, (1,))]


def test_an_adult_acts_from_the_first_day_on_and_on_the_last_not_any_more() -> None:
    adult = Adult(id=2, role="carer", home=7, since=DAY, until=date(2026, 9, 3))
    days = [date(2026, 8, 31), DAY, date(2026, 9, 2), date(2026, 9, 3)]

    assert [adult.acts_on(day) for day in days] == [False, True, True, False]


@pytest.mark.parametrize(
    ("born", "before", "birthday"),
    [
        (date(2010, 9, 2), date(2026, 9, 1), date(2026, 9, 2)),
        (date(2012, 2, 29), date(2028, 2, 28), date(2028, 2, 29)),
        (date(2084, 2, 29), date(2100, 2, 28), date(2100, 3, 1)),
    ],
)
def test_from_the_birthday_of_16_the_young_person_is_written_to(
    born: date, before: date, birthday: date
) -> None:
    young = Person(born=born, home=30, adults=(MOTHER,))

    assert to(young, before) == [("responsible_adult", 10, (1,))]
    assert to(young, birthday) == [("self", 30, ())]


def test_a_young_persons_own_contact_is_asked_for_half_a_year_before() -> None:
    young = Person(born=date(2010, 12, 1), adults=(MOTHER,))

    assert addressees(young, date(2026, 6, 1), RULES).ask == ""
    assert addressees(young, date(2026, 6, 2), RULES).ask == (
        "Ask for the person's own address and number: they turn 16 on 1 December 2026."
    )


def test_at_16_without_an_address_of_their_own_nobody_else_is_written_to() -> None:
    young = Person(born=date(2010, 9, 1), adults=(MOTHER,))

    found = addressees(young, DAY, RULES)

    assert found.to == ()
    assert found.none_because == "no address of their own is recorded"
    assert found.ask


def test_a_carer_is_written_to_beside_the_person_and_an_attorney_in_their_place() -> None:
    carer = Adult(id=3, role="carer", home=7)
    attorney = Adult(id=4, role="attorney", home=8, instead=True)

    assert to(person(adults=(carer,))) == [("self", 5, ()), ("carer", 7, (3,))]
    assert to(person(adults=(carer, attorney))) == [("attorney", 8, (4,))]


def test_a_carer_in_the_same_home_needs_no_second_letter() -> None:
    assert to(person(adults=(Adult(id=3, role="carer", home=5),))) == [("self", 5, ())]


def test_a_care_home_is_written_to_where_the_person_has_no_other_address() -> None:
    manager = Adult(id=6, role="care_home", home=9)

    assert to(person(home=None, adults=(manager,))) == [("care_home", 9, (6,))]


def test_where_home_is_not_safe_only_another_address_is_used() -> None:
    at_home = Adult(id=3, role="carer", home=5)
    elsewhere = Adult(id=4, role="carer", home=7)

    assert to(person(safe="no", adults=(at_home, elsewhere))) == [("carer", 7, (4,))]
    assert to(person(safe="only_this", adults=(elsewhere,))) == [("self", 5, ())]
    found = addressees(person(safe="no"), DAY, RULES)
    assert found.none_because == "their address is not safe to write to"


@pytest.mark.parametrize(
    ("about", "because"),
    [
        ({"died_on": DAY}, "has died (1 September 2026)"),
        ({"objected_on": DAY}, "asked not to be contacted (1 September 2026)"),
        ({"unsafe_on": DAY}, "not safe to contact (1 September 2026)"),
        ({"moved_on": DAY}, "moved, new address not known (1 September 2026)"),
    ],
)
def test_nobody_is_written_to_and_the_reason_is_given(about: dict[str, date], because: str) -> None:
    assert addressees(person(**about), DAY, RULES).none_because == because
    assert addressees(person(**about), date(2026, 8, 31), RULES).to != ()


@pytest.mark.parametrize("about", ["died_on", "objected_on", "unsafe_on"])
def test_nobody_rings_either_and_the_warning_says_so(about: str) -> None:
    known = person(**{about: DAY})

    because = addressees(known, DAY, RULES).none_because
    assert contact_stopped(known, DAY) == because
    assert contact_warnings(known, DAY) == (f"Do not contact: {because}.",)
    assert contact_stopped(known, date(2026, 8, 31)) is None
    assert contact_warnings(known, date(2026, 8, 31)) == ()


def test_who_has_moved_may_still_be_rung() -> None:
    known = person(moved_on=DAY)

    assert contact_stopped(known, DAY) is None
    assert contact_warnings(known, DAY) == ("Moved, new address not known (1 September 2026).",)


def test_a_child_without_a_responsible_adult_is_named_as_such() -> None:
    found = addressees(Person(born=CHILD.born, home=10), DAY, RULES)

    assert found.none_because == "no responsible adult is recorded"


def test_a_childs_carer_is_not_written_to_and_an_adults_former_one_not_any_more() -> None:
    carer = Adult(id=3, role="carer", home=30)
    former = Adult(id=4, role="carer", home=40, until=DAY)

    assert to(Person(born=CHILD.born, adults=(MOTHER, carer))) == [("responsible_adult", 10, (1,))]
    assert to(person(adults=(former,))) == [("self", 5, ())]


def test_the_only_safe_address_of_an_adults_carer_is_the_only_one_used() -> None:
    safe = Adult(id=3, role="carer", home=7, safe="only_this")

    assert to(person(adults=(safe,))) == [("carer", 7, (3,))]


def test_a_childs_adult_who_acts_no_longer_is_none() -> None:
    former = Adult(id=2, role="responsible_adult", home=20, until=DAY)
    unsafe = Adult(id=3, role="responsible_adult", home=20, safe="no")

    found = addressees(Person(born=CHILD.born, adults=(former,)), DAY, RULES)
    assert found.none_because == "no responsible adult is recorded"
    found = addressees(Person(born=CHILD.born, adults=(unsafe,)), DAY, RULES)
    assert found.none_because == "no safe address of a responsible adult is recorded"


def test_on_the_birthday_they_are_written_to_and_not_about_to_be() -> None:
    young = Person(born=date(2010, 9, 1), adults=(MOTHER,))

    assert addressees(young, DAY, RULES).ask.endswith("they are written to themselves.")
    assert addressees(person(), DAY, RULES).ask == ""


def test_a_child_is_never_the_addressee() -> None:
    assert Addressee(role="self", home=10) not in addressees(CHILD, DAY, RULES).to
