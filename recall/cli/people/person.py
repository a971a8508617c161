"""`recall find` and `recall person`: who is it, what happened, what is open, what changes."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recall.cli.people.card_text import card_text
from recall.cli.people.changes import CHANGES
from recall.cli.shared.acts import WithDefault, act, opened, typed
from recall.cli.shared.common import (
    CONTEXT,
    FILE,
    PAST_DAY,
    acting,
    as_data,
    emit,
    emit_data,
    emit_lines,
    say,
)
from recall.cli.shared.numbers import NUMBER
from recall.cli.shared.whose import emit_whose, say_whose
from recall.errors import InputError, NotFound

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.records.people.finding import Found

_who = click.argument("ref")


@click.command()
@click.argument("text", nargs=-1, required=True)
@click.option("--limit", type=NUMBER, default=30, show_default=True)
@acting
@as_data
def find(text: tuple[str, ...], limit: int, form: str | None, **given: Any) -> None:
    """Find people by names, birth date, number, postcode or reference; all must fit."""
    from recall.desk.people.person_card import contact_stopped_for
    from recall.desk.people.person_card import find as found_by
    from recall.records.people.finding import Found

    with opened(given, reading=True) as desk:
        found = found_by(desk, " ".join(text), limit)
        stopped = {} if form else contact_stopped_for(desk, [one.ref for one in found])
    if form:
        emit_data(form, Found, found)
        return
    for one in found:
        emit_lines(_line(one, stopped.get(one.ref, "")))
    if not found:
        say("Nobody fits.")


@click.group(cls=WithDefault, context_settings=CONTEXT)
def person() -> None:
    """One person: recall person NAME-OR-REFERENCE tells their whole story."""


@person.command()
@click.argument("who", nargs=-1, required=True)
@acting
@as_data
def story(who: tuple[str, ...], form: str | None, **given: Any) -> None:
    """Tell one person's whole story in order, in sentences."""
    from recall.desk.people.timeline import Sentence, timeline

    with opened(given, reading=True) as desk:
        ref = _meant(desk, " ".join(who))
        sentences = timeline(desk, ref)
        if not form:
            emit_whose(desk, ref)
    if form:
        emit_data(form, Sentence, sentences)
        return
    for sentence in sentences:
        emit_lines(str(sentence))


@person.command()
@click.argument("who", nargs=-1, required=True)
@click.option("--out", type=FILE, help="Make it a PDF, to print and hand over.")
@click.option("--no-findings", is_flag=True, help="Do not write down what was found.")
@click.option("--without", multiple=True, metavar="FINDING", help="Leave one finding out.")
@acting
def sheet(
    who: tuple[str, ...],
    out: Path | None,
    no_findings: bool,
    without: tuple[str, ...],
    **given: Any,
) -> None:
    """Show the sheet to take home: what was found, what happens when, what to do."""
    from recall.desk.people.visit_sheet import print_sheet, visit_sheet
    from recall.letters.wording.blocks import plain

    with opened(given, reading=True) as desk:
        ref = _meant(desk, " ".join(who))
        made = visit_sheet(desk, ref, tells_findings=not no_findings, leaves_out=without)
        say_whose(desk, ref)
        if out is None:
            emit(plain(made.body) + "\n")
            return
        print_sheet(desk, made, out)
    say(f"Made: {out}.")


