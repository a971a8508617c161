"""What the month's report tells of asks: views of the accounts, nothing counted of its own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from recall.accounts.cohort import Account, Entry, Period
from recall.accounts.rates import in_time
from recall.care.case import URGENCIES
from recall.desk.oversight.accounts import Reading
from recall.desk.oversight.report_lines import Line

BANDS = ((0, "not late"), (14, "up to 2 weeks late"), (42, "up to 6 weeks late"))
WORST = "more than 6 weeks late"


def asks(now: Reading, then: Reading, first: date, last: date) -> Iterator[Line]:
    """Give the numbers of a month's asks, as they were at its end, or today while it runs.

    Args:
        now: the whole register on that day, by what is known now.
        then: the month's asks on it, by what was known when the day ended.
        first: of the month.
        last: of the month.
    """
    month = Period(first, last)
    due = now.rechecks.within(month)
    yield from _became("re-checks due", due)
    for kind, account in due.by("kind").items():
        share = in_time(account)
        yield Line("people who came in time", kind, "", share.hits, share.of)
    yield from _entered_since("re-checks due", due, then.rechecks)
    yield from _open("open at the end", now.rechecks)
    yield from _late(now.rechecks)
    yield from _ended("re-checks ended", now.rechecks, now.ended(first, last, "rechecks"))
    referrals = now.referrals.within(month)
    yield from _became("referrals due", referrals)
    yield from _entered_since("referrals due", referrals, then.referrals)
    yield from _open("referrals open", now.referrals)
    yield from _ended("referrals ended", now.referrals, now.ended(first, last, "referrals"))


def _became(part: str, account: Account) -> Iterator[Line]:
    """Give every state in which something is; the lines of a part sum to its asks."""
    for line in account.lines():
        if line.asks:
            yield Line(part, line.state.words, "", line.asks, account.asks, line.people)
    if account.missed:
        people = len({e.person for e in account.entries if e.missed})
        yield Line(f"{part}, missed", "whatever came of them", "", account.missed, None, people)


def _entered_since(part: str, now: Account, then: Account) -> Iterator[Line]:
    """Say what parts the figures from those of the month's own end: what was entered later."""
    name = f"{part}, entered after the month"
    if now.entries and not then.entries:
        yield Line(name, "all of them: nothing was on record then", "", now.asks, None, now.people)
        return
    was = {entry.number: entry.state for entry in then.entries}
    changed = [e for e in now.entries if was.get(e.number) != e.state]
    for line in now.of({entry.number for entry in changed}).lines():
        if line.asks:
            yield Line(name, line.state.words, "", line.asks, None, line.people)


def _open(part: str, account: Account) -> Iterator[Line]:
    for state in account.states:
        found = account.in_state(state.id) if state.part == "open" else ()
        for urgency, some in _by_urgency(found):
            yield Line(part, state.words, urgency, len(some), None, _people(some))


def _late(account: Account) -> Iterator[Line]:
    """Count how late everything open was, by urgency."""
    states = [state.id for state in account.states if state.part == "open"]
    for urgency, some in _by_urgency(account.in_state(*states)):
        bands: dict[str, list[Entry]] = {words: [] for words in (*(w for _d, w in BANDS), WORST)}
        for entry in some:
            days = (account.day.on - entry.due_on).days
            bands[next((w for most, w in BANDS if days <= most), WORST)].append(entry)
        for words, few in bands.items():
            if few:
                yield Line("lateness", words, urgency, len(few), None, _people(few))


def _ended(part: str, account: Account, ended: Iterable[int]) -> Iterator[Line]:
    for line in account.of(frozenset(ended)).lines():
        if line.asks:
            yield Line(part, line.state.words, "", line.asks, None, line.people)


def _by_urgency(entries: Sequence[Entry]) -> Iterator[tuple[str, list[Entry]]]:
    for urgency in URGENCIES:
        some = [entry for entry in entries if entry.urgency == urgency]
        if some:
            yield urgency, some


def _people(entries: Iterable[Entry]) -> int:
    return len({entry.person for entry in entries})
