"""The number that a line is rung on is the one that a person's header shows first."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.contacts.contact_points import add_contact_point
from recall.desk.contacts.entries import ContactPoint
from recall.desk.core.first_numbers import FirstNumber, first_numbers
from recall.desk.core.person_header import person_headers
from recall.desk.core.session import Desk
from recall.desk.people.editing import record_objection
from recall.records import tables


def by_header(desk: Desk, session: Session) -> Iterator[tuple[int, FirstNumber]]:
    ids = session.scalars(select(tables.Person.id)).all()
    for who in person_headers(session, ids, desk.today, desk.protocol.contact).values():
        if who.numbers and who.numbers[0].value:
            names = {n.owner.casefold() for n in who.numbers if n.adult_id in who.speaks}
            asked = {(n.value, name) for n in who.numbers if n.value for name in names}
            yield who.person_id, FirstNumber(who.numbers[0].value, who.name, frozenset(asked))


def test_everybody_s_first_number_is_that_of_their_header(desk: Desk) -> None:
    """Of a whole invented practice, with numbers that are not safe and one who objected."""
    with desk.store.read() as session:
        refs = session.scalars(select(tables.Person.ref).order_by(tables.Person.id)).all()
    for place, safe in enumerate(("no", "only_this", "only_this", "no", "yes", "no")):
        for ref in refs[place::40]:
            add_contact_point(desk, ref, ContactPoint("phone", f"01632 9600{place}1", safe=safe))
    record_objection(desk, refs[3])
    with desk.store.read() as session:
        ids = session.scalars(select(tables.Person.id)).all()
        expected = dict(by_header(desk, session))
        assert first_numbers(session, ids, desk.today) == expected
    assert 100 < len(expected) < len(ids)
    assert any(each.asked for each in expected.values())
