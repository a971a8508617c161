"""How much there is on a day: each count is the length of its list.

What only a day that has gone by asks for is imported when it is asked: the desk's start waits here.
"""

from __future__ import annotations

from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.oversight.glance import ByStep, Counts
from recall.desk.post.choosing import choose
from recall.desk.post.weekly import monday_of
from recall.desk.worklists.day_list import come, day_rows
from recall.desk.worklists.matter_list import mine_and_late
from recall.desk.worklists.status_on import has_gone_by
from recall.loop.day import belongs, on_view
from recall.records.database.plain import by_session
from recall.records.facts import candidates
from recall.records.facts.first_counts import first_counts


@needs(Right.LOOK)
def counts(desk: Desk) -> Counts:
    """Return how much there is on the desk's day."""
    with desk.store.read() as session:
        only_shown(desk, session)
        live = desk.protocol.contact.live_from()
        left_out = candidates.left_out_sites(session)
        found = first_counts(by_session(session), desk.today, live, left_out)
        overdue, chased, history = found.overdue, found.referrals, found.history
        otherwise = candidates.settled_for(session) != live
        if otherwise or has_gone_by(desk, session):
            from recall.desk.worklists.referral_list import referrals

            overdue = len(day_rows(desk, session, "overdue"))
            chased = len(referrals(desk))
        if otherwise:
            from recall.desk.plans.changeover import old_asks

            history = len(old_asks(desk, session))
        by_step = _by_step(desk, session)
    return Counts(overdue, chased, found.unconfirmed, found.is_empty, history, by_step)


def _by_step(desk: Desk, session: Session) -> ByStep:
    rows, on = come(desk, session), desk.today
    matters, late = mine_and_late(desk, session)
    return ByStep(
        to_reach=len({row.person for row in on_view(rows, on, "reach")}),
        clinician=len({row.person for row in on_view(rows, on, "clinician")}),
        lost=sum(row.is_lost and belongs(row, on, "lost") for row in rows),
        letters=len(choose(desk, session, monday_of(desk.today)).chosen),
        matters=matters,
        late=late,
        milder=candidates.milder_unseen(session),
    )
