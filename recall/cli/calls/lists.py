"""`recall queue`, `overdue`, `lost`, `referrals`: the same rows as text, CSV or JSON."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import click

from recall.care.services import to_whom
from recall.cli.shared.common import (
    WIDTH,
    acting,
    as_data,
    at_site,
    days,
    desk,
    emit,
    emit_data,
    moment,
    say,
    shown,
)
from recall.cli.shared.numbers import AtLeast
from recall.errors import InputError
from recall.schedule.calendar import say_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.worklists.lists import Line
    from recall.desk.worklists.queue_lines import QueueLine
    from recall.desk.worklists.referral_list import ReferralLine

_INDENT = "   "
_clinical = click.option("--clinical", is_flag=True, help="Say what was found; not for the desk.")
_limit = click.option("--limit", type=AtLeast(1), help="At most so many rows.")
_known_at = click.option(
    "--known-at", metavar="INSTANT", help="Only what was recorded by then, as 2026-09-01T12:00."
)


def _options(command: Any) -> Any:
    return acting(at_site(as_data(_limit(_clinical(_known_at(command))))))


@click.command()
@click.option("--letters", is_flag=True, help="Show what the weekly letters do as well.")
@click.option("--clinician", is_flag=True, help="Who waits for a clinician instead.")
@_options
def queue(letters: bool, clinician: bool, **given: Any) -> None:
    """Whom to contact on a day, one line a person, the most pressing first, and what to do."""
    from recall.desk.worklists.lists import for_clinician
    from recall.desk.worklists.queue_lines import QueueLine, queue_lines

    if clinician:
        _follow_ups(given, "For a clinician", for_clinician)
        return
    show = _Shown(QueueLine, "To contact", queue_text)
    _print(given, show, lambda *on, **how: queue_lines(*on, letters=letters, **how))


@click.command()
@_options
def overdue(**given: Any) -> None:
    """Everybody open past the latest day, booked or not."""
    from recall.desk.worklists.lists import overdue as rows_of

    _follow_ups(given, "Overdue", rows_of)


@click.command()
@_options
def lost(**given: Any) -> None:
    """Those for whom every contact step is used up: a named clinician decides."""
    from recall.desk.worklists.lists import lost as rows_of

    _follow_ups(given, "Lost, a decision is awaited", rows_of)


@click.command()
@click.option("--all", "everything", is_flag=True, help="All open ones, not only those to chase.")
@_options
def referrals(everything: bool, **given: Any) -> None:
    """Referrals of which the next stage is not known by its day."""
    from recall.desk.worklists.referral_list import ReferralLine
    from recall.desk.worklists.referral_list import referrals as rows_of

    title = "Open referrals" if everything else "Referrals to chase"
    show = _Shown(ReferralLine, title, referral_text)
    _print(given, show, lambda *on, **how: rows_of(*on, everything=everything, **how))


class _Shown:
    """How the rows of a list are shown."""

    def __init__(self, kind: type[Any], title: str, text: Callable[[int, Any, date], str]) -> None:
        self.kind = kind
        self.title = title
        self.text = text


def _follow_ups(given: dict[str, Any], title: str, rows_of: Callable[..., Sequence[Line]]) -> None:
    from recall.desk.worklists.lists import Line

    _print(given, _Shown(Line, title, line_text), rows_of)


def _print(given: dict[str, Any], show: _Shown, rows_of: Callable[..., Sequence[Any]]) -> None:
    """Print a list in the form asked for; what must be known first goes beside it."""
    from recall.desk.core.narrowing import sites_shown
    from recall.desk.oversight.notices import announcements
    from recall.desk.worklists.day_list import Part

    config: Path | None = given["config"]
    with desk(config, given["by"], given["on"], reading=True, site=given["site"]) as opened:
        part = Part(given["limit"], known_at=_instant(opened, given["known_at"]))
        rows = rows_of(opened, part, clinical=given["clinical"])
        for sentence in announcements(opened):
            say(f"Note: {sentence}")
        today, place = opened.today, sites_shown(opened)
    if given["form"]:
        emit_data(given["form"], show.kind, rows)
        return
    first = "the first " if len(rows) == given["limit"] else ""
    title = ", ".join(filter(None, (show.title, place)))
    emit(f"{title} on {say_day(today, weekday=True)}: {first}{len(rows)}\n")
    for number, row in enumerate(rows, 1):
        emit("\n" + show.text(number, row, today))


def _instant(opened: Desk, text: str | None) -> datetime | None:
    """Return an instant given in the practice's own time."""
    if text is None:
        return None
    try:
        return opened.clock.local(moment(text))
    except ValueError:
        raise InputError(f"{text!r} is no instant.", hint="Write it as 2026-09-01T12:00.") from None


