"""Lines of the plan that a named person strikes out, moves, raises or lowers, each with its reason.

What is known elsewhere becomes care there in the same act. A line that falls calls off what was
booked for it. Taking a reason back lets the ask stand again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.care.case import Visit
from recall.desk.core.acting import Act, Next
from recall.desk.core.guarding import needs
from recall.desk.core.looking import looks
from recall.desk.core.person_lookup import person_row
from recall.desk.core.replanning import decided_by_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.judging import keep, refuse, say_judged
from recall.desk.visits.rows import decision_row
from recall.errors import InputError, NotFound
from recall.records import tables
from recall.records.facts.cases import case_for, stands
from recall.records.tables.statements import many, whole
from recall.schedule.plan import BECAUSE_WORDS, Because, Decision
from recall.schedule.plan_lines import Judgement, Line, line_named, lines_of
from recall.schedule.planning import plan

DONE = {"strike": "struck out", "move": "moved", "weigh": "weighed anew"}


@dataclass(frozen=True)
class StandingLines:
    """What stands for a person today, line by line."""

    ref: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class JudgedLine:
    """A line that somebody struck out or weighed anew, as it is on record."""

    number: int
    """To take it back by."""
    on: date
    by: str
    words: str


@needs(Right.LOOK)
@looks
def standing_lines(desk: Desk, ref: str) -> StandingLines:
    """Return the lines of somebody's plan today.

    Raises:
        NotFound: no such person.
    """
    with desk.store.read() as session:
        person = person_row(session, ref)
        lines, _ = _lines(desk, session, person.id)
        return StandingLines(person.ref, lines)


@needs(Right.DECIDE)
def judge_line(desk: Desk, ref: str, name: str, judgement: Judgement) -> Next:
    """Strike a standing line out, move it, or make it more or less urgent.

    Raises:
        NotFound: no such person or line.
        Refused: it may not be, as it is said.
        InputError: a day, an urgency or a reason is missing.
    """
    return judge_lines(desk, ref, [(name, judgement)])


@needs(Right.DECIDE)
def judge_lines(
    desk: Desk,
    ref: str,
    judged: Sequence[tuple[str, Judgement]],
    moves: Sequence[Decision] = (),
) -> Next:
    """Judge several standing lines at once, each with its reason; no visit is made for it.

    Args:
        desk: who acts, on which day.
        ref: the person's reference.
        judged: lines by name, and what is made of each.
        moves: other days for what an appointment is about, ear by ear.

    Raises:
        NotFound: no such person or line.
        Refused: it may not be, as it is said.
        InputError: a day, an urgency or a reason is missing.
    """
    with desk.store.write() as session:
        person = person_row(session, ref)
        lines, last = _lines(desk, session, person.id)
        act, said = Act(desk, session, person.id), []
        for name, judgement in judged:
            line = _named(lines, name)
            refuse(desk, line, judgement, last, person.born)
            keep(act, [(line, judgement)], desk.today, person.born)
            because = BECAUSE_WORDS[judgement.because]
            said.append(f"{line.words().capitalize()}: {DONE[judgement.does]}, {because}.")
        said += [_move(desk, act, lines, move) for move in moves]
        words = " ".join((*dict.fromkeys(said), "Planned again."))
        return act.finish("judged", words, refold=True)


def _named(lines: Sequence[Line], name: str) -> Line:
    line = line_named(lines, name)
    if line is None:
        there = ", ".join(each.name for each in lines) or "none"
        raise NotFound(f"There is no line {name!r} in this plan.", hint=f"There are: {there}.")
    return line


def _move(desk: Desk, act: Act, lines: Sequence[Line], move: Decision) -> str:
    """Store other days for something that stands, and say so."""
    about = move.ear, move.track, move.kind
    if all(about != (d.ear, d.track, d.kind) for line in lines for d in line.dues):
        raise NotFound(f"Nothing about {move.track} stands for the {move.ear} ear any more.")
    days = [day for day in (move.earliest, move.target, move.latest) if day is not None]
    if len(days) < 3 or days != sorted(days) or days[0] < desk.today:
        raise InputError(
            "The days are out of order, or gone by.", hint="Earliest, then target, then latest."
        )
    if not (move.because or move.why.strip()):
        raise InputError("A date is not changed without a reason.", hint="Say why.")
    act.add("decision", **decision_row(act.person_id, move))
    return f"{str(move.track).replace('_', ' ').capitalize()}, {move.ear} ear: {DONE['move']}."


@needs(Right.DECIDE, number="decision")
def take_back(desk: Desk, number: int, why: str) -> Next:
    """Take back what was made of a line: what the rules ask stands again.

    Raises:
        InputError: no reason.
        NotFound: no such number, or it was taken back already.
    """
    if not why.strip():
        raise InputError("It is not taken back without words.", hint="Add --why.")
    d, c = tables.Decision, tables.UnderCare
    wanted = select(whole(d)).where(d.id == number, d.because.is_not(None), stands(d))
    with desk.store.write() as session:
        row = session.scalars(wanted).one_or_none()
        if row is None:
            raise NotFound(f"Nothing was judged under number {number}.", hint="See recall line.")
        act = Act(desk, session, row.person_id)
        for table, name in ((d, "decision"), (c, "under_care")):
            same = table.person_id == row.person_id, table.recorded_at == row.recorded_at
            for each in session.scalars(select(table.id).where(*same, stands(table))).all():
                act.void(name, each, why.strip())
        return act.finish("judged_back", "Taken back. Planned again.", refold=True)


@dataclass(frozen=True)
class RuleStruck:
    """How often what a rule asks was struck out, and why."""

    rule: str
    times: int
    because: tuple[tuple[Because, int], ...]


@needs(Right.LOOK)
def struck_by_rule(desk: Desk) -> tuple[RuleStruck, ...]:
    """Return how often each rule was struck out and why, the most often first."""
    d = tables.Decision
    wanted = (
        select(d.rule, d.because, func.count())
        .where(d.action == "strike", d.because.is_not(None), stands(d))
        .group_by(d.rule, d.because)
    )
    counts: dict[str, dict[Because, int]] = {}
    with desk.store.read() as session:
        for rule, because, times in many(session, wanted):
            if because is not None:
                counts.setdefault(rule, {})[because] = times
    found = [
        RuleStruck(rule, sum(why.values()), tuple((b, why[b]) for b in BECAUSE_WORDS if b in why))
        for rule, why in counts.items()
    ]
    return tuple(sorted(found, key=lambda each: (-each.times, each.rule)))


def judged_lines(session: Session, person_id: int, held: Iterable[Decision]) -> list[JudgedLine]:
    """Return which lines somebody judged otherwise and still hold, with who decided."""
    keys = {_key(each) for each in held}
    d, s = tables.Decision, tables.Staff
    wanted = (
        select(whole(d), s.name)
        .join_from(d, s, d.by_id == s.id)
        .where(d.person_id == person_id, d.action.in_(("strike", "weigh")), stands(d))
        .order_by(d.id)
    )
    found: dict[datetime, JudgedLine] = {}
    for row, name in session.execute(wanted):
        if _key(row) in keys and row.because is not None:
            found.setdefault(row.recorded_at, JudgedLine(row.id, row.on, name, say_judged(row)))
    return list(found.values())


def _key(row: tables.Decision | Decision) -> tuple[object, ...]:
    return row.on, row.ear, row.track, row.to, row.kind, row.rule, row.action, row.urgency


def _lines(desk: Desk, session: Session, person_id: int) -> tuple[tuple[Line, ...], Visit | None]:
    """Return what stands for somebody today, and their last visit."""
    case = case_for(session, person_id)
    made = plan(
        case,
        desk.protocol,
        desk.today,
        calendar=desk.calendar,
        decisions=decided_by_people(session, [person_id]).get(person_id, ()),
        population=desk.populations,
    )
    visits = [v for v in case.visits if v.on <= desk.today]
    return lines_of(made), max(visits, key=lambda v: v.on, default=None)
