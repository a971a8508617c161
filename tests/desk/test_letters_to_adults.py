"""Letters to adults by themselves: who nobody answers for is written to in their own right."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import msgspec
import pytest
from sqlalchemy import insert

from recall.desk.core.session import Desk
from recall.records import tables
from tests.desk.posting import child_with_fluid, first_letter_day, letters, made, on
from tests.desk.practice import DAY


def adult_with_fluid(desk: Desk, **more: Any) -> int:
    """An adult who lives alone, with fluid behind one drum."""
    return child_with_fluid(desk, born=date(1970, 3, 2), adult=False, **more)


def with_email(desk: Desk, person: int, address: str, adult: int | None = None) -> None:
    """Put an e-mail address on record, the person's own unless it is an adult's."""
    whose = {"person_id": person, "adult_id": adult, "kind": "email"}
    base = {"on": DAY, "recorded_at": desk.now, "by_id": desk.by.id}
    with desk.store.write() as session:
        values = {"raw": address, "value": address, **whose, **base}
        session.execute(insert(tables.ContactPoint).values(**values))


def with_carer(desk: Desk, person: int) -> int:
    """Add somebody who helps, and is not written to in the person's place."""
    about = {"person_id": person, "name": "Una Marsh", "role": "carer", "language": "cy"}
    base = {"on": DAY, "recorded_at": desk.now, "by_id": desk.by.id}
    with desk.store.write() as session:
        row = insert(tables.AdultFor).values(**about, **base).returning(tables.AdultFor.id)
        return session.execute(row).scalar_one()


def written(desk: Desk, person: int) -> Any:
    """Return the letter that is printed on its day."""
    made(on(desk, first_letter_day(desk, person)))
    (letter,) = letters(desk)
    return letter


def test_who_lives_alone_is_written_to_by_name(desk: Desk) -> None:
    letter = written(desk, adult_with_fluid(desk))
    assert (letter["kind"], letter["adult_id"]) == ("invitation_adult", None)
    assert (letter["to_name"], letter["language"]) == ("Rowan Thackwell", "en")


def test_their_own_email_is_used_and_no_one_elses(desk: Desk) -> None:
    person = adult_with_fluid(desk, format="email")
    with_email(desk, person, "una@example.org", with_carer(desk, person))
    with_email(desk, person, "rowan@example.org")
    assert written(desk, person)["format"] == "email"
    (text,) = desk.config.files.letters.glob("*-by-email/*.txt")
    assert "To: rowan@example.org" in text.read_text("utf-8")


def test_where_only_a_carers_email_is_known_the_letter_goes_on_paper(desk: Desk) -> None:
    person = adult_with_fluid(desk, format="email")
    with_email(desk, person, "una@example.org", with_carer(desk, person))
    assert written(desk, person)["format"] == "standard"


@pytest.mark.parametrize(("own", "language"), [("cy", "cy"), ("en", "en"), ("fr", "en")])
def test_they_are_written_to_in_their_own_language(desk: Desk, own: str, language: str) -> None:
    """A carer's language is not theirs; one that the practice does not write is its first."""
    known = msgspec.structs.replace(desk.config.letters, languages=("en", "cy"))
    desk = replace(desk, config=msgspec.structs.replace(desk.config, letters=known))
    person = adult_with_fluid(desk, language=own)
    with_carer(desk, person)
    assert written(desk, person)["language"] == language
