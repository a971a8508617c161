"""`recall accounts`: what became of every ask, each number opening its people."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import DAY, acting, as_data, emit_data, emit_lines, gathered
from recall.errors import InputError

if TYPE_CHECKING:
    from recall.accounts.cohort import Cohort
    from recall.desk.core.session import Desk
    from recall.desk.oversight.accounts import Accounts, Of

_QUARTER = re.compile(r"([0-9]{4})-?[Qq]([1-4])")
_MONTH = re.compile(r"([0-9]{4})-([0-9]{2})")
_AXES = ("kind", "urgency", "practitioner", "site", "age")


@dataclass(frozen=True)
class _Asked:
    """Which asks, as the options say."""

    quarter: str | None
    month: str | None
    first: date | None
    last: date | None
    asked: bool
    only: dict[str, str]

    def cohort(self, today: date) -> Cohort:
        """Return the cohort; the last whole month where no days are given."""
        from recall.accounts.cohort import Cohort, Only, Period

        given = [self.quarter, self.month, self.first or self.last]
        if sum(each is not None for each in given) > 1:
            raise InputError("A quarter, a month, or two days: one of them.")
        first, last = self._days(today)
        if first > last:
            raise InputError("The last day lies before the first.")
        return Cohort(Period(first, last, "asked" if self.asked else "due"), Only(**self.only))

    def _days(self, today: date) -> tuple[date, date]:
        if self.quarter is not None:
            found = _QUARTER.fullmatch(self.quarter)
            if found is None:
                raise InputError(f"{self.quarter!r} is no quarter.", hint="Write 2026Q3.")
            return _months(int(found[1]), 3 * int(found[2]) - 2, 3)
        if self.month is not None:
            month = _MONTH.match(self.month)
            if month is None or not 1 <= int(month[2]) <= 12:
                raise InputError(f"{self.month!r} is no month.", hint="Write 2026-09.")
            return _months(int(month[1]), int(month[2]), 1)
        if self.first is not None and self.last is not None:
            return self.first, self.last
        if self.first or self.last:
            raise InputError("Two days are needed: --from and --to.")
        before = today.replace(day=1) - timedelta(days=1)
        return before.replace(day=1), before


def _months(year: int, month: int, count: int) -> tuple[date, date]:
    first = date(year, month, 1)
    after = (first + timedelta(days=31 * count)).replace(day=1)
    return first, after - timedelta(days=1)


def _asked(**given: Any) -> _Asked:
    days = {"first": given.pop("from_"), "last": given.pop("to")}
    only = {name: given.pop(name) for name in _AXES}
    return _Asked(**given, **days, only={n: v for n, v in only.items() if v})


@click.command()
@gathered(
    "which",
    _asked,
    click.option("--quarter", metavar="2026Q3", help="The asks that are due in a quarter."),
    click.option("--month", metavar="2026-09", help="The last whole one where nothing is given."),
    click.option("--from", "from_", type=DAY, help="The first day, with --to."),
    click.option("--to", type=DAY, help="The last day, with --from."),
    click.option("--asked", is_flag=True, help="Those that were made then, not those due then."),
    click.option("--kind", help="Only this kind of re-check, or referrals to this service."),
    click.option("--urgency", help="Only this urgency."),
    click.option("--practitioner", help="Only what this practitioner's visits asked for."),
    click.option("--site", help="Only people of this site."),
    click.option("--age", metavar='"4 to 15"', help="Only this band of age."),
)
@click.option("--split", type=click.Choice((*_AXES, "month")), help="A line for each.")
@click.option("--show", metavar="STATE", help="The people behind a number: late, lost, missed.")
@click.option("--referrals", is_flag=True, help="With --show: of referrals, not of re-checks.")
@acting
@as_data
def accounts(
    which: _Asked, split: Any, show: str | None, referrals: bool, form: str | None, **given: Any
) -> None:
    """Print what became of every ask of some days: one state each, summed.

    A miss stays a miss whatever was done to its date afterwards. People are the unit of rates.
    """
    from recall.desk.oversight import accounts as desk_accounts
    from recall.desk.oversight import accounts_rows, accounts_text

    with opened(given, reading=True) as desk:
        found = desk_accounts.accounts(desk, which.cohort(desk.today))
        if show is not None:
            _people(desk, found, "referrals" if referrals else "rechecks", show, form)
            return
        name = desk.config.practice.name
    if form:
        rows = accounts_rows.split_rows(found, split) if split else accounts_rows.state_rows(found)
        emit_data(form, accounts_rows.StateRow, rows)
    elif split:
        emit_lines(accounts_text.as_groups(accounts_rows.group_rows(found, split)))
    else:
        emit_lines(accounts_text.as_text(found, name))


def _people(desk: Desk, found: Accounts, of: Of, state: str, form: str | None) -> None:
    """Print whose asks stand behind a number."""
    from recall.desk.oversight import accounts_rows, accounts_text
    from recall.desk.oversight.accounts import AskLine, people_behind

    word, now = state.replace("-", "_"), found.now
    states = [each.id for each in now.of(of).states]
    if word == accounts_rows.ENTERED_LATE:
        entries, now = accounts_rows.entered_late(found, of), found.since or found.now
    elif word in (*states, accounts_rows.MISSED):
        entries = accounts_rows.entries_behind(found, of, word)
    else:
        known = ", ".join((*states, accounts_rows.MISSED, accounts_rows.ENTERED_LATE))
        raise InputError(f"{state!r} is no state.", hint=f"It may be: {known}.")
    lines = people_behind(desk, now, of, entries)
    if form:
        emit_data(form, AskLine, lines)
    else:
        emit_lines(accounts_text.as_people(lines))
