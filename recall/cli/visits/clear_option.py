"""`--clear`, `--saw`, `--hears` of `recall close`: ears that are clear as far as they were seen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, get_args

import click

from recall.care.clear_ear import Hears, Seen, Wax
from recall.cli.shared.common import PAST_DAY, gathered, say
from recall.errors import InputError

if TYPE_CHECKING:
    from recall.care.case import Visit
    from recall.care.ear import Side
    from recall.desk.core.session import Desk
    from recall.desk.visits.clearing import Clear

NOT_ASKED = "not-asked"


@dataclass(frozen=True, slots=True)
class Examined:
    """What was looked at: on which day, findings in a file, ears that are clear."""

    on: date | None
    findings: str | None
    clear: Clear | None


def _examined(
    visit_on: date | None,
    findings: str | None,
    clear: Wax | None,
    saw: Seen | None,
    hears: Hears | str | None,
) -> Examined:
    return Examined(visit_on, findings, _clear(clear, saw, hears))


def _clear(clear: Wax | None, saw: Seen | None, hears: Hears | str | None) -> Clear | None:
    """Return what the options say; None where none is given."""
    from recall.desk.visits.clearing import Clear

    if clear is None:
        if saw is not None or hears is not None:
            raise InputError("What was found is missing.", hint="Add --clear.")
        return None
    if saw is None:
        raise InputError("What was really seen is missing.", hint="Add --saw.")
    if hears is None and clear != "none":
        raise InputError("How they hear now is missing.", hint="Add --hears; it may be not-asked.")
    return Clear(clear, saw, next((h for h in get_args(Hears) if h == hears), None))


FINDINGS = click.option(
    "--findings", metavar="FILE", help="The visit as in a case file, as JSON; - for stdin."
)
examined = gathered(
    "examined",
    _examined,
    click.option("--visit-on", type=PAST_DAY, help="The day of the visit, where it is not today."),
    FINDINGS,
    click.option(
        "--clear", type=click.Choice(get_args(Wax)), help="Clear ears: what wax was found."
    ),
    click.option("--saw", type=click.Choice(get_args(Seen)), help="What was really seen of them."),
    click.option(
        "--hears",
        type=click.Choice([*get_args(Hears), NOT_ASKED]),
        help="How they hear now that the wax is out.",
    ),
)


def with_clear(
    desk: Desk, person: str, visit: Visit, clear: Clear | None, ears: tuple[Side, ...]
) -> Visit:
    """Return the visit with ears written as clear, and say what was left to be looked at."""
    from dataclasses import replace

    from recall.desk.visits.clearing import clear_visit

    if clear is None:
        return visit
    made = clear_visit(desk, person, visit, replace(clear, ears=ears or clear.ears))
    for side, name in made.left_open:
        said = f"{side} {name.replace('_', ' ')}"
        say(f"? Not normal last time, so not written: {said}. Give it in --findings.")
    return made.visit
