"""`recall ahead`: the work of the coming weeks, levelled, and what if."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import DAY, acting, as_data, emit_data, emit_lines, gathered
from recall.cli.shared.numbers import AtLeast
from recall.errors import InputError

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.oversight.ahead import Ahead, Change


def _change(
    open_on: date | None, away: str | None, since: date | None, for_weeks: int, portion: int | None
) -> Change | None:
    from recall.desk.oversight.ahead import Change

    if since and not away:
        raise InputError("--from says since when somebody is --away: name them.")
    if open_on is None and away is None and portion is None:
        return None
    return Change(open_on, away or "", since, for_weeks, portion)


@click.command()
@click.option("--weeks", type=click.IntRange(1, 52), default=12, show_default=True)
@click.option("--split", type=click.Choice(("practitioner", "skill", "site")), help="By each.")
@click.option("--level", is_flag=True, help="Spread what is not booked over the days.")
@gathered(
    "change",
    _change,
    click.option("--open", "open_on", type=DAY, help="What if: one clinic day more."),
    click.option("--away", metavar="HANDLE", help="What if: a practitioner is away."),
    click.option("--from", "since", type=DAY, help="With --away; from today where left out."),
    click.option(
        "--for-weeks", type=click.IntRange(1, 26), default=3, show_default=True, help="With --away."
    ),
    click.option("--portion", type=AtLeast(1), help="What if: so much backlog a week."),
)
@acting
@as_data
def ahead(
    weeks: int, split: Any, level: bool, change: Change | None, form: str | None, **given: Any
) -> None:
    """Print the work of the coming weeks against what the rota gives, in hours.

    With --level, the days before and after spreading what is not booked inside its windows. With
    --open, --away or --portion, which asks would be late so. Nothing is changed.
    """
    from recall.desk.oversight import ahead as desk_ahead

    if sum((split is not None, level, change is not None)) > 1:
        raise InputError("--split, --level, or a what-if: one of them.")
    with opened(given, reading=True) as desk:
        found = desk_ahead.ahead(desk, weeks)
        if change is not None:
            _tried(desk, found, change, form)
        elif level:
            _levelled(desk, found, form)
        else:
            _weeks(desk, found, split, form)


def _tried(desk: Desk, found: Ahead, change: Change, form: str | None) -> None:
    from recall.desk.oversight import ahead_text
    from recall.desk.oversight.ahead import what_if

    tried = what_if(desk, found, change)
    if form:
        emit_data(form, ahead_text.LateRow, ahead_text.late_rows(tried))
    else:
        emit_lines(ahead_text.as_tried(tried))


def _levelled(desk: Desk, found: Ahead, form: str | None) -> None:
    from recall.desk.oversight import ahead_text
    from recall.desk.oversight.ahead import levelled

    proposal = levelled(desk, found)
    if form:
        emit_data(form, ahead_text.DayRow, ahead_text.day_rows(proposal))
    else:
        emit_lines(ahead_text.as_levelled(proposal))


def _weeks(desk: Desk, found: Ahead, split: Any, form: str | None) -> None:
    from recall.desk.oversight import ahead_text

    if form:
        emit_data(form, ahead_text.WeekRow, ahead_text.week_rows(found, split))
    elif split:
        emit_lines(ahead_text.as_groups(found, split))
    else:
        emit_lines(ahead_text.as_text(found, desk.calendar))
