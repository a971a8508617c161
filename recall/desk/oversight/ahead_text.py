"""The weeks ahead in words and rows: for the terminal, and for other programs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from textwrap import wrap

from recall.ahead.again import ALL, Again, Missed
from recall.ahead.contacting import Steps
from recall.ahead.levelling import Levelled
from recall.ahead.proposals import Proposal
from recall.ahead.weeks import NOBODY, By, Week
from recall.ahead.work import Piece
from recall.cycle.curve import percent
from recall.desk.oversight.ahead import Ahead, Tried
from recall.schedule.calendar import Calendar, say_day

HEAD = "week from    booked  wanted waiting   again  (from    to)    gives    over"
REACHING_HEAD = "week from     calls letters  others  missed   hours at the desk"
NONE = {"practitioner": "nobody in particular", "skill": "not said", "site": "no site recorded"}
"""What stands for those of whom it is not known."""


@dataclass(frozen=True)
class WeekRow:
    """One week of everything, or of one group, in minutes."""

    group: str
    monday: date
    booked: int
    wanted: int
    waiting: int
    booked_minutes: int
    wanted_minutes: int
    waiting_minutes: int
    again_minutes: float
    again_low: float
    again_high: float
    gives_minutes: int
    missed: float
    """Appointments of the week that are expected to be missed."""
    calls: int | None
    letters: int | None
    desk_minutes: int | None

    @property
    def asked_minutes(self) -> float:
        """Return the minutes of all that stands, and of what is expected to come of it."""
        known = self.booked_minutes + self.wanted_minutes + self.waiting_minutes
        return known + self.again_minutes


@dataclass(frozen=True)
class DayRow:
    """The day that levelling proposes for one follow-up."""

    follow_up: int
    kind: str
    urgency: str
    earliest: date
    latest: date
    offered: date
    proposed: date
    with_: str
    minutes: int


@dataclass(frozen=True)
class LateRow:
    """An ask that would be late without a change, with it, or both."""

    follow_up: int
    kind: str
    urgency: str
    latest: date
    seen_before: date | None
    seen_after: date | None


def late_rows(found: Tried) -> list[LateRow]:
    """Return what would be late, pressing first."""
    late = {p.number: p for p in (*found.before.late, *found.newly_late)}
    return [
        LateRow(n, p.kind, p.urgency, p.latest, found.before.days[n], found.after.days[n])
        for n, p in late.items()
    ]


def week_rows(found: Ahead, by: By | None) -> list[WeekRow]:
    """Return the weeks as rows; the contact steps stand beside the weeks of everything."""
    if by is None:
        pairs = zip(found.whole.weeks(), found.steps, strict=True)
        return [_row("", week, steps) for week, steps in pairs]
    groups = found.whole.by(by).items()
    return [_row(name, week, None) for name, weeks in groups for week in weeks]


def _row(group: str, week: Week, steps: Steps | None) -> WeekRow:
    again = week.again
    return WeekRow(
        group, week.monday, week.booked, week.wanted, week.waiting,
        week.booked_minutes, week.wanted_minutes, week.waiting_minutes,
        round(again.minutes, 1), round(again.low, 1), round(again.high, 1), week.gives,
        round(week.missed, 1),
        *((steps.calls, steps.letters, steps.minutes) if steps else (None, None, None)),
    )  # fmt: skip


def day_rows(found: Levelled) -> list[DayRow]:
    """Return the proposed days, the earliest first."""
    pairs = zip(found.before.placed, found.after.placed, strict=True)
    rows = [
        DayRow(
            now.piece.number, now.piece.kind, now.piece.urgency, now.piece.earliest,
            now.piece.latest, was.on, now.on, now.who, now.piece.minutes,
        )
        for was, now in pairs
    ]  # fmt: skip
    return sorted(rows, key=lambda row: (row.proposed, row.follow_up))


def as_text(found: Ahead, calendar: Calendar) -> str:
    """Return the weeks ahead with what they are made of."""
    weeks = found.whole.weeks()
    lines = [
        f"{len(weeks)} weeks from {say_day(weeks[0].monday)}, in hours of appointments",
        HEAD,
        *map(_line, weeks),
        "",
        "What reaching people takes at most, if nobody is heard from",
        REACHING_HEAD,
        *(_reaching(week, steps) for week, steps in zip(weeks, found.steps, strict=True)),
        "",
        *_created(found.whole.known),
        _missed(found.whole.missed),
        "",
        *_known(found, weeks, calendar),
    ]
    return "\n".join(lines) + "\n"


def as_groups(found: Ahead, by: By) -> str:
    """Return the weeks of each practitioner, skill or site."""
    lines, idle = [], []
    for name, weeks in found.whole.by(by).items():
        if by == "skill" and not any(week.asked for week in weeks):
            idle.append(_word(name or NONE[by]))
            continue
        lines += [_word(name or NONE[by]), HEAD, *map(_line, weeks), ""]
    if by == "practitioner" and not found.has_rota:
        lines.append("No rota: who gives what is not known, and stands under nobody's name.")
    elif by == "skill":
        lines.append("Who can do two things is counted under both: skills sum to more than all.")
        lines += wrap(f"Nothing asks for: {', '.join(idle)}.", 79) if idle else []
    elif NOBODY in found.whole.by(by):
        lines.append(f"Under {NONE[by]!r} stands what has none on record; its own it cannot give.")
    return "\n".join(lines) + "\n"


def as_levelled(found: Levelled, fullest: int | None = None) -> str:
    """Return the days before and after levelling, and what has no day.

    `fullest` keeps so many days, the fullest first.
    """
    was, now = found.before, found.after
    moved = sum(a.on != b.on or a.who != b.who for a, b in zip(was.placed, now.placed, strict=True))
    days = [day for day in found.days if was.days[day] or now.days[day]]
    if fullest is not None:
        days = sorted(days, key=lambda day: (-max(was.days[day], now.days[day]), day))[:fullest]
    lines = [
        f"{len(now.placed)} to be booked; {moved} would be offered another day or practitioner.",
        f"{'':<28}{'before':>10}{'after':>10}",
        *_compared(was, now),
        "",
        "day           before   after  (minutes, with what is booked)",
        *(_day(day, was, now) for day in days),
    ]
    if found.left_out or found.later:
        lines += ["", *_left_out(found)]
    return "\n".join(lines) + "\n"


def as_tried(found: Tried) -> str:
    """Return what a change would make late, and what no longer."""
    both = found.before, found.after
    besides = [[p for p in each.late if p.number not in found.overdue] for each in both]
    seen = [found.backlog_seen_by(each) for each in both]
    lines = [
        *(line for said in found.changes for line in wrap(f"What if: {said}", 66)),
        f"{'':<32}{'before':>12}{'after':>12}",
        f"{'late already':<32}{len(found.overdue):>12}{len(found.overdue):>12}",
        f"{'  the last of them seen':<32}" + "".join(f"{_by(day, found):>12}" for day in seen),
        f"{'would be late besides':<32}{len(besides[0]):>12}{len(besides[1]):>12}",
    ]
    for urgency in dict.fromkeys(p.urgency for late in besides for p in late):
        counts = [sum(p.urgency == urgency for p in late) for late in besides]
        lines.append(f"{'  ' + urgency:<32}{counts[0]:>12}{counts[1]:>12}")
    lines += _list("Late with the change alone:", found.newly_late, found.after.days)
    lines += _list("No longer late with it:", found.no_longer_late, found.after.days)
    lines += [
        "",
        "Served by urgency, then by the latest day, in the first room of the rota.",
        "Nothing was changed.",
    ]
    return "\n".join(lines) + "\n"


def _by(day: date | None, found: Tried) -> str:
    return _short(day) if day else ("not so soon" if found.overdue else "-")


def _list(head: str, pieces: Sequence[Piece], days: Mapping[int, date | None]) -> Iterator[str]:
    if not pieces:
        return
    yield from ("", head)
    for piece in pieces:
        day = days[piece.number]
        seen = _short(day).strip() if day else "no room"
        what = f"{piece.number:>6}  {piece.urgency:<10}{_word(piece.kind):<18}"
        yield f"{what}latest {_short(piece.latest).strip()}, seen {seen}"


def _compared(was: Proposal, now: Proposal) -> Iterator[str]:
    told = {
        "fullest day, minutes": (was.busiest, now.busiest),
        "minutes beyond the rota": (was.over, now.over),
        "sum of squared minutes": (was.squares, now.squares),
    }
    for words, (before, after) in told.items():
        yield f"{words:<28}{before:>10}{after:>10}"


def _day(day: date, was: Proposal, now: Proposal) -> str:
    return f"{_short(day):<13}{was.days[day]:>7}{now.days[day]:>8}"


def _left_out(found: Levelled) -> Iterator[str]:
    if found.later:
        yield f"Later: {found.later}, offered a day after these weeks; on none of the days above."
    whys = dict.fromkeys(left.why for left in found.left_out)
    for why in whys:
        pieces = [str(left.piece.number) for left in found.left_out if left.why == why]
        shown = ", ".join(pieces[:10]) + (" …" if len(pieces) > 10 else "")
        yield f"No day for {len(pieces)}: {why} (follow-ups {shown})."


def _line(week: Week) -> str:
    again = week.again
    over = f"{hours(week.over)}" if week.over else "-"
    made = f"{hours(again.minutes):>8}  ({hours(again.low):>4} {hours(again.high):>5})"
    asked = (week.booked_minutes, week.wanted_minutes, week.waiting_minutes)
    booked = "".join(f"{hours(each):>8}" for each in asked)
    return f"{_short(week.monday):<11}{booked}{made} {hours(week.gives):>8}{over:>8}"


def _reaching(week: Week, steps: Steps) -> str:
    counts = f"{steps.calls:>8}{steps.letters:>8}{steps.others:>8}{steps.after_missed:>8.1f}"
    return f"{_short(week.monday):<11}{counts}{hours(steps.minutes):>8}"


def _created(known: Mapping[str, Again]) -> Iterator[str]:
    yield "What visits brought again in two years (people; 95 per cent, Wilson)"
    for kind, again in known.items():
        share = again.share
        if share.share is None:
            yield "  no visits that answered anything yet: nothing is expected again"
            continue
        told = f"{share.hits} of {share.of}, {percent(share.low)} to {percent(share.high)}"
        yield f"  {_word(kind) if kind != ALL else 'all, and kinds of under 10':<28}{told}"


def _missed(missed: Missed) -> str:
    """Say how often appointments are missed, and how soon the next one is."""
    share = missed.share
    if share.share is None:
        return "  no appointment kept or missed yet: none is expected to be missed"
    told = f"{share.hits} of {share.of}, {percent(share.low)} to {percent(share.high)}"
    another = f"; {percent(sum(missed.after.values()))} have another" if share.hits else ""
    return f"  {'first appointment missed':<28}{told}{another}"


def _known(found: Ahead, weeks: Sequence[Week], calendar: Calendar) -> Iterator[str]:
    closed = [day for week in weeks for day in week.closed]
    for day in closed:
        yield f"Closed: {say_day(day, weekday=True)}, {calendar.closed_because(day)}."
    holidays, own = found.holidays_until, found.closures_until
    until = f"to {say_day(holidays)}" if holidays else "for no year"
    last = f"the last one on record is {say_day(own)}" if own else "none is on record"
    yield f"Public holidays are known {until}; of your own closures {last}."
    if not found.has_rota:
        yield "No rota: so many appointments a week are shared out over the open days."
    if found.not_here:
        yield f"On the rota, not on the staff table, and not counted: {', '.join(found.not_here)}."
    if backlog := len(found.whole.portions):
        yield f"Late already: {backlog}, in portions of {found.portion} a week."
    if found.history:
        yield f"Not counted: {found.history} of before this register, to be looked through."
    if late := sum(one.late for one in found.whole.booked):
        yield f"Booked after their latest day: {late}."


def hours(minutes: float) -> str:
    """Return minutes as hours.

    >>> hours(90), hours(7)
    ('1.5', '0.1')
    """
    return f"{minutes / 60:.1f}"


def _short(day: date) -> str:
    number, month, year = say_day(day).split()
    return f"{number:>2} {month[:3]} {year[2:]}"


def _word(word: str) -> str:
    return word.replace("_", " ")
