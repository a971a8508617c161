"""A changed protocol over the register: what would move, and adopting it by name.

Dues keep the rule that asked for them. Adopting changes no date: what would come earlier
becomes a list for a named clinician, who brings each forward or leaves it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import insert, select, update

from recall.care.case import To, Track
from recall.care.ear import Side
from recall.desk.core.guarding import needs
from recall.desk.core.replanning import NO_END, PAGE, decided_by_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.core.used_protocols import protocol_row
from recall.desk.plans.loosening import keep_loosened
from recall.desk.plans.moves import Move
from recall.desk.plans.passing_time import bring_up_to_date
from recall.errors import Refused
from recall.protocol.comparing import (
    compare,
    edited_in_place,
    ends_before,
    in_hindsight,
    sections_changed,
)
from recall.protocol.loading import Protocol, content_of
from recall.protocol.own_days import from_adoption
from recall.records import tables
from recall.records.facts.cases import cases_of, stands
from recall.records.journal.history import Change, append_all
from recall.records.tables.statements import table_of
from recall.schedule.fold import fold
from recall.schedule.plan import Due, Kind, Referral

Progress = Callable[[int, int], None]
Dues = dict[tuple[Side, Track, Kind], Due]
Sent = dict[tuple[Side, To], Referral]
Stands = tuple[Dues, Sent]
"""What is open of a person: looks and referrals."""


@dataclass(frozen=True)
class Compared:
    """Two protocols in words, and what the second would move in the register."""

    sentences: tuple[str, ...]
    people: int
    open_asks: int
    moves: tuple[Move, ...]

    def summary(self) -> tuple[str, ...]:
        """Return how many would move, which way and by how much."""
        earlier = [m.days for m in self.moves if m.days < 0]
        later = [m.days for m in self.moves if m.days > 0]
        anew = sum(m.latest is None for m in self.moves)
        gone = sum(m.window is None for m in self.moves)
        return (
            f"{self.open_asks} open asks of {self.people} people were looked at.",
            f"{len(earlier)} would come earlier{_by(earlier)}.",
            f"{len(later)} would come later{_by(later)}.",
            f"{anew} would be asked anew, {gone} would not be asked.",
        )


def _by(days: list[int]) -> str:
    if not days:
        return ""
    sizes = sorted(abs(d) for d in days)
    return f", by {sizes[0]} to {sizes[-1]} days (middle {sizes[len(sizes) // 2]})"


@needs(Right.LOOK)
def compare_over_register(
    desk: Desk, old: Protocol, new: Protocol, progress: Progress | None = None
) -> Compared:
    """Return what changes from one protocol to another, changing nothing.

    Every visit is judged by the newest rules of each, however old it is.
    """
    able = desk.protocol.capabilities
    before, after = (in_hindsight(each.used_with(able)) for each in (old, new))
    moves: list[Move] = []
    people = asks = 0
    for rows in _open_dues(desk, before, after, progress):
        for person_id, reference, was, would in rows:
            people += 1
            asks += len(was[0])
            moves += _moves(person_id, reference, was[0], would[0])
            moves += _dropped(person_id, reference, was[1], would[1])
    return Compared(compare(old, new), people, asks, tuple(moves))


def _moves(person_id: int, reference: str, was: Dues, would: Dues) -> Iterator[Move]:
    for key in sorted(set(was) | set(would)):
        old, new = was.get(key), would.get(key)
        if old is not None and new is not None and old.latest == new.latest:
            continue
        window = (new.earliest, new.target, new.latest) if new is not None else None
        named = new or old
        assert named is not None, "a key stands in at least one of the two"
        latest = old.latest if old is not None else None
        yield Move(person_id, reference, key[0], key[1], named.rule, latest, window, key[2])


def _dropped(person_id: int, reference: str, was: Sent, would: Sent) -> Iterator[Move]:
    """Give the referrals that would no longer be made."""
    for side, to in sorted(set(was) - set(would)):
        old = was[side, to]
        rule, latest = old.reasons[0].rule, old.stages.seen_by
        yield Move(person_id, reference, side, to, rule, latest, None, "refer")


def _open_dues(
    desk: Desk, old: Protocol, new: Protocol, progress: Progress | None
) -> Iterator[list[tuple[int, str, Stands, Stands]]]:
    """Yield each page of people with what is open under the one and the other protocol."""
    c = tables.Person
    with desk.store.read() as session:
        refs = dict(
            session.execute(select(c.id, c.ref).where(c.void_at.is_(None)).order_by(c.id)).all()
        )
    ids = list(refs)
    for start in range(0, len(ids), PAGE):
        page = ids[start : start + PAGE]
        with desk.store.read() as session:
            cases, decided = cases_of(session, page), decided_by_people(session, page)
        found: list[tuple[int, str, Stands, Stands]] = []
        for i, case in cases.items():
            both: list[Stands] = []
            for protocol in (old, new):
                ledger = fold(
                    case,
                    protocol,
                    NO_END,
                    decisions=decided.get(i, ()),
                    population=desk.populations,
                )
                dues = {(d.ear, d.track, d.kind): d for d in ledger.open}
                both.append((dues, {(r.ears[0], r.to): r for r in ledger.referrals}))
            found.append((i, refs[i], both[0], both[1]))
        yield found
        if progress is not None:
            progress(min(start + PAGE, len(ids)), len(ids))


@needs(Right.ADOPT)
def adopt(desk: Desk, new: Protocol, progress: Progress | None = None) -> int:
    """Adopt a protocol by name; return how many dates wait for a clinician's word.

    What is new in it counts from today on, whatever earlier day the file gives it.

    Raises:
        Refused: whoever acts may not decide, it is the adopted one, or what already stands would
            be judged otherwise.
    """
    old, today = desk.protocol, desk.today
    if new.digest == old.digest and _is_adopted(desk, new.digest):
        raise Refused("This protocol is the adopted one.", hint="There is nothing to adopt.")
    new = from_adoption(old, new, today).used_like(old)
    faults = edited_in_place(old, new) + ends_before(old, new, today)
    faults += sections_changed(old, new, today)
    if faults:
        raise Refused(faults[0], hint=f"{len(faults)} in all; see recall protocol compare.")
    compared = compare_over_register(desk, desk.protocol, new, progress)
    waiting = _store_adoption(desk, new, compared.moves)
    if new.written != old.written:
        # What the lists keep of each next step was worked out by the steps before.
        bring_up_to_date(replace(desk, protocol=new), everybody=True)
    return waiting


def _is_adopted(desk: Desk, digest: str) -> bool:
    c = tables.Protocol
    wanted = select(c.id).where(c.digest == digest, c.adopted_on.is_not(None), stands(c))
    with desk.store.read() as session:
        return session.scalar(wanted) is not None


def _store_adoption(desk: Desk, new: Protocol, moves: Sequence[Move]) -> int:
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id}
    with desk.store.write() as session:
        number = protocol_row(desk, session, new)
        session.execute(
            update(table_of(tables.Protocol))
            .where(tables.Protocol.id == number)
            .values(
                content=content_of(new).decode(), adopted_on=desk.today, adopted_by_id=desk.by.id
            )
        )
        found = 0
        keep_loosened(desk, session, number, [m for m in moves if m.window is None or m.days > 0])
        for move in (m for m in moves if m.days < 0):
            c = tables.Due
            due_id = session.scalar(
                select(c.id).where(
                    c.person_id == move.person_id,
                    c.ear == move.ear,
                    c.track == move.track,
                    c.kind == "recheck",
                    c.is_open,
                )
            )
            if due_id is None:
                continue
            row = {"person_id": move.person_id, "due_id": due_id, "protocol_id": number}
            names = ("earliest", "target", "latest")
            window = dict(zip(names, move.window or (), strict=True))
            session.execute(insert(table_of(tables.Proposal)), {**row, **window, **made})
            found += 1
        now = {"digest": new.digest, "counts_from": desk.today}
        change = Change("adopted", "protocol", number, None, now)
        append_all(session, desk.by.id, desk.now, [change])
    return found
