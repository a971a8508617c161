"""The accounts on the screen: a quarter's asks state by state, each number opening its people."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

from textual.content import Content

from tui.manager.lists import Listed, RegisterList, labelled, right
from tui.widgets.row_list import Part
from tui.words.signs import LOUDNESS, URGENCY_KINDS, URGENCY_WORDS, words
from tui.words.text import full_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.oversight.accounts import Accounts

ID = "accounts"
KEYS = ("open", "quarter_before", "quarter_after", "draw", "export", "again")


def quarter(today: date, back: int) -> tuple[date, date]:
    """Return the first and last day of the quarter so many before that of a day.

    >>> [str(day) for day in quarter(date(2026, 2, 3), 1)]
    ['2025-10-01', '2025-12-31']
    """
    months = 12 * today.year + 3 * ((today.month - 1) // 3 - back)
    first = date(months // 12, months % 12 + 1, 1)
    after = (first + timedelta(days=100)).replace(day=1)
    return first, after - timedelta(days=1)


def accounts_list(back: int) -> RegisterList:
    """Return the list of what became of every ask of a quarter, so many before this one."""
    read = partial(_read, back=back)
    nothing = "Nothing was due in these days."
    return RegisterList(ID, "Accounts", read, None, draw_state, more_state, KEYS, nothing, head)


def behind_list(row: Any, back: int) -> RegisterList:
    """Return the list of the people behind a number of a quarter's accounts."""
    read = partial(_behind, row=row, back=back)
    return RegisterList(ID, "Accounts", read, None, draw_ask, more_ask, KEYS, "Nobody.")


def _accounts(desk: Desk, back: int) -> Accounts:
    from recall.accounts.cohort import Cohort, Period
    from recall.desk.oversight.accounts import accounts

    return accounts(desk, Cohort(Period(*quarter(desk.today, back))))


def _read(desk: Desk, back: int) -> Listed:
    from recall.desk.oversight import accounts_rows
    from recall.desk.oversight.accounts_text import headline, in_time_words

    found = _accounts(desk, back)
    rows = [
        row
        for row in (*accounts_rows.state_rows(found), *accounts_rows.beside(found))
        if row.asks or row.known_then or row.known_since
    ]
    told = found.now.rechecks
    says = headline(found.cohort)
    summed = f"{told.asks:,} re-checks, each in one line. "
    share = in_time_words(accounts_rows.share_in_time(found))
    return Listed(rows, f"{says[:1].upper()}{says[1:]}: {summed}{share}")


def _behind(desk: Desk, row: Any, back: int) -> Listed:
    from recall.desk.oversight import accounts_rows

    found = _accounts(desk, back)
    lines = accounts_rows.people_of(desk, found, row)
    return Listed(lines, f"{row.of.capitalize()}, {row.says}: {len(lines):,}. f leads back.")


def draw_state(row: Any, width: int, today: date) -> Sequence[Part]:
    """Return one state: how many are in it, and were on the quarter's last day."""
    kind = "alarm" if row.state.startswith(("late", "lost", "not_sent_late")) and row.asks else ""
    then = "" if row.known_then is None else f"{row.known_then:,}"
    since = "" if row.known_since is None else f"{row.known_since:,}"
    return [
        (f"{row.of}: {row.says}", max(20, width - 36), ""),
        *right(then, 7, "quiet"),
        *right(since, 7, "quiet"),
        *right(f"{row.asks:,}", 7, kind),
        *right(f"{row.missed:,}" if row.missed else "", 8, "quiet"),
        *right(f"{row.people:,}", 7, ""),
    ]


def head(width: int) -> Sequence[Part]:
    """Return the names of the columns."""
    return [
        ("", max(20, width - 36), ""),
        *right("then", 7, ""),
        *right("since", 7, ""),
        *right("today", 7, ""),
        *right("missed", 8, ""),
        *right("people", 7, ""),
    ]


def more_state(row: Any, today: date, width: int) -> list[Content]:
    """Return what the columns of a state mean."""
    read = "at the quarter's end by what was known then; the same by what is known now; today"
    told = [
        ("State", f"{row.says} ({row.part})"),
        ("Then", read if row.known_then is not None else ""),
        ("Missed", "their latest day went by unmet, whatever became of them afterwards"),
        ("Enter", "opens whose they are"),
    ]
    return labelled(told, width)


def draw_ask(row: Any, width: int, today: date) -> Sequence[Part]:
    """Return one ask with whose it is."""
    sign, word = LOUDNESS.get(row.urgency, " "), words(URGENCY_WORDS, row.urgency)
    name = max(12, width - 12 - 12 - 30 - 13)
    return [
        (f"{sign} {word}", 12, URGENCY_KINDS.get(row.urgency, "")),
        (row.name, name, ""),
        *right(full_day(row.born), 12, ""),
        (f" {row.what}, {row.ear}", 30, ""),
        *right(full_day(row.due_on), 13, "alarm" if row.missed else "quiet"),
    ]


def more_ask(row: Any, today: date, width: int) -> list[Content]:
    """Return everything else about an ask."""
    ended = f" on {full_day(row.ended_on)}" if row.ended_on else ""
    moved = f", to {full_day(row.moved_to)}" if row.moved_to else ""
    by = f", by {row.by}" if row.by else ""
    missed = "; its latest day went by unmet" if row.missed else ""
    asked = f"asked on {full_day(row.asked_on)}"
    told = [
        ("State", f"{row.state}{ended}{moved}{by}{missed}"),
        ("Asked", f"{asked}, due {full_day(row.due_on)} ({row.practitioner or 'not known'})"),
        ("Who", f"{row.name} {row.reference}"),
    ]
    return labelled(told, width)
