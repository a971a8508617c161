"""What changes by time alone: bring the search columns of those whose day has come up to date.

A step whose day lies ahead stays what it is until something happens; one whose day has come
may lapse (a look at the list), turn (a booking that lies behind) or be followed by another.
"""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import select, union

from recall.desk.core.guarding import needs
from recall.desk.core.replanning import PAGE, refresh
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.records import tables

Progress = Callable[[int, int], None]


@needs(Right.MAINTAIN)
def bring_up_to_date(
    desk: Desk, progress: Progress | None = None, *, everybody: bool = False
) -> int:
    """Refresh everybody with a step or a chase whose day has come; return how many changed.

    Everybody with something open, where the contact steps themselves are others than before.
    Page by page, so that the desks can go on working between them.
    """
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
    return turned