def line_text(number: int, row: Line, today: date) -> str:
    """Return a follow-up as a few lines of plain text, with the number that commands take."""
    return _follow_up(number, row, [] if row.contact_stopped else [_call(row), _say(row)])


def queue_text(number: int, row: QueueLine, today: date) -> str:
    """Return somebody to contact as lines of plain text: what is to be known before one rings."""
    first = [f"In hand: {row.claim}."] if row.claim else []
    if row.rings and not row.contact_stopped:
        first += [f"Ask for {row.ask_for}", *_to_try(row), _say(row)]
    first += [f"Today: {row.spoken}."] if row.spoken else []
    first += [f"! Tell them: {told}" for told in row.to_tell]
    first += [f"Note: {note}" for note in row.notes]
    return _follow_up(number, row, first)


def _follow_up(number: int, row: Line, first: Sequence[str]) -> str:
    about = f"{row.reference}  {row.name}  born {say_day(row.born)}  {row.postcode}"
    said = [*first, _when(row), f"Next: {row.next} [{row.follow_up_id}]"]
    said += [f"Tried: {row.tried}."] if row.tried else []
    said += [f"! {warning}" for warning in row.warnings]
    said += [row.clinical] if row.clinical else []
    return _block(f"{number}. {row.urgency.upper()}  {about}", said)


def _to_try(row: QueueLine) -> list[str]:
    """Return one line for each number, in the order to try, with whose it is."""
    if not row.numbers:
        return ["Ring: no number"]
    return [f"{'or' if n else 'Ring:'} {number}" for n, number in enumerate(row.numbers)]


def _say(row: Line) -> str:
    return f"Say: {row.why}"


def _call(row: Line) -> str:
    return f"{row.number or 'no number'}, ask for {row.ask_for}"


def _when(row: Line) -> str:
    late = f"{days(row.late_by_days)} late, l" if row.late_by_days else "L"
    booked = f"; booked for {say_day(row.booked_on)}" if row.booked_on else ""
    return f"{late}atest day {say_day(row.latest)}{booked}"


def referral_text(number: int, row: ReferralLine, today: date) -> str:
    """Return a referral as a few lines of plain text, with the number that commands take."""
    about = f"{row.reference}  {row.name}  born {say_day(row.born)}  {row.postcode}"
    late = f"{days(row.late_by_days)} ago" if row.late_by_days else "today"
    if row.chase_on > today:
        late = f"on {say_day(row.chase_on)}"
    route = ", through the GP" if row.route == "gp" else ""
    said = [
        f"To {to_whom(row.to, row.ears)}{route}, asked on {say_day(row.asked_on)}; "
        f"to be seen by {say_day(row.seen_by)}",
        f"Next: {row.next} To be known {late}. {_numbers(row.numbers)}",
        *(f"! {warning}" for warning in row.warnings),
    ]
    said += [row.clinical] if row.clinical else []
    return _block(f"{number}. {row.urgency.upper()}  {about}", said)


def _numbers(numbers: Sequence[int]) -> str:
    return " ".join(f"[{number}]" for number in numbers)


def _block(head: str, said: Sequence[str]) -> str:
    first = fill(shown(head.rstrip()), WIDTH, subsequent_indent=_INDENT)
    rest = [
        fill(shown(s), WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT * 2) for s in said
    ]
    return "\n".join([first, *rest]) + "\n"
