"""Which asks are counted together, and the account of them: one state each, summed.

Bands of age are common practice, no published source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from datetime import date
from typing import Literal, get_args

import msgspec

from recall.accounts.recheck import Recheck, recheck_state
from recall.accounts.referral import Referred, state_where
from recall.accounts.states import RECHECK_STATES, REFERRAL_STATES, State
from recall.care.dates import age_on
from recall.protocol.contact import ContactProtocol
from recall.schedule.calendar import Calendar

Which = Literal["due", "asked"]
"""Asks whose latest day lies in a period (of a referral: by which they are to be seen), or that
were made in it."""
By = Literal["kind", "urgency", "practitioner", "site", "age", "month"]
"""What an account can be split by; the month is the one of the latest day."""
AXES: tuple[By, ...] = tuple(each for each in get_args(By) if each != "month")
"""What it can be narrowed to, too: a month is a period of its own."""
BANDS = ((0, "0 to 3"), (4, "4 to 15"), (16, "16 to 39"), (40, "40 to 64"), (65, "65 to 79"))
OLDEST = (80, "80 and over")


class Period(msgspec.Struct, frozen=True):
    """Some days together, both ends included, and what is asked of them."""

    first: date
    last: date
    which: Which = "due"

    def holds(self, asked: date, due: date) -> bool:
        """Return whether an ask belongs to it."""
        return self.first <= (due if self.which == "due" else asked) <= self.last


class Entry(msgspec.Struct, frozen=True, gc=False):
    """One ask with the state that it is in on the day of the account."""

    number: int
    person: int
    state: str
    missed: bool
    """Its latest day went by before it was met or ended."""
    kind: str
    """The category of a re-check, the service of a referral."""
    urgency: str
    practitioner: str
    site: str
    age: str
    asked_on: date
    due_on: date

    @property
    def month(self) -> str:
        """Return the month of its latest day."""
        return f"{self.due_on:%Y-%m}"


class Only(msgspec.Struct, frozen=True):
    """Which asks of a period are wanted; an empty word takes all."""

    kind: str = ""
    urgency: str = ""
    practitioner: str = ""
    site: str = ""
    age: str = ""

    def takes(self, entry: Entry) -> bool:
        """Return whether an ask is wanted, by what is told of it."""
        return all(getattr(entry, name) == word for name in AXES if (word := getattr(self, name)))


class Line(msgspec.Struct, frozen=True):
    """How many asks are in one state, and how many people they are about."""

    state: State
    asks: int
    people: int
    missed: int
    """Of the asks: those whose latest day went by before they were met or ended."""


EVER = Period(date.min, date.max, "asked")
"""All that was ever asked for."""
EVERY_ASK = Only()


class Cohort(msgspec.Struct, frozen=True):
    """Which asks are counted together."""

    period: Period = EVER
    only: Only = EVERY_ASK


class Day(msgspec.Struct, frozen=True):
    """The day of an account: while it runs, or at its end, when what was due on it is late."""

    on: date
    at_end: bool = False


class Account(msgspec.Struct, frozen=True):
    """What became of every ask of a cohort, as it is on a day."""

    day: Day
    states: tuple[State, ...]
    entries: tuple[Entry, ...]

    @property
    def asks(self) -> int:
        """Return how many asks there are."""
        return len(self.entries)

    @property
    def people(self) -> int:
        """Return how many people they are about."""
        return len({entry.person for entry in self.entries})

    @property
    def missed(self) -> int:
        """Return how many of the asks were missed, whatever became of them afterwards."""
        return sum(entry.missed for entry in self.entries)

    def lines(self) -> tuple[Line, ...]:
        """Return a line for every state, those in which nothing is too, in the table's order."""
        asks = Counter(entry.state for entry in self.entries)
        missed = Counter(entry.state for entry in self.entries if entry.missed)
        people = Counter(state for state, _person in {(e.state, e.person) for e in self.entries})
        return tuple(
            Line(state, asks[state.id], people[state.id], missed[state.id]) for state in self.states
        )

    def in_state(self, *states: str) -> tuple[Entry, ...]:
        """Return the asks that are in any of some states."""
        return tuple(entry for entry in self.entries if entry.state in states)

    def within(self, period: Period) -> Account:
        """Return the account of the asks of a period alone."""
        held = (entry for entry in self.entries if period.holds(entry.asked_on, entry.due_on))
        return Account(self.day, self.states, tuple(held))

    def of(self, numbers: Collection[int]) -> Account:
        """Return the account of some asks, by number."""
        held = (entry for entry in self.entries if entry.number in numbers)
        return Account(self.day, self.states, tuple(held))

    def by(self, what: By) -> dict[str, Account]:
        """Return the account of each part of the cohort, in the order of their names."""
        found: dict[str, list[Entry]] = {}
        for entry in self.entries:
            found.setdefault(getattr(entry, what), []).append(entry)
        names = sorted(found, key=_in_order)
        return {name: Account(self.day, self.states, tuple(found[name])) for name in names}


def _in_order(name: str) -> tuple[int, str]:
    """Order names by the number that they begin with: bands of age from the youngest."""
    first = name.partition(" ")[0]
    return (int(first) if first.isdecimal() else 0, name)


def age_band(born: date, on: date) -> str:
    """Return the band of somebody's age on a day.

    >>> age_band(date(2020, 3, 2), date(2026, 9, 1)), age_band(date(1930, 1, 1), date(2026, 9, 1))
    ('4 to 15', '80 and over')
    """
    age = age_on(born, on)
    return next(words for least, words in reversed((*BANDS, OLDEST)) if age >= least or not least)


def account_of_rechecks(asks: Iterable[Recheck], day: Day, only: Only = EVERY_ASK) -> Account:
    """Return the account of some re-checks on a day; those made later are not in it."""
    entries = (_recheck(ask, day) for ask in asks if ask.asked_on <= day.on)
    return Account(day, RECHECK_STATES, _wanted(entries, only))


def account_of_referrals(
    asks: Iterable[Referred],
    day: Day,
    rules: ContactProtocol,
    calendar: Calendar | None = None,
    only: Only = EVERY_ASK,
) -> Account:
    """Return the account of some referrals on a day; those made later are not in it."""
    known = (ask for ask in asks if ask.loop.referral.asked_on <= day.on)
    entries = (_referred(ask, day, rules, calendar) for ask in known)
    return Account(day, REFERRAL_STATES, _wanted(entries, only))


def _wanted(entries: Iterable[Entry], only: Only) -> tuple[Entry, ...]:
    return tuple(entries if only == EVERY_ASK else filter(only.takes, entries))


def _recheck(ask: Recheck, day: Day) -> Entry:
    return Entry(
        ask.number,
        ask.person,
        recheck_state(ask, day.on, at_end=day.at_end),
        ask.missed_by(day.on, at_end=day.at_end),
        ask.category,
        ask.urgency,
        ask.practitioner,
        ask.site,
        age_band(ask.born, ask.asked_on),
        ask.asked_on,
        ask.latest,
    )


def _referred(ask: Referred, day: Day, rules: ContactProtocol, calendar: Calendar | None) -> Entry:
    referral, missed = ask.loop.referral, ask.missed_by(day.on, at_end=day.at_end)
    return Entry(
        ask.number,
        ask.person,
        state_where(ask, day.on, missed, rules, calendar),
        missed,
        referral.to,
        referral.urgency,
        ask.practitioner,
        ask.site,
        age_band(ask.born, referral.asked_on),
        referral.asked_on,
        referral.stages.seen_by,
    )
