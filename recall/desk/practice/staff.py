"""Who acts: the staff table, from the first row on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date

from sqlalchemy import insert, select, update
from sqlalchemy.orm import Session

from recall.clock import Clock
from recall.desk.core.rights import ROLE_WORDS, Right, Role, has_right
from recall.desk.core.session import JOBS, StaffRow, staff, staff_member
from recall.errors import InputError, Refused
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.cases import stands
from recall.records.journal import history
from recall.records.tables.statements import table_of

_HANDLE_CHARS = set("abcdefghijklmnopqrstuvwxyz0123456789-_.")


def ensure_jobs(store: Store) -> None:
    """Make the row that the jobs act as, where it is missing."""
    with store.write() as session:
        known = session.scalar(select(tables.Staff.id).where(tables.Staff.handle == JOBS))
        if known is None:
            values = {"handle": JOBS, "name": "The jobs", "role": Role.JOBS.value}
            session.execute(insert(table_of(tables.Staff)).values(**values, is_job=True))


def add_staff(
    store: Store,
    clock: Clock,
    member: StaffRow,
    *,
    by: str | None,
) -> bool:
    """Add a member of staff; return whether they were new.

    The first who may decide needs nobody's leave; afterwards somebody adds others whose role
    may, and only a clinical lead adds somebody who decides about care.

    Raises:
        InputError: the handle cannot be used, or nobody is named as acting.
        Refused: whoever acts may not let others decide.
        Conflict: the handle is somebody else's.
    """
    handle, name = member.handle.strip().lower(), " ".join(member.name.split())
    if not handle or not set(handle) <= _HANDLE_CHARS:
        raise InputError(
            f"{member.handle!r} is no handle.", hint="Use a short word of letters and digits."
        )
    if not name:
        raise InputError(f"{handle} needs a name.", hint="Add --name.")
    known = {s.handle: s for s in staff(store)}
    if handle in known:
        return _same(known[handle], name, member)
    acting = _leave_given(store, clock, known, by, member.role)
    with store.write() as session:
        more = {"title": member.title, "registration": member.registration, "site": member.site}
        more["sites"] = ",".join(member.sites)
        values = {"handle": handle, "name": name, "role": member.role.value, **more}
        made = session.execute(
            insert(table_of(tables.Staff)).returning(tables.Staff.id), {**values, "is_job": False}
        ).scalar_one()
        _note(session, clock, acting.id if acting else made, "added", made, values)
    return True


def mark_left(
    store: Store, clock: Clock, handle: str, on: date, *, by: str | None, to: str = ""
) -> int:
    """Record that somebody leaves; what they did stays theirs, what they were to see to does not.

    Every open matter of theirs goes to whoever is named, or to all who have their role; how
    many went is returned.

    Raises:
        NotFound: no such handle, or they have left.
        Refused: they are the last who may decide, or whoever acts may not say so.
    """
    acting = staff_member(store, _named(by), clock.today())
    if acting.handle != handle.lower():
        _may_keep_staff(acting)
    leaving = staff_member(store, handle, clock.today())
    heir = staff_member(store, to, clock.today()) if to else None
    if heir is not None and heir.id == leaving.id:
        raise InputError(f"{heir.handle} cannot hand over to themselves.", hint="Name another.")
    able = [s for s in staff(store) if s.may_decide and not s.left_on and s.id != leaving.id]
    if leaving.may_decide and not able:
        raise Refused(
            f"{leaving.handle} is the last who may decide.",
            hint="Add another first: recall staff add HANDLE --name NAME --role practitioner.",
        )
    if leaving.handle == JOBS:
        raise Refused("The jobs do not leave.", hint="Name a person.")
    with store.write() as session:
        session.execute(
            update(table_of(tables.Staff)).where(tables.Staff.id == leaving.id).values(left_on=on)
        )
        _note(session, clock, acting.id, "left", leaving.id, {"handle": handle, "on": on})
        return _hand_over(session, clock, acting.id, leaving, heir)


def set_sites(
    store: Store,
    clock: Clock,
    handle: str,
    *,
    own: str | None,
    sites: Sequence[str] | None,
    by: str | None,
) -> StaffRow:
    """Set at which site somebody is and for which they work; None leaves what stands.

    Sites go by their handles; no sites are their own, and `all` is every one.

    Raises:
        NotFound: no such handle, or they have left.
        Refused: whoever acts may not say so.
    """
    acting = staff_member(store, _named(by), clock.today())
    _may_keep_staff(acting)
    known = staff_member(store, handle, clock.today())
    now = {
        "site": known.site if own is None else own,
        "sites": ",".join(known.sites if sites is None else dict.fromkeys(sites)),
    }
    was = {"site": known.site, "sites": ",".join(known.sites)}
    if was != now:
        with store.write() as session:
            row = table_of(tables.Staff)
            session.execute(update(row).where(row.c.id == known.id).values(**now))
            at = clock.now().astimezone(UTC)
            told = {"was": was, "now": {"handle": known.handle, **now}}
            history.append(session, acting.id, at, "changed", "staff", known.id, **told)
    return staff_member(store, handle, clock.today())


def _hand_over(
    session: Session, clock: Clock, by: int, leaving: StaffRow, heir: StaffRow | None
) -> int:
    """Give all open matters of a leaver to somebody, or to their role; return how many."""
    m = tables.Matter
    wanted = select(m.id, m.person_id).where(m.owner_id == leaving.id, m.is_open, stands(m))
    rows = session.execute(wanted.order_by(m.id)).all()
    now = {
        "owner_id": heir.id if heir else None,
        "owner_role": None if heir else leaving.role.value,
    }
    was = {"owner_id": leaving.id, "owner_role": None}
    at = clock.now().astimezone(UTC)
    for number, about in rows:
        session.execute(
            update(table_of(m)).where(m.id == number).values(**now, version=m.version + 1)
        )
        told = {"was": was, "now": now, "person_id": about}
        history.append(session, by, at, "changed", "matter", number, **told)
    return len(rows)


def _same(known: StaffRow, name: str, member: StaffRow) -> bool:
    """Return that nothing is new, or refuse a handle that is somebody else's."""
    if (known.name, known.role) == (name, member.role):
        return False
    raise InputError(
        f"The handle {known.handle} is taken.", hint="Choose another; nothing was changed."
    )


