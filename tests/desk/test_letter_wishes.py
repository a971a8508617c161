"""In which language and form letters are wished: whoever they are written to gets them so."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import pytest

from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.people.editing import edit_details
from recall.desk.people.new_person import NewPerson, add_person
from recall.desk.post.batches import prepare
from recall.errors import InputError
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.posting import child_with_fluid, first_letter_day, on
from tests.desk.practice import DAY, desk_at, rows


@pytest.fixture
def desk(store: Store) -> Desk:
    """A practice with letters in two languages."""
    found = desk_at(store)
    letters = msgspec.structs.replace(found.config.letters, languages=("en", "cy"))
    return replace(found, config=msgspec.structs.replace(found.config, letters=letters))


def test_the_letter_about_a_child_goes_out_as_it_was_wished_at_the_desk(desk: Desk) -> None:
    child = child_with_fluid(desk)
    done = edit_details(desk, "W1", None, language="cy", format="large")
    assert done.words.startswith("Changed: language, form of letters.")
    assert "For letters to Ida Thackwell as well." in done.words
    then = on(desk, first_letter_day(desk, child))
    prepare(then)
    (letter,) = rows(desk.store, tables.Letter)
    assert (letter["language"], letter["format"]) == ("cy", "large")


def test_taking_it_back_takes_back_the_adults_wish_too(desk: Desk) -> None:
    child_with_fluid(desk)
    edit_details(desk, "W1", None, format="large")
    undo(desk)
    (adult,) = rows(desk.store, tables.AdultFor)
    assert adult["format"] == "standard"


def test_a_home_that_wished_something_else_keeps_it(desk: Desk) -> None:
    child_with_fluid(desk)
    with desk.store.write() as session:
        adult = tables.AdultFor.__table__
        session.execute(adult.update().values(format="spoken"))
    done = edit_details(desk, "W1", None, format="large")
    assert "Ida Thackwell" not in done.words
    assert rows(desk.store, tables.AdultFor)[0]["format"] == "spoken"


@pytest.mark.parametrize("empty", ["", "  "])
def test_an_empty_language_is_the_practices_first_and_said(desk: Desk, empty: str) -> None:
    child_with_fluid(desk)
    edit_details(desk, "W1", None, language="cy")
    done = edit_details(desk, "W1", None, language=empty)
    assert "No language given: letters go out in en, the practice's first." in done.words
    (person,) = rows(desk.store, tables.Person)
    assert person["language"] == "en"


def test_a_language_without_letters_is_kept_and_said(desk: Desk) -> None:
    child_with_fluid(desk)
    done = edit_details(desk, "W1", None, language="ur")
    assert "Letters go out in en: this practice has none in ur." in done.words
    new = NewPerson("Ann", "Test", DAY.replace(year=1950), language="ur")
    assert "this practice has none in ur" in add_person(desk, new).words


def test_what_is_no_language_is_refused(desk: Desk) -> None:
    child_with_fluid(desk)
    with pytest.raises(InputError, match="'Tamil, by phone' is no language"):
        edit_details(desk, "W1", None, language="Tamil, by phone")
