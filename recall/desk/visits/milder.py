"""Corrections that drop or lower what pressed: named, explained, and seen by a second person.

They stay on the clinician's list until somebody else who may decide has seen them; where nobody
else may, the same person on another day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act, Next
from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.replanning import decided_by_people
from recall.desk.core.rights import Right, Role, has_right
from recall.desk.core.session import Desk, staff
from recall.desk.visits.drafting import plan_of, without_visit
from recall.desk.visits.rows import as_case
from recall.errors import NotFound, Refused
from recall.records import tables
from recall.records.facts.candidates import of_sites
from recall.records.facts.cases import case_for, stands
from recall.records.tables.statements import whole
from recall.schedule.milder import Milder, milder


@dataclass(frozen=True)
class MilderRow:
    """Something that pressed, and that a correction dropped or lowered."""

    number: int
    reference: str
    on: date
    by: str
    words: str
    why: str


def say_milder(lost: Sequence[Milder]) -> str:
    """Name what a correction makes milder; nothing where it makes nothing so."""
    if not lost:
        return ""
    named = "; ".join(each.words() for each in lost)
    return f"Milder now: {named}. It waits for a second person to see it (recall line milder)."


def refuse_unexplained(lost: Sequence[Milder], why: str) -> None:
    """Refuse a correction that makes something milder without a reason.

    Raises:
        Refused: it names what.
    """
    if lost and not why.strip():
        named = "; ".join(each.words() for each in lost)
        raise Refused(
            f"Not corrected: this makes something milder. {named}.",
            hint="Look again, then say why: --milder-why.",
        )


def lost_by_void(desk: Desk, session: Session, old: tables.Visit) -> tuple[Milder, ...]:
    """Return what pressed and would be asked no more, or less, without a visit."""
    case = case_for(session, old.person_id)
    decisions = decided_by_people(session, [old.person_id]).get(old.person_id, ())
    rest = without_visit(case, as_case(session, old))
    return milder(plan_of(desk, case, decisions), plan_of(desk, rest, decisions))


def keep_milder(act: Act, visit_id: int, lost: Sequence[Milder], why: str) -> None:
    """Put what a correction made milder on the clinician's list."""
    for each in lost:
        about = {"ear": each.ear, "about": each.about, "was": each.was, "now": each.now}
        act.add("milder_line", person_id=act.person_id, visit_id=visit_id, why=why.strip(), **about)


@needs(Right.LOOK)
def milder_lines(desk: Desk) -> tuple[MilderRow, ...]:
    """Return what waits for a second person, the oldest first."""
    m, s, p = tables.MilderLine, tables.Staff, tables.Person
    wanted = (
        select(whole(m), p.ref, s.name)
        .join_from(m, p, m.person_id == p.id)
        .join(s, m.by_id == s.id)
        .where(m.seen_at.is_(None), stands(m))
        .order_by(m.on, m.id)
    )
    with desk.store.read() as session:
        only_shown(desk, session)
        wanted = wanted.where(*of_sites(session, m.person_id))
        return tuple(
            MilderRow(
                row.id,
                ref,
                row.on,
                name,
                Milder(row.ear, row.about, row.was, row.now).words(),
                row.why,
            )
            for row, ref, name in session.execute(wanted)
        )


@needs(Right.DECIDE, number="milder_line")
def see_milder(desk: Desk, number: int) -> Next:
    """Record that a second named person has seen what a correction made milder.

    Raises:
        NotFound: no such number, or it was seen already.
        Refused: it is one's own, and somebody else may see it, or it is still the same day.
    """
    m = tables.MilderLine
    with desk.store.write() as session:
        wanted = select(whole(m)).where(m.id == number, m.seen_at.is_(None), stands(m))
        row = session.scalars(wanted).one_or_none()
        if row is None:
            raise NotFound(f"Nothing waits under number {number}.", hint="See recall line milder.")
        if row.by_id == desk.by.id:
            _refuse_own(desk, row.on)
        act = Act(desk, session, row.person_id)
        act.set("milder_line", number, seen_at=act.at, seen_by_id=desk.by.id)
        return act.finish("milder_seen", "Seen by a second person.")


def _refuse_own(desk: Desk, on: date) -> None:
    """Leave one's own correction to somebody else; where there is nobody, to another day."""
    here = [s for s in staff(desk.store) if not s.left_on and s.role is not Role.JOBS]
    others = [s.handle for s in here if s.id != desk.by.id and has_right(s.role, Right.DECIDE)]
    if others:
        raise Refused("It is your own correction.", hint=f"It is for: {', '.join(others)}.")
    if desk.today <= on:
        raise Refused(
            "It is your own correction of today.", hint="Nobody else may: look again tomorrow."
        )
