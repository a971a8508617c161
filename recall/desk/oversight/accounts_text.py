"""The accounts as a page of text: what an inspector reads to see that nobody fell out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain, groupby
from textwrap import wrap

from recall.accounts.cohort import AXES, Cohort
from recall.accounts.rates import Share
from recall.cycle.curve import percent
from recall.desk.oversight.accounts import Accounts, AskLine, Of
from recall.desk.oversight.accounts_rows import (
    OF_WORDS,
    GroupRow,
    StateRow,
    entered_late,
    gone_since,
    last_day,
    share_in_time,
    stage_rows,
    state_rows,
)
from recall.schedule.calendar import say_day

NAME = 37


def as_text(found: Accounts, practice: str) -> str:
    """Return the whole page: every state, what they sum to, who came in time, what came late."""
    rows = state_rows(found)
    lines = [f"{practice}: {headline(found.cohort)}", *wrap(_how_read(found), 80)]
    for of, words in OF_WORDS.items():
        mine = [row for row in rows if row.of == words]
        lines += ["", *_table(found, of, mine)]
        if of == "rechecks":
            lines += [f"  {in_time_words(share_in_time(found))}"]
    lines += ["", "How far the referrals came              on record   late", *_stages(found)]
    return "\n".join(lines) + "\n"


def headline(cohort: Cohort) -> str:
    """Return which asks are counted, in words."""
    period, which = cohort.period, cohort.period.which
    asked = "every ask due from" if which == "due" else "every ask made from"
    only = [f"{name} {word}" for name in AXES if (word := getattr(cohort.only, name))]
    more = f", {', '.join(only)} only" if only else ""
    return f"{asked} {say_day(period.first)} to {say_day(period.last)}{more}"


def in_time_words(share: Share) -> str:
    """Return who came in time, in words."""
    if share.share is None:
        return "Nobody's latest day has come yet."
    spread = f"{percent(share.low)} to {percent(share.high)}"
    return f"{share.hits} of {share.of} people came in time: {percent(share.share)} ({spread})."


def as_groups(rows: Sequence[GroupRow]) -> str:
    """Return the parts of a cohort of re-checks, one line each: counts, who came, who did not.

    A share stands with its range, for one of few people says little.
    """
    gone = [row for row in rows if row.without_a_look]
    lines = [
        f"{'re-checks':<25}  asks people    met   late  ended  repl.   open missed",
        *map(_group, rows),
        "",
        "People who came in time, of all whose latest day has come (95 per cent, Wilson)",
        *map(_came, rows),
    ]
    if gone:
        lines += ["", "Lost, and ended otherwise, by name (re-checks)", *chain(*map(_gone, gone))]
    return "\n".join(lines) + "\n"


def _group(r: GroupRow) -> str:
    counts = r.asks, r.people, r.met_in_time, r.met_late, r.ended, r.replaced, r.open, r.missed
    return f"{_named(r):<25}" + "".join(
        f"{count:>{6 if n == 0 else 7}}" for n, count in enumerate(counts)
    )


def _came(r: GroupRow) -> str:
    if not r.of_people:
        return f"  {_named(r):<23}  nobody's latest day has come yet"
    share = percent(r.came_in_time / r.of_people)
    of = f"{r.came_in_time} of {r.of_people}"
    return f"  {_named(r):<23}{of:>15}{share:>7}  {percent(r.low)} to {percent(r.high)}"


def _gone(r: GroupRow) -> Iterator[str]:
    said = "; ".join(f"{words}, {count}" for words, count in r.without_a_look.items())
    yield from wrap(f"{_named(r):<23}{said}", 79, initial_indent="  ", subsequent_indent=" " * 25)


def _named(r: GroupRow) -> str:
    return r.name.replace("_", " ")[:23]


def as_people(lines: Sequence[AskLine]) -> str:
    """Return the people behind a number, one ask a line."""
    told = []
    for line in lines:
        missed = ", missed" if line.missed else ""
        ended = f" on {line.ended_on}" if line.ended_on else ""
        moved = f", to {line.moved_to}" if line.moved_to else ""
        by = f" by {line.by}" if line.by else ""
        told.append(
            f"{line.reference} {line.name}, born {line.born}: {line.what}, {line.ear}\n"
            f"    {line.urgency}, asked {line.asked_on}, due {line.due_on}; "
            f"{line.state}{ended}{moved}{by}{missed}"
        )
    return "\n".join(told) + "\n" if told else ""


def _how_read(found: Accounts) -> str:
    today = say_day(found.now.rechecks.day.on)
    last = last_day(found)
    if last is None:
        return f"As it stands today, {today}."
    rules = ""
    if since := found.rules_since:
        rules = f" Rules were adopted since, on {say_day(since)}: who was lost is read by these."
    return (
        f"Three readings: at the end of {say_day(last)} by what was known then, which never "
        f"changes; the same by what is known now; and today, {today}.{rules}"
    )


def _table(found: Accounts, of: Of, rows: Sequence[StateRow]) -> Iterator[str]:
    over = found.then is not None
    columns = f"{'then':>7}{'since':>7}" if over else ""
    yield f"{OF_WORDS[of].capitalize():<{NAME}}{columns}{'today':>7}{'missed':>8}{'people':>8}"
    for part, some in groupby(rows, key=lambda row: row.part):
        here = [row for row in some if row.asks or row.known_then or row.known_since]
        if here:
            yield f" {part}"
            yield from (_line(f"  {row.says}", row, over) for row in here)
    account = found.now.of(of)
    read = [len(each.of(of).entries) for each in found.columns[:-1]]
    sums = "".join(f"{count:>7}" for count in read)
    counts = f"{account.asks:>7}{account.missed:>8}{account.people:>8}"
    yield f"{' all of them, each counted once':<{NAME}}{sums}{counts}"
    late, gone = len(entered_late(found, of)), gone_since(found, of)
    if late:
        yield f"  {late} stand otherwise by what was entered after that day: --show entered-late."
    if gone:
        yield f"  {gone} that were known then are on record no more."


def _line(name: str, row: StateRow, over: bool) -> str:
    columns = f"{row.known_then:>7}{row.known_since:>7}" if over else ""
    return f"{name:<{NAME}}{columns}{row.asks:>7}{row.missed:>8}{row.people:>8}"


def _stages(found: Accounts) -> Iterator[str]:
    for row in stage_rows(found):
        yield f"  {row.stage:<36}{row.recorded:>11}{row.late:>7}"
