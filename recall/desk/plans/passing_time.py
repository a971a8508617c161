"""What changes by time alone: bring the search columns of those whose day has come up to date.

A step whose day lies ahead stays what it is until something happens; one whose day has come
may lapse (a look at the list), turn (a booking that lies behind) or be followed by another.
"""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import select, union

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.status_on import has_gone_by
from recall.records import tables
from recall.records.facts.candidates import settled_for
from recall.records.facts.first_counts import WENT_LIVE
from recall.records.journal import history

Progress = Callable[[int, int], None]


@needs(Right.MAINTAIN, for_the_others=True)
def bring_up_to_date(
    desk: Desk, progress: Progress | None = None, *, everybody: bool = False
) -> int:
    """Refresh everybody with a step or a chase whose day has come; return how many changed.

    Everybody with something open, where the contact steps themselves are others than before.
    Page by page, so that the desks can go on working between them.
    """
    # Imported here: whoever opens the desk asks only whether there is anything to do.
    from recall.desk.core.replanning import PAGE, refresh

    with desk.store.read() as session:
        settled = settled_for(session) == desk.protocol.contact.live_from()
    everybody = everybody or not settled
    f, r = tables.FollowUp, tables.Referral
    steps, chases = select(f.person_id).where(f.is_open), select(r.person_id).where(r.is_open)
    if not everybody:
        steps, chases = (
            steps.where(f.next_step_on <= desk.today),
            chases.where(r.chase_on <= desk.today),
        )
    with desk.store.read() as session:
        ids = sorted(session.scalars(union(steps, chases)))
    turned = 0
    for start in range(0, len(ids), PAGE):
        with desk.store.write() as session:
            turned += refresh(desk, session, ids[start : start + PAGE])
        if progress is not None:
            progress(min(start + PAGE, len(ids)), len(ids))
    if not settled:
        _note_settled(desk)
    return turned


def _note_settled(desk: Desk) -> None:
    """Write down for which day of going live the search columns hold now."""
    live = desk.protocol.contact.live_from()
    number = live.toordinal() if live else 0
    with desk.store.write() as session:
        history.append(session, desk.by.id, desk.now, "worked_out", WENT_LIVE, number)


@needs(Right.LOOK)
def settle(desk: Desk, progress: Progress | None = None) -> None:
    """Bring everybody up to date once the day of going live is another one than before.

    Whoever only looks, or looks at another day than the register's, changes nothing.
    """
    if not desk.allows(Right.MAINTAIN) or desk.store.ahead:
        return
    with desk.store.read() as session:
        settled = settled_for(session) == desk.protocol.contact.live_from()
        if settled or has_gone_by(desk, session):
            return
    bring_up_to_date(desk, progress)
