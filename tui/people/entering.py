"""The sheets for somebody new, and for a name or a birth date that is put right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.dialogs.form import SURE, Checks, Doubt, Field, Form, Values, newest
from tui.people.changes import Sites, about, site_field
from tui.words.text import full_day

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.people.new_person import NewPerson, Said
    from recall.desk.people.person_card import PersonCard
    from tui.register.background import Working

_ASKED = ("family_name", "given_names", "born")
SOMEBODY_ELSE = "It is somebody else?"


def enter_somebody(screen: Working[None], said: Said | None = None) -> None:
    """Show the sheet for somebody new, and their own screen once they are written down."""

    def entered(came: Next | None) -> None:
        if came is not None:
            screen.app.show_person(came.person_ref, came.words)

    screen.app.push_screen(new_person(said, screen.app.sites, screen.app.own_site), entered)


def new_person(said: Said | None = None, sites: Sites = (), own: str = "") -> Form:
    """Return the sheet for somebody new; who may be the same is shown while one types."""
    shown: set[str] = set()

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.people import new_person as entering

        made = _made(values)
        found = entering.who_may_be(desk, made)
        others = tuple(each.ref for each in found if each.ref in shown)
        if len(others) < len(found) or (found and not values[SURE]):
            shown.update(each.ref for each in found)
            raise Doubt(f"{_begin(entering.say_alike(found))}. {SOMEBODY_ELSE}")
        return entering.add_person(desk, made, others)

    def alike(desk: Desk, values: Values) -> str:
        from recall.desk.people import new_person as entering

        if not all(values.get(name) for name in _ASKED):
            return ""
        found = entering.who_may_be(desk, _made(values))
        return f"! {_begin(entering.say_alike(found))}." if found else "Nobody alike is here."

    asked = _fields(said)
    fields = (*asked[: len(_ASKED)], *site_field(sites, own), *asked[len(_ASKED) :])
    return Form("Somebody new", fields, store, does="Write down", checks=Checks(live=alike))


def _fields(told: Said | None) -> tuple[Field, ...]:
    from recall.desk.people.new_person import Said

    said = told or Said()
    born = f"{said.born.day}/{said.born.month}/{said.born.year}" if said.born else ""
    return (
        Field("family_name", "Family name", value=said.family_name, needed=True),
        Field("given_names", "Given names", value=said.given_names, needed=True),
        Field("born", "Born", "past_day", born, hint="3/4/1950", needed=True),
        Field("phone", "Number to ring", value=said.phone),
        Field("adult", "Who answers for them", hint="needed for a child; else empty"),
        Field("relation", "As what", hint="mother, son, home manager"),
        Field("address", "Address", hint="lines with “ / ” between"),
        Field("postcode", "Postcode"),
        Field("nhs_number", "NHS number", hint="may stay empty"),
        Field("title", "Title", hint="Ms, Mr, Dr"),
        Field("language", "Language", hint="en, cy, ur, …; empty: usual"),
        Field("gp", "GP", hint="name and practice"),
        Field("caller_note", "Before contact", hint="for whoever rings"),
        Field("ref", "Reference", hint="the practice's own; empty: one is made"),
    )


def _begin(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def _made(values: Values) -> NewPerson:
    """Return whom the sheet is about, as far as it is filled in."""
    from recall.desk.people.new_person import NewPerson

    names = NewPerson.__dataclass_fields__
    given = {name: value for name, value in values.items() if name in names and value}
    given["address"] = given.get("address", "").replace(" / ", "\n")
    return NewPerson(**given)


def correction(card: PersonCard) -> Form:
    """Return the sheet that puts names, birth date or NHS number right."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.people import correcting

        if values["born"] != card.born and not values[SURE]:
            effect = correcting.effect_of(desk, card.ref, values["born"])
            changes = "; ".join(effect.changes) or "nothing"
            raise Doubt(f"Born {full_day(values['born'])} changes in the plan: {changes}.")
        given = {name: values[name] for name in correcting.CORRECTED}
        details = {name: v for name, v in given.items() if v != getattr(card, name)}
        version = newest(values, card.version)
        return correcting.correct(desk, card.ref, version, values["why"], **details)

    born = f"{card.born.day}/{card.born.month}/{card.born.year}"
    fields = (
        Field("family_name", "Family name", value=card.family_name, needed=True),
        Field("given_names", "Given names", value=card.given_names),
        Field("born", "Born", "past_day", born, needed=True),
        Field("why", "How it is known", hint="needed for a birth date"),
        Field("known_as", "Known as", value=card.known_as),
        Field("title", "Title", value=card.title),
        Field("nhs_number", "NHS number", value=card.nhs_number),
    )
    return Form("Put right who they are", fields, store, lines=about(card))