def _leave_given(
    store: Store, clock: Clock, known: dict[str, StaffRow], by: str | None, role: Role
) -> StaffRow | None:
    """Return who adds somebody; None for the very first who may decide."""
    able = [s.handle for s in known.values() if s.may_decide and s.left_on is None]
    if not able and not by:
        return None
    acting = staff_member(store, _named(by), clock.today())
    if able:
        _may_keep_staff(acting)
    if has_right(role, Right.DECIDE) and able and acting.role is not Role.CLINICAL_LEAD:
        leads = [s.handle for s in known.values() if s.role is Role.CLINICAL_LEAD]
        raise Refused(
            f"{acting.handle} may not let others decide.", hint=f"Ask one of: {', '.join(leads)}."
        )
    return acting


def _may_keep_staff(acting: StaffRow) -> None:
    if not has_right(acting.role, Right.KEEP_STAFF):
        words = f"{acting.handle} ({ROLE_WORDS[acting.role]}) may not {Right.KEEP_STAFF}."
        raise Refused(words, hint="Ask a clinical lead or the manager.")


def _named(by: str | None) -> str:
    if not by:
        raise InputError(
            "Nobody is named as acting.", hint="Add --by HANDLE, or staff.default to the file."
        )
    return by


def _note(session: Session, clock: Clock, by: int, what: str, row: int, now: object) -> None:
    history.append(session, by, clock.now().astimezone(UTC), what, "staff", row, now=now)
