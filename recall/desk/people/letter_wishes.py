"""In which language and form letters are wished: checked, and for whoever they are written to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select

from recall.desk.core.acting import Act
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import InputError
from recall.exchange.people_in import LANGUAGE
from recall.records import tables
from recall.records.facts.cases import stands

WISHES = ("language", "format")
"""What whoever a letter is written to has on a row of their own as well."""


@needs(Right.KEEP_PEOPLE)
def language_meant(desk: Desk, given: str) -> tuple[str, str]:
    """Return the language that is kept, and what to say where letters go out in another.

    Raises:
        InputError: it is no language tag.
    """
    known = desk.config.letters.languages
    language = given.strip() or known[0]
    if not LANGUAGE.fullmatch(language):
        raise InputError(f"{language!r} is no language.", hint="Give a tag: en, cy, ur.")
    if not given.strip():
        return language, f"No language given: letters go out in {language}, the practice's first."
    if language not in known:
        return language, f"Letters go out in {known[0]}: this practice has none in {language}."
    return language, ""


def adults_too(act: Act, was: Mapping[str, Any], now: Mapping[str, Any]) -> str:
    """Give whoever letters about a child go to the same wish, where theirs was; say who."""
    wishes = {name: now[name] for name in WISHES if name in now and now[name] != was[name]}
    a = tables.AdultFor
    theirs = a.person_id == act.person_id, a.role == "responsible_adult", stands(a)
    mine = select(a).where(*theirs).order_by(a.id)
    names = []
    for adult in act.session.scalars(mine).all() if wishes else ():
        same = {n: value for n, value in wishes.items() if getattr(adult, n) in ("", was[n])}
        if same:
            names.append(adult.name)
            act.set("adult_for", adult.id, **same)
    return f"For letters to {' and '.join(dict.fromkeys(names))} as well." if names else ""
