"""Beside the manager's lists: the fullest days levelled, what a change would do, the bars."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from recall.errors import InputError
from tui.dialogs.form import Field, Form, Values
from tui.manager.accounts import quarter

if TYPE_CHECKING:
    from recall.desk.core.session import Desk

AHEAD = "ahead"
"""The list on which they are tried."""
FULLEST = 12
"""So many days are shown before and after levelling: the fullest."""
LONGEST_AWAY = 26
"""Weeks for which somebody may be away in what is tried."""


def levelled_days(desk: Desk) -> str:
    """Return the fullest days before and after spreading what is not booked."""
    from recall.desk.oversight import ahead_text
    from recall.desk.oversight.ahead import ahead, levelled

    return ahead_text.as_levelled(levelled(desk, ahead(desk)), FULLEST)


def bars(desk: Desk, *, back: int) -> str:
    """Return the twelve months as bars, up to the end of a quarter or the last whole month."""
    from recall.desk.oversight.month_figures import figures
    from recall.desk.oversight.month_paper import as_bars

    return as_bars(figures(desk, month_of(desk.today, back)))


def month_of(today: date, back: int) -> date:
    """Return a day of the last whole month of a quarter, so many before this one.

    >>> str(month_of(date(2026, 9, 7), 0)), str(month_of(date(2026, 9, 7), 1))
    ('2026-08-31', '2026-06-30')
    """
    whole = today.replace(day=1) - timedelta(days=1)
    return min(whole, quarter(today, back)[1])


def what_if_sheet() -> Form:
    """Ask what is to be tried; gives what it would come to, in words."""
    fields = (
        Field("open_on", "One clinic day more", "day", hint="a day that is closed: sat, +5"),
        Field("away", "Somebody away", hint="their handle on the rota"),
        Field("away_from", "Away from", "day", hint="today where left empty"),
        Field("weeks_away", "Weeks away", "number", value="3"),
        Field("portion", "Backlog a week", "number", hint="another portion of what is late"),
    )
    lines = ("Which asks would be late without the change, and with it. Nothing is changed.",)
    return Form("What if", fields, _tried, lines=lines, does="Try it")


def _tried(desk: Desk, values: Values) -> str:
    from recall.desk.oversight import ahead_text
    from recall.desk.oversight.ahead import Change, ahead, what_if

    away, weeks, portion = values["away"].strip(), values["weeks_away"], values["portion"]
    if values["open_on"] is None and not away and portion is None:
        raise InputError("Nothing is to be tried.", hint="Fill in a day, a handle or a portion.")
    if values["away_from"] is not None and not away:
        raise InputError("Nobody is named who is away.", hint="Give their handle.")
    if not 1 <= (3 if weeks is None else weeks) <= LONGEST_AWAY:
        raise InputError(f"Weeks away are from 1 to {LONGEST_AWAY}.")
    if portion is not None and portion < 1:
        raise InputError("A portion is 1 or more.")
    change = Change(values["open_on"], away, values["away_from"], weeks or 3, portion)
    return ahead_text.as_tried(what_if(desk, ahead(desk), change))
