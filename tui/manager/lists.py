"""The manager's lists: how each is read, what a line shows, and what is told of the marked one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from textual.content import Content

from recall.care.services import SERVICES, to_whom
from recall.cycle.curve import percent
from tui.widgets.bars import curve_head, curve_lines, returns_parts
from tui.widgets.row_list import Part
from tui.words.signs import (
    LOUDNESS,
    URGENCY_KINDS,
    URGENCY_WORDS,
    says_status,
    words,
)
from tui.words.text import full_day, late_by, literal, plain, short_day, wrapped

if TYPE_CHECKING:
    from recall.desk.core.session import Desk

MOST = 2_000
"""Lines that a list holds at most; the plain command gives them all."""
Draw = Callable[[Any, int, date], Sequence[Part]]


@dataclass(frozen=True)
class Listed:
    """What was read for a list: its rows, what can be exported of them, and a sentence."""

    rows: Sequence[Any]
    says: str
    empty: str = ""
    """What stands in the place of rows, where it is not that there is nobody."""


@dataclass(frozen=True)
class RegisterList:
    """One list of the manager."""

    id: str
    title: str
    read: Callable[[Desk], Listed]
    number: Callable[[Any], int] | None
    """What tells a row apart when the list is read again; its place where there is nothing."""
    draw: Draw
    more: Callable[[Any, date, int], list[Content]]
    keys: tuple[str, ...] = ()
    """The commands that matter on it, for the foot."""
    empty: str = "Nobody."
    head: Callable[[int], Sequence[Part]] | None = None
    """The names of the columns, where they do not speak for themselves."""


def _overdue(desk: Desk) -> Listed:
    from recall.desk.worklists.day_list import Part
    from recall.desk.worklists.lists import overdue

    rows = overdue(desk, Part(MOST), clinical=True)
    told = "past their latest day, booked or not; the most pressing first"
    return Listed(rows, _count(rows, told))


def _lost(desk: Desk) -> Listed:
    from recall.desk.worklists.day_list import Part
    from recall.desk.worklists.lists import lost

    rows = lost(desk, Part(MOST), clinical=True)
    told = "with every contact step used up; a decision by name is awaited"
    return Listed(rows, _count(rows, told))


def _clinician(desk: Desk) -> Listed:
    from recall.desk.visits.milder import milder_lines
    from recall.desk.worklists.day_list import Part
    from recall.desk.worklists.lists import for_clinician

    rows, milder = for_clinician(desk, Part(MOST), clinical=True), len(milder_lines(desk))
    told = _count(rows, "wait for a clinician: to decide, to ring, to look")
    beside = f" Made milder, for a second person: {milder:,}; 0 shows them." if milder else ""
    return Listed(rows, told + beside)


def _referrals(desk: Desk) -> Listed:
    from recall.desk.worklists.day_list import Part
    from recall.desk.worklists.referral_list import referrals

    rows = referrals(desk, Part(MOST), everything=True, clinical=True)
    late = sum(row.chase_on <= desk.today for row in rows)
    return Listed(rows, f"{late:,} to chase now, {len(rows):,} open; sent is not seen.")


def _failsafe(desk: Desk) -> Listed:
    from recall.desk.oversight.checked import checked

    found = checked(desk)
    if found.on is None:
        told = "The safety check never ran here: recall failsafe, or start the jobs."
        return Listed((), told, "Not known: nobody has looked.")
    new = sum(line.is_new for line in found.breaks)
    told = f"Checked on {full_day(found.on)}: {found.people:,} people; {len(found.breaks):,} must"
    told += f" never be ({new:,} new, {found.gone:,} gone); {len(found.backlog):,} of backlog."
    return Listed(found.shown[:MOST], told)


def _proposals(desk: Desk) -> Listed:
    from recall.desk.oversight.manager_lists import proposed

    rows = proposed(desk)
    return Listed(rows, _count(rows, "dates that could come earlier under the adopted protocol"))


def _returns(desk: Desk) -> Listed:
    from recall.desk.oversight.returns import came_back

    told = "Windows opened in the last 24 months: people seen by the latest day, each once a kind."
    return Listed(came_back(desk), told)


def _rules(desk: Desk) -> Listed:
    from recall.desk.oversight.rule_audit import audit

    rows = audit(desk)
    return Listed(rows, f"{len(rows):,} rules asked for something, and what came of it.")


def _count(rows: Sequence[Any], what: str) -> str:
    more = " or more" if len(rows) >= MOST else ""
    return f"{len(rows):,}{more} {what}."


def _urgency(row: Any) -> list[Part]:
    kind = URGENCY_KINDS.get(row.urgency, "")
    sign, word = LOUDNESS.get(row.urgency, " "), words(URGENCY_WORDS, row.urgency)
    return [(f"{sign} {word}", 12, kind)]


def _born(row: Any) -> list[Part]:
    return right(full_day(row.born) if row.born else "", 12, "")


def _late(today: date, day: date, late_days: int) -> list[Part]:
    if late_days > 0:
        return right(late_by(late_days), 11, "alarm")
    return right(short_day(day, today), 11, "quiet")


def right(text: str, cells: int, kind: str) -> list[Part]:
    """Return a text at the right edge of its column; what is drawn drops leading spaces.

    >>> right("9", 4, "")
    [('', 3, ''), ('9', 1, '')]
    """
    return [("", max(0, cells - len(text)), ""), (text, min(cells, len(text)), kind)]


def draw_line(row: Any, width: int, today: date) -> Sequence[Part]:
    """Return one follow-up: urgency, whose, how late, how it stands and what is next."""
    status = says_status(row.status)
    wide = width >= 106
    following = max(22, width - 88) if wide else 0
    name = max(12, width - 12 - 12 - 10 - 11 - 14 - following)
    return [
        *_urgency(row),
        (row.name, name, ""),
        *_born(row),
        ("", 1, ""),
        (row.postcode or "—", 9, "quiet"),
        *_late(today, row.latest, row.late_by_days),
        ("", 1, ""),
        (status, 13, ""),
        (row.next, following, "quiet"),
    ]


def draw_referral(row: Any, width: int, today: date) -> Sequence[Part]:
    """Return one referral: urgency, whose, to whom, which stage is not known and since when."""
    wide = width >= 106
    to, ears, following = (20, 6, max(20, width - 102)) if wide else (13, 0, 0)
    name = max(12, width - 12 - 12 - to - ears - 11 - 12 - following)
    return [
        *_urgency(row),
        (row.name, name, ""),
        *_born(row),
        ("", 1, ""),
        (f"to {SERVICES[row.to].short}", to - 1, ""),
        ("both" if len(row.ears) > 1 else row.ears[0], ears, ""),
        (f"{words({}, row.stage)}?", 10, "lead"),
        *_late(today, row.chase_on, row.late_by_days),
        ("", 2, ""),
        (row.next, following, "quiet"),
    ]


def draw_finding(row: Any, width: int, today: date) -> Sequence[Part]:
    """Return one break, or one kind of backlog, which is listed elsewhere."""
    if not row.is_break:
        return [(f"  {row.says}", width, "quiet")]
    return [
        (f"! {words({}, row.kind)}", 22, "alarm"),
        (row.name or "—", 20, ""),
        *_born(row),
        ("", 1, ""),
        (row.says, max(10, width - 55), "quiet"),
    ]


def draw_proposal(row: Any, width: int, today: date) -> Sequence[Part]:
    """Return one date that could come earlier."""
    name = max(12, width - 12 - 12 - 19 - 22)
    return [
        *_urgency(row),
        (row.name, name, ""),
        (full_day(row.born).rjust(11), 12, ""),
        (f" {row.ear} {words({}, row.track)}", 20, ""),
        (
            f"{short_day(row.latest, today)} → {short_day(row.would_be, today)}".rjust(21),
            22,
            "lead",
        ),
    ]


def _days(now: date, then: date, today: date) -> str:
    return f"{short_day(now, today)} → {short_day(then, today)}"


def draw_returns(row: Any, width: int, today: date) -> Sequence[Part]:
    """Return one kind of follow-up with its share in time and its small curve."""
    return returns_parts(row, width)


def draw_rule(row: Any, width: int, today: date) -> Sequence[Part]:
    """Return one rule: what it asked for, what was found, and what became of referrals."""
    share = f"{percent(row.low)} to {percent(row.high)} found" if row.looked else ""
    seen = f"{row.seen} of {row.referred} seen" if row.referred else ""
    return [
        (row.rule, max(20, width - 49), ""),
        *right(f"{row.asked:,}" if row.asked else "", 6, ""),
        *right(f"{row.looked:,}" if row.asked else "", 6, "quiet"),
        *right(share, 18, "lead"),
        *right(seen, 18, "quiet"),
    ]


def head_rules(width: int) -> Sequence[Part]:
    """Return the names of the columns of rules."""
    return [
        ("rule", max(20, width - 49), ""),
        *right("asked", 6, ""),
        *right("looks", 6, ""),
        *right("it was there", 18, ""),
        *right("referrals", 18, ""),
    ]


def more_rule(row: Any, today: date, width: int) -> list[Content]:
    """Return everything else about what came of a rule."""
    looks = f"{row.asked} asked, {row.looked} looked, {row.found} found"
    sent = f"{row.referred} asked, {row.sent} sent, {row.seen} seen, {row.results} results back"
    gone = f"{row.groundless} groundless before anybody saw the person"
    told = [
        ("Rule", row.rule),
        ("Looks", looks if row.asked else ""),
        ("Refers", f"{sent}, {gone}" if row.referred else ""),
        ("Ended", f"{row.struck} by name: {row.struck_why}" if row.struck else ""),
    ]
    return labelled(told, width)


def more_line(row: Any, today: date, width: int) -> list[Content]:
    """Return everything else about a follow-up."""
    told = [
        ("Next", f"{row.next} ({row.reference})"),
        ("Tried", row.tried or "nothing yet"),
        ("Why", row.clinical),
        ("Mind", " ".join(row.warnings)),
    ]
    return labelled(told, width)


def more_referral(row: Any, today: date, width: int) -> list[Content]:
    """Return everything else about a referral."""
    to = f"to {to_whom(row.to, row.ears)}"
    asked = f"{to}, asked on {full_day(row.asked_on)}, to be seen by {full_day(row.seen_by)}"
    told = [
        ("Who", f"{row.reference}, {row.name}, born {full_day(row.born)}, {row.postcode or '—'}"),
        ("Next", f"{row.next} ({asked}, by {words({}, row.route)} route)"),
    ]
    return labelled([*told, ("Why", row.clinical), ("Mind", " ".join(row.warnings))], width)


def more_finding(row: Any, today: date, width: int) -> list[Content]:
    """Return everything about a finding."""
    how = "It must never be." if row.is_break else "Backlog: it is on its own list, and late there."
    new = " New since the check before." if row.is_new else ""
    who = f"{row.name} {row.reference}" if row.reference else ""
    return labelled([("Found", row.says), ("Who", who), ("Kind", f"{how}{new}")], width)


def more_proposal(row: Any, today: date, width: int) -> list[Content]:
    """Return everything else about a proposed date."""
    return labelled([("Rule", row.rule), ("Who", f"{row.name} {row.reference}")], width)


def labelled(parts: Sequence[tuple[str, str]], width: int) -> list[Content]:
    """Return texts, each with its label in front."""
    lines: list[Content] = []
    for label, text in parts:
        if not plain(text):
            continue
        first, *rest = wrapped(text, max(20, width - 8), 3)
        lines.append(Content.assemble((f"{label:<7}", "bold $desk-lead"), first))
        lines += [literal(line).pad_left(7) for line in rest]
    return lines


def more_returns(row: Any, today: date, width: int) -> list[Content]:
    """Return the curve of one kind of follow-up."""
    return [literal(curve_head(row), "bold"), *curve_lines(row, width, 6)]


_DECIDE = ("pick", "keep_trying", "hand_back", "decline", "move", "export")
LISTS: tuple[RegisterList, ...] = (
    RegisterList(
        "overdue", "Overdue", _overdue, lambda r: r.follow_up_id, draw_line, more_line, _DECIDE
    ),
    RegisterList("lost", "Lost", _lost, lambda r: r.follow_up_id, draw_line, more_line, _DECIDE),
    RegisterList(
        "referrals",
        "Referrals",
        _referrals,
        lambda r: r.referral_id,
        draw_referral,
        more_referral,
        ("spoke", "sent", "accepted", "seen", "result", "letter", "end"),
        "No referral is open.",
    ),
    RegisterList(
        "failsafe",
        "Failsafe",
        _failsafe,
        None,
        draw_finding,
        more_finding,
        ("open", "export", "again"),
        "Nothing was found.",
    ),
    RegisterList(
        "proposals",
        "Proposals",
        _proposals,
        lambda r: r.number,
        draw_proposal,
        more_proposal,
        ("forward", "leave_it", "open", "export"),
        "No date waits to be brought forward.",
    ),
    RegisterList(
        "returns",
        "Returns",
        _returns,
        None,
        draw_returns,
        more_returns,
        ("export", "again"),
        "No window has opened yet.",
    ),
    RegisterList(
        "rules",
        "Rules",
        _rules,
        None,
        draw_rule,
        more_rule,
        ("export", "again"),
        "No rule has asked for anything yet.",
        head_rules,
    ),
    RegisterList(
        "clinician",
        "Clinician",
        _clinician,
        lambda r: r.follow_up_id,
        draw_line,
        more_line,
        _DECIDE,
    ),
)
"""The lists in the form of lines; the work ahead and the jobs are drawn whole."""
