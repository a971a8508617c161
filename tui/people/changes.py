"""The sheets that change what is recorded of a person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, get_args

from recall.care.case import RiskWord
from recall.desk.contacts.entries import ContactPoint
from recall.errors import RecallError, Refused
from tui.dialogs.form import SURE, Checks, Doubt, Field, Form, Values, newest
from tui.people.card import SAFE_WORDS
from tui.words.text import full_day, plain

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.people.person_card import PersonCard

Choices = Sequence[tuple[str, str]]
NEW = "new"
SAFE = (
    ("yes", "Safe to use"),
    ("only_this", "Only this one is safe"),
    ("no", "Not safe: never use it"),
)
DIED_ON = "as told: 3/9 or yesterday; where nobody knows: today"
NEEDED = ("language", "format", "caller_note", "site")
Sites = tuple[tuple[str, str], ...]
"""The practice's sites by handle and name; nothing where it is one place."""
FORMS = (
    ("standard", "Standard letters"),
    ("large", "Large print"),
    ("email", "By e-mail"),
    ("spoken", "Spoken: by telephone"),
)
ROLES = (
    ("responsible_adult", "Responsible adult"),
    ("attorney", "Attorney or deputy"),
    ("carer", "Carer"),
    ("care_home", "Care home"),
)
EARS = (("", "Both, or the person"), ("right", "Right ear"), ("left", "Left ear"))


def about(card: PersonCard) -> tuple[str, ...]:
    """Return who a sheet is about, as for the identity check."""
    found = [way.postcode for way in card.contact_points if way.kind == "address" and way.postcode]
    postcode = found[0] if found else "no postcode"
    return (f"{card.name}, born {full_day(card.born)}, {postcode}, {card.ref}",)


def contact_point_choices(card: PersonCard) -> Choices:
    """Return every way to reach a person, and the kinds that can be added."""
    ways = [
        (str(way.id), f"{way.kind}: {way.raw}, {_owner(card, way)}") for way in card.contact_points
    ]
    kinds = (("phone", "a number"), ("address", "an address"), ("email", "an e-mail address"))
    return [*ways, *((f"{NEW} {kind}", f"Add {words}") for kind, words in kinds)]


def _owner(card: PersonCard, way: Any) -> str:
    """Return whose a number or address is: the adult's, or the person's own."""
    if way.adult_id is None:
        return card.name
    names = {adult.id: adult.name for adult in card.adults}
    return names.get(way.adult_id, "an adult who answers no longer")


def contact_point_sheet(card: PersonCard, value: str) -> Form:
    """Return the sheet for a way to reach a person, or for a new one."""
    if value.startswith(NEW):
        return _new_way(card, value.partition(" ")[2])
    return _known_way(card, int(value))


def _new_way(card: PersonCard, kind: str) -> Form:
    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import contact_points

        if not values[SURE]:
            _doubt(desk, kind, values)
        raw = values["raw"].replace(" / ", "\n") if kind == "address" else values["raw"]
        adult = int(values["whose"]) if values["whose"] else None
        postcode, label, safe = values.get("postcode", ""), values["label"], values["safe"]
        point = ContactPoint(kind, raw, postcode, adult_id=adult, label=label, safe=safe)
        return contact_points.add_contact_point(desk, card.ref, point)

    whose = (("", "The person's own"), *((str(a.id), a.name) for a in card.adults))
    hint = "lines with “ / ” between" if kind == "address" else ""
    fields = [Field("raw", kind.capitalize(), hint=hint, needed=True)]
    if kind == "address":
        fields.append(Field("postcode", "Postcode"))
    fields += [
        Field("label", "Label", hint="home, work, …"),
        Field("whose", "Whose", "choice", choices=whose),
        Field("safe", "Safe?", "choice", choices=SAFE),
    ]
    return Form(
        "Add a way to reach them", fields, store, lines=about(card), checks=Checks(blame=_blamed)
    )


def _blamed(error: RecallError, values: Values) -> str:
    """Return which field of a new way is to be typed anew."""
    if not isinstance(error, Doubt):
        return ""
    return "postcode" if "postcode" in values else "raw"


def _doubt(desk: Desk, kind: str, values: Values) -> None:
    """Ask before something is stored that cannot be dialled, written to or found.

    Raises:
        Doubt: it is likely mistyped.
    """
    from recall.exchange import identifiers
    from recall.exchange.phone_cells import PhoneCell, phone_cell

    found: PhoneCell | identifiers.Identifier | None
    country = desk.config.calendar.country
    code = values.get("postcode", "")
    if kind == "address":
        found = identifiers.postcode(code, country) if code else None
    elif kind == "phone":
        found = phone_cell(values["raw"], country)
    else:
        found = identifiers.email(values["raw"])
    if found is not None and found.wrong:
        raise Doubt(f"“{found.raw}”: {found.wrong}.", hint=f"Usual: {found.right}.")


def _known_way(card: PersonCard, number: int) -> Form:
    way = next(each for each in card.contact_points if each.id == number)

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import contact_points

        if values["ends"]:
            return contact_points.end_contact_point(desk, number, values["ends"])
        checked = values["checked"] == "yes"
        return contact_points.edit_contact_point(
            desk, number, safe=values["safe"], label=values["label"], checked=checked
        )

    said = SAFE_WORDS.get(way.safe, "")
    fields = (
        Field("safe", "Safe?", "choice", way.safe, choices=SAFE),
        Field("label", "Label", value=way.label),
        Field("checked", "Checked today?", "choice", choices=(("no", "No"), ("yes", "Yes"))),
        Field("ends", "If it is right no longer, why", hint="ends it"),
    )
    lines = (*about(card), f"{way.kind}: {way.raw}, {_owner(card, way)}. {said}")
    return Form("Change a way to reach them", fields, store, lines=lines)