@person.command()
@click.argument("who", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
@click.option("--clinical", is_flag=True, help="Say what was found and what to mind.")
@acting
def card(who: tuple[str, ...], as_json: bool, clinical: bool, **given: Any) -> None:
    """Show what is open, how to reach them and, to whoever examines them, both ears."""
    from recall.desk.people.person_card import person as on_card
    from recall.exchange.out import to_json

    with opened(given, reading=True) as desk:
        found = on_card(desk, _meant(desk, " ".join(who)), clinical=clinical or desk.by.may_decide)
    if as_json:
        emit(to_json([found]))
    else:
        emit_lines(card_text(found))


@person.command()
@_who
@click.option("--day", "died_on", type=PAST_DAY, required=True, help="Of death, or you heard.")
@click.option("--name", default="", help="Their name, typed in full.")
@acting
def died(ref: str, died_on: date, name: str, **given: Any) -> None:
    """Record a death: it stops everything at once. The name is typed to be sure."""
    from recall.desk.core.rights import Right
    from recall.desk.people.deaths import record_death

    def record(desk: Desk) -> Next:
        desk.require(Right.KEEP_PEOPLE)
        with_name = name or typed("Type the person's given and family name")
        return record_death(desk, ref, died_on, with_name)

    act(given, record)


@person.command("not-died")
@_who
@click.option("--why", required=True)
@acting
def not_died(ref: str, why: str, **given: Any) -> None:
    """Take back a death that was recorded in error."""
    from recall.desk.people.deaths import death_in_error

    act(given, lambda d: death_in_error(d, ref, why))


@person.command()
@_who
@acting
def objects(ref: str, **given: Any) -> None:
    """Record that they asked not to be contacted."""
    from recall.desk.people.editing import record_objection

    act(given, lambda d: record_objection(d, ref))


@person.command("not-safe")
@_who
@acting
def not_safe(ref: str, **given: Any) -> None:
    """Record that it is not safe to contact them."""
    from recall.desk.people.editing import record_unsafe

    act(given, lambda d: record_unsafe(d, ref))


@person.command("contact-again")
@_who
@click.argument("what", type=click.Choice(["objected", "unsafe"]))
@click.option("--why", required=True)
@acting
def contact_again(ref: str, what: Any, why: str, **given: Any) -> None:
    """Record that they may be contacted again."""
    from recall.desk.people.editing import withdraw

    act(given, lambda d: withdraw(d, ref, what, why))


@person.command()
@_who
@click.argument("what")
@click.option("--ear", type=click.Choice(["right", "left"]))
@click.option("--since", help="A day or a month.")
@click.option("--until", help="A day or a month.")
@acting
def risk(ref: str, what: str, **given: Any) -> None:
    """Record a risk; the person is planned again."""
    from recall.desk.people.editing import add_risk

    more = {name: given.pop(name) for name in ("ear", "since", "until")}
    act(given, lambda d: add_risk(d, ref, what.replace("-", "_"), **more))


@person.command()
@_who
@click.argument("needs", nargs=-1)
@acting
def needs(ref: str, needs: tuple[str, ...], **given: Any) -> None:
    """Set what they need: an interpreter, a relay call, a hearing loop."""
    from recall.desk.people.editing import edit_needs

    act(given, lambda d: edit_needs(d, ref, None, needs))


@person.command()
@_who
@click.argument("kind", type=click.Choice(["phone", "address", "email"]))
@click.argument("raw", metavar="VALUE")
@click.option("--postcode", default="")
@click.option("--adult", "adult_id", type=NUMBER, help="Whose it is, where not their own.")
@click.option("--safe", type=click.Choice(["yes", "only_this", "no"]), default="yes")
@click.option("--instead-of", type=NUMBER, help="The way that it takes the place of.")
@acting
def reach(ref: str, kind: str, raw: str, **given: Any) -> None:
    """Record a number or an address; lines of an address are separated by commas."""
    from recall.desk.contacts.contact_points import add_contact_point
    from recall.desk.contacts.entries import ContactPoint

    text = raw.replace(", ", "\n") if kind == "address" else raw
    more = {name: given.pop(name) for name in ("postcode", "adult_id", "safe")}
    point, instead_of = ContactPoint(kind, text, **more), given.pop("instead_of")
    act(given, lambda d: add_contact_point(d, ref, point, instead_of))


@person.command()
@_who
@click.argument("name")
@click.argument("role")
@click.option("--relation", default="")
@click.option("--instead", is_flag=True, help="Written to in their place, not beside them.")
@acting
def adult(ref: str, name: str, role: str, relation: str, instead: bool, **given: Any) -> None:
    """Record who answers for them: responsible-adult, attorney, carer, care-home."""
    from recall.desk.people.editing import Adult, add_adult

    who = Adult(name, role.replace("-", "_"), relation, instead)
    act(given, lambda d: add_adult(d, ref, who))


@person.command()
@_who
@click.argument("category")
@click.option("--ear", "ears", multiple=True, required=True, help="right or left; twice for both.")
@click.option("--urgency", help="emergency, urgent, high, medium or low.")
@click.option("--why", required=True, help="In words.")
@acting
def look(
    ref: str, category: str, ears: tuple[str, ...], urgency: str | None, why: str, **given: Any
) -> None:
    """Ask for another look between visits: hearing-check, fluid-recheck and the like."""
    from recall.desk.plans.clinician_asks import ask_look

    word = category.replace("-", "_")
    act(given, lambda d: ask_look(d, ref, word, ears, urgency, why))


@person.command()
@_who
@click.argument("of")
@click.option("--ear", type=click.Choice(["right", "left"]))
@click.option("--track", help="What is followed: fluid, retraction and the like.")
@click.option("--since", help="A day or a month.")
@click.option("--until", help="A day or a month.")
@acting
def care(ref: str, of: str, **given: Any) -> None:
    """Record that a service follows something, so that it is not referred again."""
    from recall.desk.visits.care_elsewhere import CareElsewhere, record_care

    more = {name: given.pop(name) for name in ("ear", "track", "since", "until")}
    there = CareElsewhere(of.replace("-", "_"), **more)
    act(given, lambda d: record_care(d, ref, there))


@person.command("care-ended")
@click.argument("care_id", metavar="CARE", type=NUMBER)
@click.option("--why", required=True)
@acting
def care_ended(care_id: int, why: str, **given: Any) -> None:
    """Record that care elsewhere has ended."""
    from recall.desk.visits.care_elsewhere import end_care

    act(given, lambda d: end_care(d, care_id, why))


@person.command()
@_who
@click.argument("documented", metavar="DAY")
@click.argument("ear", type=click.Choice(["right", "left"]))
@click.option("--source", required=True, help="Who documented it.")
@click.option("--effusion", type=click.Choice(["absent", "suspected", "present"]))
@click.option("--grommet-on", help="The day or month a grommet was put in.")
@click.option("--surgery", help="Which operation.")
@click.option("--hearing-tested", is_flag=True, default=None, help="Hearing was tested that day.")
@acting
def told(ref: str, documented: str, ear: str, source: str, **given: Any) -> None:
    """Record what others have documented, on a day or in a month."""
    from recall.desk.visits.care_elsewhere import record_told

    found = {
        name: given.pop(name) for name in ("effusion", "grommet_on", "surgery", "hearing_tested")
    }
    act(given, lambda d: record_told(d, ref, documented, ear, source, **found))


for _change in CHANGES:
    person.add_command(_change)


def _meant(desk: Desk, text: str) -> str:
    """Return the one reference that a name or reference means."""
    from recall.desk.core.person_lookup import reference_of
    from recall.desk.people.person_card import find as found_by

    if (meant := reference_of(desk, text)) is not None:
        return meant
    found = found_by(desk, text, 10)
    if not found:
        raise NotFound("Nobody fits.", hint="Try fewer words, or the birth date.")
    if len(found) > 1:
        for one in found:
            say(_line(one).rstrip())
        raise InputError(f"{len(found)} people fit.", hint="Give the reference.")
    return found[0].ref


def _line(one: Found, stopped: str = "") -> str:
    name = f"{one.given_names} {one.family_name}".strip()
    mind = f"\n{'':<12} ! Do not contact: {stopped}." if stopped else ""
    return f"{one.ref:<12} {name}, born {one.born}, {one.postcode or 'no postcode'}{mind}\n"
