"""What every list says first: what is not signed off, what is late, what waits."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import msgspec
from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, differs
from recall.desk.oversight import job_health
from recall.desk.oversight.alarm import Alarm
from recall.desk.oversight.failsafe_kinds import UNREADABLE, is_break
from recall.desk.post.letter_keys import RESTORED
from recall.desk.worklists.diary import differing
from recall.records import tables
from recall.records.database import files, keys
from recall.records.facts.candidates import milder_unseen, of_sites, waits
from recall.records.facts.cases import stands
from recall.records.journal import history, job_ledger
from recall.schedule.calendar import say_day
from recall.schedule.planning import NOT_SIGNED


@needs(Right.LOOK)
def announcements(desk: Desk) -> tuple[str, ...]:
    """Return what whoever looks at a list must know first.

    What failed comes first (what must never be, the chain, jobs), then what waits or was not begun.
    """
    with desk.store.read() as session:
        only_shown(desk, session)
        set_back = _set_back(desk, session) if desk.allows(Right.KEEP_STAFF) else ""
        restored = _restored(desk, session)
        waiting = session.scalar(
            select(func.count())
            .select_from(tables.Visit)
            .where(*waits(tables.Visit), *of_sites(session, tables.Visit.person_id))
        )
        milder = milder_unseen(session)
        broken = (*_left_out(desk, session), _breaks(session))
        piles = _not_posted(desk, session)
        diary = [
            f"{say_day(each.on, weekday=True)}: {each.words} recall appointments --day {each.on}."
            for each in differing(session, desk.today)
        ]
        unplanned = session.scalar(select(func.count()).select_from(tables.ToPlan))
    alarm = f"{desk.alarm} See recall history verify." if desk.alarm else ""
    other_file = differs(desk.file_digest, desk.protocol.digest)
    alarms = _aside(desk), alarm, *broken
    found: list[str] = [Alarm(said) for said in alarms if said]
    failed, not_begun = _jobs(desk)
    found += [*failed, *(said for said in (set_back, restored, other_file) if said)]
    found += [*piles, *diary]
    if not desk.protocol.signed_off:
        found.append(NOT_SIGNED)
    if keys.is_set() and not files.in_force():
        found.append("The register is not encrypted yet: recall encryption begin.")
    if unplanned:
        found.append(f"{unplanned:,} people wait to be planned: recall replan.")
    if waiting:
        found.append(f"{waiting:,} visits wait for a clinician: recall confirm.")
    if milder:
        found.append(f"{milder:,} corrected lines wait for a second clinician: recall line milder.")
    return (*found, *not_begun)


def _aside(desk: Desk) -> str:
    """Say whose record cannot be read."""
    aside = "; ".join(desk.store.left_out)
    gone = f"Left out of every list, for it cannot be read: {aside}. See recall restore."
    return gone if aside else ""


def _jobs(desk: Desk) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Say which jobs failed or are late, or that none was ever begun."""
    said = job_health.announcements(desk)
    return ((), said) if job_health.NEVER_RAN in said else (said, ())


def _left_out(desk: Desk, session: Session) -> Iterator[str]:
    """Say whom the last safety check and the last letters left out, for they cannot be read."""
    told = tables.FailsafeFinding
    if (run := _last_check(session)) is not None:
        mine = told.run_id == run.id, told.kind == UNREADABLE
        for person, says in session.execute(select(told.person_id, told.says).where(*mine)):
            if person not in desk.store.aside:
                yield says
    for made in job_ledger.runs(session, "letters", limit=1):
        if left_out := msgspec.json.decode(made.counts).get("left_out"):
            day, whom = say_day(made.for_day), "; ".join(left_out)
            yield f"The letters of {day} were made without who cannot be read: {whom}."


def _last_check(session: Session) -> Row[int, date] | None:
    ran = tables.FailsafeRun
    last = select(ran.id, ran.on).where(stands(ran)).order_by(ran.id.desc()).limit(1)
    return session.execute(last).one_or_none()


def _breaks(session: Session) -> str:
    """Say what the last safety check found that must never be; nothing where it found none."""
    told, run = tables.FailsafeFinding, _last_check(session)
    if run is None:
        return ""
    kinds = session.scalars(select(told.kind).where(told.run_id == run.id))
    count = sum(map(is_break, kinds))
    if not count:
        return ""
    return (
        f"The safety check of {say_day(run.on)} found {count:,} that must never be: "
        "recall failsafe --last."
    )


def _not_posted(desk: Desk, session: Session) -> list[str]:
    """Say which letters were printed on an earlier day and are not said to be posted."""
    b = tables.Batch
    wanted = select(b.number, b.printed_at).where(
        stands(b), b.printed_at.is_not(None), b.posted_on.is_(None)
    )
    printed = [
        (number, desk.clock.day_of(at))
        for number, at in session.execute(wanted.order_by(b.number))
        if at is not None
    ]
    return [
        f"Batch {number} was printed on {say_day(day)} and is not posted: recall letters posted."
        for number, day in printed
        if day < desk.today
    ]


def _set_back(desk: Desk, session: Session) -> str:
    """Say for a week that the machine's clock went back: hours noted since may be wrong."""
    found = history.set_back_since(session, 0)
    on = desk.clock.day_of(found[-1][1]) if found else None
    if on is None or desk.clock.day_of(desk.now) - on > timedelta(days=7):
        return ""
    return f"The machine's clock was set back on {say_day(on)}: see recall history verify."


def _restored(desk: Desk, session: Session) -> str:
    """Say for two weeks that the register was restored."""
    wanted = select(tables.History.at).where(
        tables.History.entity == "register", tables.History.what == RESTORED
    )
    at = session.scalar(wanted.order_by(tables.History.id.desc()).limit(1))
    on = desk.clock.day_of(at) if at else None
    if on is None or desk.clock.day_of(desk.now) - on > timedelta(days=14):
        return ""
    return f"The register was restored on {say_day(on)}: what was noted before may be missing."
