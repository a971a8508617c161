"""What the last safety check found, with names: breaks one by one, backlog counted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES
from recall.desk.core.guarding import needs
from recall.desk.core.person_header import person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.oversight.failsafe import Finding
from recall.desk.oversight.failsafe_kinds import BACKLOG, Found, Tally, is_break, tallies
from recall.records import tables
from recall.records.facts.cases import pages
from recall.records.tables.statements import many


@dataclass(frozen=True)
class FindingLine:
    """Something that the last safety check found."""

    kind: str
    urgency: str
    reference: str
    name: str
    born: date | None
    since_on: date | None
    says: str
    entity: str
    entity_id: int
    is_break: bool
    """It must never be; anything else is backlog, on somebody's list."""
    is_new: bool
    """The check before did not find it."""


@dataclass(frozen=True)
class Checked:
    """The last safety check."""

    on: date | None
    """None where it never ran."""
    people: int
    breaks: tuple[FindingLine, ...]
    backlog: tuple[FindingLine, ...]
    counted: tuple[Tally, ...] = ()
    """The backlog by kind."""
    gone: int = 0
    """Breaks that the check before found and this one does not."""

    @property
    def lines(self) -> tuple[FindingLine, ...]:
        """Return everything found, the breaks first."""
        return (*self.breaks, *self.backlog)

    @property
    def shown(self) -> tuple[FindingLine, ...]:
        """Return the breaks, and a line for each kind of backlog: it is on its own list."""
        return (*self.breaks, *(_counted(tally) for tally in self.counted))


@needs(Right.LOOK)
def checked(desk: Desk) -> Checked:
    """Return what the last safety check found, with names, the most pressing first."""
    report = failsafe.last(desk)
    if report is None:
        return Checked(None, 0, (), ())
    before = failsafe.last(desk, report.run_id)
    was = {_key(one) for one in before.findings} if before else set()
    now = {_key(one) for one in report.findings}
    lines = _lines(desk, report.findings, was)
    gone = [kind for kind, *_rest in was - now]
    breaks = tuple(line for line in lines if line.is_break)
    backlog = tuple(line for line in lines if not line.is_break)
    found = (Found(line.kind, line.urgency, line.is_new, line.reference) for line in backlog)
    ended = sum(is_break(kind) for kind in gone)
    counted = tallies(found, gone)
    return Checked(report.on, report.people, breaks, backlog, counted, ended)


def _key(found: Finding) -> tuple[str, str, int]:
    return found.kind, found.entity, found.entity_id


def _lines(
    desk: Desk, findings: Iterable[Finding], was: set[tuple[str, str, int]]
) -> list[FindingLine]:
    found = list(findings)
    ids = [one.person_id for one in found if one.person_id is not None]
    with desk.store.read() as session:
        people = person_headers(session, ids, desk.today, desk.protocol.contact)
        urgency = _urgencies(session, found)
    lines = []
    for one in found:
        who = people.get(one.person_id) if one.person_id is not None else None
        lines.append(
            FindingLine(
                kind=one.kind,
                urgency=urgency.get((one.entity, one.entity_id), ""),
                reference=who.reference if who else "",
                name=who.name if who else "",
                born=who.born if who else None,
                since_on=one.since_on,
                says=one.says,
                entity=one.entity,
                entity_id=one.entity_id,
                is_break=is_break(one.kind),
                is_new=_key(one) not in was,
            )
        )
    return sorted(lines, key=_pressing)


def _pressing(line: FindingLine) -> tuple[bool, int, date]:
    """Return what puts breaks first, then what is urgent, then what is oldest."""
    known = URGENCIES.index(line.urgency) if line.urgency in URGENCIES else len(URGENCIES)
    return not line.is_break, known, line.since_on or date.min


def _urgencies(session: Session, found: Iterable[Finding]) -> dict[tuple[str, int], str]:
    """Return how urgent each thing is that something was found about."""
    f, b, p = tables.FollowUp, tables.Booking, tables.Letter
    through = select(b.id, f.urgency).join_from(b, f, b.follow_up_id == f.id)
    posted = select(p.id, f.urgency).join_from(p, f, p.follow_up_id == f.id)
    ways = {
        "follow_up": (f.id, select(f.id, f.urgency)),
        "due": (tables.Due.id, select(tables.Due.id, tables.Due.urgency)),
        "referral": (tables.Referral.id, select(tables.Referral.id, tables.Referral.urgency)),
        "booking": (b.id, through),
        "letter": (p.id, posted),
    }
    known: dict[tuple[str, int], str] = {}
    for entity, (key, wanted) in ways.items():
        ids = sorted({one.entity_id for one in found if one.entity == entity})
        for some in pages(ids):
            for number, urgency in many(session, wanted.where(key.in_(some))):
                known[entity, number] = urgency
    return known


def _counted(tally: Tally) -> FindingLine:
    by = ", ".join(f"{tally.urgencies[u]} {u}" for u in URGENCIES if tally.urgencies[u])
    whose = f", about {tally.people} {'person' if tally.people == 1 else 'people'}"
    said = f"{tally.count} {BACKLOG[tally.kind]}{whose if tally.people else ''}"
    said += f": {by}" if by else ""
    says = f"{said}; {tally.new} new, {tally.gone} gone since the check before."
    return FindingLine(
        tally.kind, "", "", "", None, None, says, "backlog", 0, is_break=False, is_new=False
    )
