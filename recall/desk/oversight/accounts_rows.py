"""The accounts as lines: one for every state, or for every part of the cohort."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from recall.accounts.cohort import Account, By, Entry
from recall.accounts.rates import Share, in_time
from recall.accounts.states import PART_WORDS, State
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.oversight.accounts import Accounts, AskLine, Of, people_behind
from recall.loop.referral import Stage

OF_WORDS: dict[Of, str] = {"rechecks": "re-checks", "referrals": "referrals"}
ENTERED_LATE = "entered_late"
"""In the place of a state: what stands otherwise on the last day by what was entered since."""
MISSED = "missed"
"""In the place of a state: every ask whose latest day went by unmet, whatever became of it."""


LOST = "lost"
"""The state in which every contact step is used up."""


@dataclass(frozen=True)
class StateRow:
    """How many asks are in one state, and how many were on the last day of the period."""

    of: str
    part: str
    state: str
    says: str
    asks: int
    people: int
    missed: int
    """Of the asks: those whose latest day went by before they were met or ended."""
    known_then: int | None
    """In that state on the last day, by what was known when it ended; None while it runs."""
    known_since: int | None
    """The same by what is known now: a difference was entered late."""
    by: str = ""


@dataclass(frozen=True)
class GroupRow:
    """One part of a cohort of re-checks: what became of it, who came in time, who did not."""

    by: str
    name: str
    asks: int
    people: int
    met_in_time: int
    met_late: int
    ended: int
    replaced: int
    open: int
    missed: int
    came_in_time: int
    of_people: int
    low: float
    high: float
    without_a_look: dict[str, int]
    """Of those that are lost or ended otherwise: how many, by the words for it."""


@dataclass(frozen=True)
class StageRow:
    """How many referrals have a stage on record, and how many were late there."""

    stage: Stage
    recorded: int
    late: int


def state_rows(found: Accounts) -> tuple[StateRow, ...]:
    """Return a line for every state of re-checks and of referrals; each part sums to its asks."""
    return (*_rows(found, "rechecks"), *_rows(found, "referrals"))


def beside(found: Accounts) -> tuple[StateRow, ...]:
    """Return what cuts across the states: all that were missed, and what was entered late."""
    rows = []
    for of, says in OF_WORDS.items():
        missed = entries_behind(found, of, MISSED)
        late = entered_late(found, of)
        words = "whatever became of them"
        rows += [
            _across(says, words, MISSED, "missed", missed),
            _across(says, "entered late", ENTERED_LATE, "entered after the last day", late),
        ]
    return tuple(rows)


def _across(of: str, part: str, state: str, says: str, entries: Sequence[Entry]) -> StateRow:
    people, missed = len({e.person for e in entries}), sum(e.missed for e in entries)
    return StateRow(of, part, state, says, len(entries), people, missed, None, None)


def split_rows(found: Accounts, by: By) -> tuple[StateRow, ...]:
    """Return the lines of each part of the cohort, those with anything in them."""
    rows: list[StateRow] = []
    for of in OF_WORDS:
        for name, account in found.now.of(of).by(by).items():
            here = (line for line in account.lines() if line.asks)
            rows += [
                replace(_row(of, line.state, account), by=f"{by} {name or 'not known'}")
                for line in here
            ]
    return tuple(rows)


def group_rows(found: Accounts, by: By) -> tuple[GroupRow, ...]:
    """Return a line for each part of a cohort of re-checks."""
    parts = found.now.rechecks.by(by).items()
    return tuple(_group(by, name or "not known", account) for name, account in parts)


def stage_rows(found: Accounts) -> tuple[StageRow, ...]:
    """Return how far the referrals came; sent is a day of sending on record."""
    return tuple(StageRow(s.stage, s.recorded, s.late) for s in found.now.stages)


def entries_behind(found: Accounts, of: Of, state: str) -> tuple[Entry, ...]:
    """Return the asks behind a number of today: those in a state, or all that were missed."""
    account = found.now.of(of)
    if state == MISSED:
        return tuple(entry for entry in account.entries if entry.missed)
    return account.in_state(state)


@needs(Right.LOOK)
def people_of(desk: Desk, found: Accounts, row: StateRow) -> list[AskLine]:
    """Return the people behind a line of the accounts."""
    of = next(each for each, words in OF_WORDS.items() if words == row.of)
    if row.state == ENTERED_LATE:
        return people_behind(desk, found.since or found.now, of, entered_late(found, of))
    return people_behind(desk, found.now, of, entries_behind(found, of, row.state))


def entered_late(found: Accounts, of: Of) -> tuple[Entry, ...]:
    """Return the asks that stand otherwise on the last day by what was entered since."""
    if found.then is None or found.since is None:
        return ()
    was = {entry.number: entry.state for entry in found.then.of(of).entries}
    now = found.since.of(of).entries
    return tuple(entry for entry in now if was.get(entry.number) != entry.state)


def gone_since(found: Accounts, of: Of) -> int:
    """Return how many asks that were known when the period ended are on record no more."""
    if found.then is None or found.since is None:
        return 0
    now = {entry.number for entry in found.since.of(of).entries}
    return sum(entry.number not in now for entry in found.then.of(of).entries)


def share_in_time(found: Accounts) -> Share:
    """Return how many people came in time, by today."""
    return in_time(found.now.rechecks)


def last_day(found: Accounts) -> date | None:
    """Return the last day of a period that is over."""
    return None if found.then is None else found.cohort.period.last


def _rows(found: Accounts, of: Of) -> Iterable[StateRow]:
    for state in found.now.of(of).states:
        row = _row(of, state, found.now.of(of))
        if found.then is None or found.since is None:
            yield row
            continue
        counted = [len(each.of(of).in_state(state.id)) for each in (found.then, found.since)]
        yield replace(row, known_then=counted[0], known_since=counted[1])


def _row(of: Of, state: State, account: Account) -> StateRow:
    entries = account.in_state(state.id)
    people, missed = len({e.person for e in entries}), sum(e.missed for e in entries)
    told = state.id, state.words, len(entries), people, missed
    return StateRow(OF_WORDS[of], PART_WORDS[state.part], *told, None, None)


def _group(by: By, name: str, account: Account) -> GroupRow:
    parts = {state.id: state.part for state in account.states}
    kinds = [parts[entry.state] for entry in account.entries]
    met = [entry.missed for entry in account.entries if parts[entry.state] == "met"]
    share = in_time(account)
    lines = account.lines()
    gone = [each for each in lines if each.state.id == LOST or each.state.part == "ended"]
    return GroupRow(
        by=by,
        name=name,
        asks=account.asks,
        people=account.people,
        met_in_time=met.count(False),
        met_late=met.count(True),
        ended=kinds.count("ended"),
        replaced=kinds.count("replaced") + kinds.count("not_counted"),
        open=kinds.count("open"),
        missed=account.missed,
        came_in_time=share.hits,
        of_people=share.of,
        low=share.low,
        high=share.high,
        without_a_look={each.state.words: each.asks for each in gone if each.asks},
    )
