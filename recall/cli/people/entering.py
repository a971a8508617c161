"""`recall person new` and `recall person correct`: somebody new, and who they are put right."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import click

from recall.cli.people.person import person
from recall.cli.shared.acts import VERSION, act, opened
from recall.cli.shared.common import PAST_DAY, acting, emit_lines, gathered

if TYPE_CHECKING:
    from recall.desk.people.new_person import NewPerson

_NAMES = (
    click.option("--title", default="", help="Such as Mr, Ms, Dr."),
    click.option("--known-as", default="", help="What they are called, where it is another name."),
)


def _new(**given: Any) -> NewPerson:
    """Return what the options say of somebody new."""
    from recall.desk.people.new_person import NewPerson

    return NewPerson(**given)


@person.command()
@gathered(
    "made",
    _new,
    click.argument("given_names", metavar="GIVEN"),
    click.argument("family_name", metavar="FAMILY"),
    click.argument("born", type=PAST_DAY),
    *_NAMES,
    click.option("--phone", default="", help="A number to ring."),
    click.option("--email", default=""),
    click.option("--address", default="", help="Lines with commas between."),
    click.option("--postcode", default=""),
    click.option("--nhs-number", default=""),
    click.option("--adult", default="", help="Who answers for them; needed for a child."),
    click.option("--relation", default="", help="Mother, son, and the like."),
    click.option("--language", default="", help="Such as cy; the practice's where left out."),
    click.option("--gp", default="", help="Name and practice."),
    click.option("--note", "caller_note", default="", help="What to know before contact."),
    click.option("--site", default="", help="Theirs, where there are several; else your own."),
    click.option("--ref", default="", help="The practice's own reference, where it is known."),
)
@click.option("--not", "others", multiple=True, metavar="REF", help="Looked at: somebody else.")
@acting
def new(made: NewPerson, others: tuple[str, ...], **given: Any) -> None:
    """Write somebody new down, born on a day: 1948-03-07, 7/3/48.

    Who may be the same person is looked for first; while somebody is found, nothing is written.
    """
    from dataclasses import replace

    from recall.desk.people.new_person import add_person

    made = replace(made, address=made.address.replace(", ", "\n"))
    act(given, lambda desk: add_person(desk, made, others))


def _right(**given: Any) -> dict[str, Any]:
    """Return what is to be put right: the options that were given."""
    return {name: value for name, value in given.items() if value is not None}


@person.command()
@click.argument("ref")
@gathered(
    "details",
    _right,
    click.option("--title", help="Such as Mr, Ms, Dr."),
    click.option("--given", "given_names", help="The given names."),
    click.option("--family", "family_name", help="The family name."),
    click.option("--known-as", help="What they are called."),
    click.option("--born", type=PAST_DAY, help="The birth date: 1948-03-07, 7/3/48."),
    click.option("--nhs-number", help="The NHS number."),
)
@click.option("--why", default="", help="How it is known; needed for a birth date.")
@click.option("--show", "only_show", is_flag=True, help="Say what would change; store nothing.")
@VERSION
@acting
def correct(
    ref: str,
    details: dict[str, Any],
    why: str,
    only_show: bool,
    version: int | None,
    **given: Any,
) -> None:
    """Put a name, a birth date or an NHS number right.

    The history keeps who, when, from what to what. Another birth date plans the person again.
    """
    from recall.desk.people.correcting import correct as put_right

    if only_show:
        _show(ref, details.get("born"), given)
    else:
        act(given, lambda desk: put_right(desk, ref, version, why, **details))


def _show(ref: str, born: date | None, given: dict[str, Any]) -> None:
    """Say what another birth date would change."""
    from recall.desk.people.correcting import NOTHING, effect_of

    with opened(given) as desk:
        effect = effect_of(desk, ref, born) if born else NOTHING
    for line in effect.changes or ("Nothing would change in the plan.",):
        emit_lines(line)
    for each in effect.milder:
        emit_lines(f"! Milder: {each.words()}")