def needs(card: PersonCard, sites: Sites = ()) -> Form:
    """Return the sheet for language, form of letters and what helps."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.people import editing

        tidy = tuple(part.strip() for part in values["needs"].split(";") if part.strip())
        given = {name: values[name] for name in NEEDED if name in values}
        # What was not touched here stays as another desk has it by now.
        changed = {name: v for name, v in given.items() if v != getattr(card, name)}
        changed |= {} if tidy == tuple(card.needs) else {"needs": tidy}
        return editing.edit_details(desk, card.ref, newest(values, card.version), **changed)

    fields = (
        Field("language", "Language", value=card.language, hint="en, cy, ur, …; empty: usual"),
        Field("format", "Letters", "choice", card.format, choices=FORMS),
        Field("needs", "What helps", value="; ".join(card.needs), hint="with ; between"),
        Field("caller_note", "Before contact", value=card.caller_note, hint="for whoever rings"),
        *site_field(sites, card.site),
    )
    return Form("What they need", fields, store, lines=about(card))


def site_field(sites: Sites, own: str) -> tuple[Field, ...]:
    """Return the field for the site somebody belongs to; nothing where there is one place."""
    known = own if own in dict(sites) else ""
    choices = (("", "All of them"), *sites)
    return (Field("site", "Site", "choice", known, choices=choices),) if sites else ()


def risk_choices(card: PersonCard) -> Choices:
    """Return the risks on record, and adding one."""
    known = [(str(r.id), f"End: {r.what.replace('_', ' ')}") for r in card.risks]
    return [(NEW, "Add a risk"), *known]


def risk_sheet(card: PersonCard, value: str) -> Form:
    """Return the sheet for a new risk, or for ending one."""
    if value == NEW:
        return _new_risk(card)

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.people import editing

        return editing.end_risk(desk, int(value), values["why"], values["until"] or None)

    fields = (
        Field("why", "Why", needed=True),
        Field("until", "It held until", hint="2026-08 or 2026-08-31; empty: it was never so"),
    )
    return Form("End a risk", fields, store, lines=about(card))


def _new_risk(card: PersonCard) -> Form:
    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.people import editing

        ear, since = values["ear"] or None, values["since"] or None
        return editing.add_risk(desk, card.ref, values["what"], ear=ear, since=since)

    risks = tuple((word, word.replace("_", " ")) for word in get_args(RiskWord))
    fields = (
        Field("what", "Risk", "choice", choices=risks, hint="its first letter finds it"),
        Field("ear", "Ear", "choice", choices=EARS),
        Field("since", "Since", hint="2026-08 or 2026-08-31; empty: not known"),
    )
    lines = (*about(card), "The person is planned again with it.")
    return Form("Add a risk", fields, store, lines=lines)


def adult_choices(card: PersonCard) -> Choices:
    """Return who answers for a person, and adding somebody."""
    known = [(str(a.id), f"End: {plain(a.name)}") for a in card.adults]
    return [(NEW, "Add somebody"), *known]


def adult_sheet(card: PersonCard, value: str) -> Form:
    """Return the sheet for somebody who answers for a person."""
    if value == NEW:
        return _new_adult(card)

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.people import editing

        return editing.end_adult(desk, int(value), values["why"])

    return Form("Answers for them no longer", (Field("why", "Why", needed=True),), store)


def _new_adult(card: PersonCard) -> Form:
    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.people import editing

        instead = values["instead"] == "yes"
        adult = editing.Adult(values["name"], values["role"], values["relation"], instead)
        return editing.add_adult(desk, card.ref, adult)

    fields = (
        Field("name", "Name", needed=True),
        Field("role", "As what", "choice", choices=ROLES),
        Field("relation", "Relation", hint="mother, son, …"),
        Field(
            "instead",
            "Letters go to this person instead",
            "choice",
            choices=(("no", "No"), ("yes", "Yes")),
        ),
    )
    return Form("Add somebody who answers for them", fields, store, lines=about(card))


def objection(card: PersonCard) -> Form:
    """Return the sheet that records an objection; the family name is typed."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.people import editing

        return editing.record_objection(desk, card.ref)

    def check(values: Values) -> str:
        typed = plain(values["name"]).casefold()
        fits = bool(typed) and plain(card.name).casefold().endswith(typed)
        return "" if fits else "That is not this person's family name: nothing was recorded."

    fields = (Field("name", "Type the family name to go on", needed=True),)
    lines = (*about(card), "Every letter and call stops at once, until a clinician decides.")
    return Form(
        "Asked not to be contacted?",
        fields,
        store,
        lines=lines,
        checks=Checks(check),
        does="Record it",
    )


def death(card: PersonCard) -> Form:
    """Return the sheet that records a death; the whole name is typed."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.people import deaths

        version = newest(values, card.version)
        return deaths.record_death(desk, card.ref, values["on"], values["name"], version=version)

    fields = (
        Field("name", "Type the person's whole name to go on", needed=True),
        Field("on", "Died on", "past_day", needed=True, hint=DIED_ON),
    )
    lines = (
        *about(card),
        "Appointments are called off, letters held and calls stopped at once, everywhere.",
    )
    # The day was read by the sheet itself: what the register cannot take is the name.
    checks = Checks(blame=lambda error, _values: "name" if isinstance(error, Refused) else "")
    return Form(
        "Record a death", fields, store, lines=lines, does="Record the death", checks=checks
    )
