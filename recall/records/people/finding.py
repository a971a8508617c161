"""Finding a person by whatever they say: names, birth date, number, postcode, reference.

All that is given must fit. Exact hits come first, then beginnings, then what sounds alike,
and only where nothing fits what is misspelt by a letter or two.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from sqlalchemy import ColumnElement, and_, delete, intersect, or_, select
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.database.bulk import insert_rows
from recall.records.facts.cases import pages, stands
from recall.records.people.birthdates import birth_dates
from recall.records.people.search_keys import (
    distance_within,
    fold,
    keys_of,
    phone_key,
    postcode_key,
    ref_key,
    ref_spellings,
    said_words,
    sound,
)
from recall.records.tables.statements import IDS, given, many, read_as, table_of, whole

How = Literal["exact", "begins", "sounds", "near"]
HOWS: tuple[How, ...] = ("exact", "begins", "sounds", "near")
_POSTCODE = re.compile(r"(?<!\w)[a-z]{1,2}\d[a-z\d]?\s*\d[a-z]{2}(?!\w)", re.IGNORECASE)
_NUMBER = re.compile(r"(?<![\w/-])\+?[\d()][\d\s()./-]{4,}\d")
_MOST_WORDS = 5
TITLES = frozenset(
    [
        "mr",
        "mrs",
        "ms",
        "miss",
        "mx",
        "dr",
        "prof",
        "professor",
        "sir",
        "dame",
        "lady",
        "rev",
        "reverend",
        "revd",
    ]
)
"""Said before a name and no part of it; one that stands alone is a name."""
_LAST = "\U0010ffff"
Test = ColumnElement[bool]
_ContactPoint = tuple[str, str | None, str | None]
"""Kind, value and postcode."""


@dataclass(frozen=True)
class Found:
    """A person as the desk tells them apart."""

    id: int
    ref: str
    title: str
    given_names: str
    family_name: str
    known_as: str
    born: date
    postcode: str | None
    deceased_on: date | None
    how: How


@dataclass(frozen=True)
class _Fits:
    """A person that fits, before it is said how."""

    id: int
    ref: str
    title: str
    given_names: str
    family_name: str
    known_as: str
    born: date
    deceased_on: date | None


def find(session: Session, text: str, limit: int = 20) -> tuple[Found, ...]:
    """Return the people that fit everything in the text, best first."""
    fixed, words = _read(text)
    if not fixed and not words:
        return ()
    ways = _ways_said(words)
    own = [_any("ref", sorted(ref_spellings(text)))] if _is_code(text) else []
    rows: dict[int, tuple[_Fits, How]] = {}
    for row in _matching(session, own, limit) if own else ():
        rows[row.id] = (row, "exact")
    for how in HOWS:
        if len(rows) >= limit or (how == "near" and rows) or (how != "exact" and not words):
            break
        for way in ways:
            tests = fixed + [_word_test(session, word, how) for word in way]
            for row in _matching(session, tests, limit):
                rows.setdefault(row.id, (row, how))
    postcodes = _postcodes(session, list(rows))
    found = [_found(row, how, postcodes.get(row.id)) for row, how in rows.values()]
    return tuple(found[:limit])


def known(session: Session, person_ids: Sequence[int]) -> dict[int, Found]:
    """Return some people by their numbers, as they are found."""
    wanted = select(read_as(_Fits, tables.Person)).where(
        tables.Person.id.in_(person_ids), stands(tables.Person)
    )
    postcodes = _postcodes(session, person_ids)
    rows = session.scalars(wanted).all()
    return {row.id: _found(row, "exact", postcodes.get(row.id)) for row in rows}


def rekey(session: Session, person_ids: Sequence[int]) -> None:
    """Work out anew what some people are found by; to be called whenever they change."""
    session.flush()
    for some in pages(person_ids):
        _rekey_page(session, some)


def rekey_all(session: Session) -> None:
    """Work out anew what everybody is found by, where a new version finds in more ways."""
    rekey(session, session.scalars(select(tables.Person.id)).all())


def _rekey_page(session: Session, person_ids: Sequence[int]) -> None:
    session.execute(
        delete(table_of(tables.PersonKey)).where(tables.PersonKey.person_id.in_(person_ids))
    )
    points, adults = _contact_points(session, person_ids), _adults(session, person_ids)
    people = select(whole(tables.Person)).where(tables.Person.id.in_(IDS), stands(tables.Person))
    rows = [
        {"kind": kind, "key": key, "person_id": row.id}
        for row in session.scalars(people, given(person_ids))
        for kind, key in sorted(_keys(row, points.get(row.id, []), adults.get(row.id, [])))
    ]
    insert_rows(session, tables.PersonKey, rows)


def _keys(
    person: tables.Person, points: Sequence[_ContactPoint], adults: Sequence[str]
) -> set[tuple[str, str]]:
    return keys_of(
        ref=person.ref,
        names=(person.given_names, person.family_name, person.known_as, *adults),
        born=person.born,
        phones=[value for kind, value, _postcode in points if kind == "phone" and value],
        postcodes=[postcode for _kind, _value, postcode in points if postcode],
        nhs_number=person.nhs_number,
    )


def _contact_points(session: Session, person_ids: Sequence[int]) -> dict[int, list[_ContactPoint]]:
    """Return the standing contact points of people and of their adults."""
    c = tables.ContactPoint
    wanted = select(c.person_id, c.kind, c.value, c.postcode).where(
        c.person_id.in_(IDS), stands(tables.ContactPoint)
    )
    found: dict[int, list[_ContactPoint]] = {}
    for person_id, kind, value, postcode in many(session, wanted, person_ids):
        found.setdefault(person_id, []).append((kind, value, postcode))
    return found


def _adults(session: Session, person_ids: Sequence[int]) -> dict[int, list[str]]:
    """Return the names of those who answer for people: they ring in as well."""
    adult = tables.AdultFor
    wanted = select(adult.person_id, adult.name).where(adult.person_id.in_(IDS), stands(adult))
    found: dict[int, list[str]] = {}
    for person_id, name in many(session, wanted, person_ids):
        found.setdefault(person_id, []).append(name)
    return found


def _read(text: str) -> tuple[list[Test], list[str]]:
    """Return the tests that hold at every level, and the words that are left."""
    days, rest = birth_dates(_plain_digits(text))
    tests = [_any("born", [day.isoformat() for day in days])] if days else []
    for pattern, test in ((_POSTCODE, _postcode_test), (_NUMBER, _number_test)):
        while match := pattern.search(rest):
            tests.append(test(match[0]))
            rest = rest[: match.start()] + " " + rest[match.end() :]
    words: list[str] = []
    for word in rest.split():
        words += [word] if _is_code(word) else said_words(word)
    named = [word for word in words if word not in TITLES]
    return tests, named if named or tests else words


def _plain_digits(text: str) -> str:
    """Return text with the digits of every script as ours."""
    return "".join(fold(c) if c.isdecimal() else c for c in text)


def _ways_said(words: Sequence[str]) -> list[list[str]]:
    """Return the words as they were said, then with two of them as one: O Neil, Mac Donald."""
    ways = [list(words)]
    for at in range(min(len(words), _MOST_WORDS) - 1):
        pair = words[at : at + 2]
        if not any(_is_code(word) for word in pair):
            ways.append([*words[:at], "".join(pair), *words[at + 2 :]])
    return ways


def _any(kind: str, keys: Sequence[str]) -> Test:
    return and_(tables.PersonKey.kind == kind, tables.PersonKey.key.in_(keys))


def _begins(kind: str, start: str) -> Test:
    return and_(
        tables.PersonKey.kind == kind,
        tables.PersonKey.key >= start,
        tables.PersonKey.key < start + _LAST,
    )


def _postcode_test(text: str) -> Test:
    return or_(_any("postcode", [postcode_key(text)]), _any("ref", [ref_key(text)]))


def _number_test(text: str) -> Test:
    digits = re.sub(r"\D", "", text)
    return or_(_begins("phone", phone_key(text)), _any("nhs", [digits]), _any("ref", [digits]))


def _is_code(word: str) -> bool:
    """Return whether a word is a year, a reference or a part of a postcode: never a name."""
    return any(c.isdigit() for c in word)


def _code_test(word: str, how: How) -> Test:
    """A year of birth, the end of a number, the beginning of a postcode or a reference."""
    own = ref_key(word)
    tests = [_any("ref", [own]) if how == "exact" else _begins("ref", own)]
    tests.append(_begins("postcode", postcode_key(word)))
    if re.fullmatch(r"(19|20)\d\d", word):
        tests.append(_begins("born", f"{word}-"))
    elif word.isdigit() and len(word) >= 3:
        tests.append(_begins("phone", word[::-1]))
    return or_(*tests)


def _word_test(session: Session, word: str, how: How) -> Test:
    if _is_code(word):
        return _code_test(word, how)
    if how == "exact":
        return or_(_any("name", [word]), _any("ref", [word]))
    if how == "begins":
        return or_(_begins("name", word), _begins("ref", word))
    said = sound(word)
    alike = or_(_begins("name", word), _any("sound", [said])) if said else _begins("name", word)
    if how == "sounds":
        return alike
    return or_(alike, _any("name", list(_near(session, word))))


def _near(session: Session, word: str) -> Iterator[str]:
    """Give the names that differ from a word by one letter, by two in a long word."""
    if len(word) < 4:
        return
    most = 2 if len(word) > 7 else 1
    for first in {word[0], word[1]}:
        known = select(tables.PersonKey.key).where(_begins("name", first)).distinct()
        for name in session.scalars(known):
            if distance_within(word, name, most):
                yield name


def _matching(session: Session, tests: Sequence[Test], limit: int) -> Sequence[_Fits]:
    fits = [select(tables.PersonKey.person_id).where(test) for test in tests]
    ids = fits[0] if len(fits) == 1 else intersect(*fits)
    wanted = (
        select(read_as(_Fits, tables.Person))
        .where(tables.Person.id.in_(ids), stands(tables.Person))
        .order_by(tables.Person.family_name, tables.Person.given_names, tables.Person.id)
        .limit(limit)
    )
    return session.scalars(wanted).all()


def _postcodes(session: Session, ids: Sequence[int]) -> dict[int, str | None]:
    c = tables.ContactPoint
    wanted = (
        select(c.person_id, c.postcode)
        .where(c.person_id.in_(ids), c.kind == "address", c.postcode.is_not(None))
        .where(stands(tables.ContactPoint), c.until.is_(None))
        .order_by(c.rank.desc(), c.id)
    )
    return dict(session.execute(wanted).all())


def _found(row: _Fits, how: How, postcode: str | None) -> Found:
    return Found(
        id=row.id,
        ref=row.ref,
        title=row.title,
        given_names=row.given_names,
        family_name=row.family_name,
        known_as=row.known_as,
        born=row.born,
        postcode=postcode,
        deceased_on=row.deceased_on,
        how=how,
    )
