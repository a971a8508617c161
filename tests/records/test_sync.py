"""What the fold says becomes rows: asked, closed, standing up again, grouped, referred."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import msgspec
import pytest
from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal import history
from recall.records.ledger.stored import DUE_FIELDS
from recall.records.ledger.storing import store_ledger
from recall.schedule.plan import Decision, Due, ReferralEnd
from tests.records.build import DAY, WHO, closing, due, ledger, opens, person, referral, visit

LATER = DAY + timedelta(weeks=6)


def keep(session: Session, person_id: int, *args, on: date = DAY, **kwargs):
    return store_ledger(session, person_id, ledger(*args, **kwargs), replace(WHO, on=on), opens)


def dues(session: Session) -> list[tables.Due]:
    return list(session.scalars(select(tables.Due).order_by(tables.Due.id)))


def follow_ups(session: Session) -> list[tables.FollowUp]:
    return list(session.scalars(select(tables.FollowUp).order_by(tables.FollowUp.id)))


def events(session: Session) -> list[tuple[int, str, str | None]]:
    e = tables.DueEvent
    return [tuple(r) for r in session.execute(select(e.due_id, e.what, e.reason).order_by(e.id))]


def test_every_field_of_the_plan_has_its_column() -> None:
    assert set(DUE_FIELDS) <= set(tables.Due.__table__.c.keys())
    assert set(Decision.__struct_fields__) <= set(tables.Decision.__table__.c.keys())


def test_a_new_due_is_kept_as_it_was_asked(store: Store) -> None:
    asked = due(do=("otoscopy", "tympanometry"), beaten=("other",), says_aloud="A look.")
    with store.write() as session:
        who = person(session)
        seen = visit(session, who.id)
        keep(session, who.id, asked)
        row = dues(session)[0]

        kept = Due(**{name: getattr(row, name) for name in DUE_FIELDS})
        assert kept == asked
        assert (row.visit_id, row.is_open) == (seen.id, True)


def test_a_new_follow_up_has_its_next_step_and_holds_its_dues(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due(), due(ear="left"))
        found = follow_ups(session)
        held = session.scalars(select(tables.FollowUpDue.due_id)).all()

    assert [(f.step, f.next_step_on, f.urgency_rank) for f in found] == [
        ("invitation", date(2026, 9, 15), 3)
    ]
    assert list(held) == [1, 2]


def test_storing_the_same_ledger_twice_changes_nothing(store: Store) -> None:
    same = {"referrals": (referral(),), "closings": (closing(due(ear="left"), LATER),)}
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due(), **same)
        before = session.scalar(select(func.count()).select_from(tables.History))

        done = keep(session, who.id, due(), **same)

        after = session.scalar(select(func.count()).select_from(tables.History))
    assert (done.dues_asked, done.dues_closed, done.opened, done.changed, done.referrals) == (
        0,
        0,
        (),
        (),
        (),
    )
    assert after == before


def test_what_the_loop_and_the_calendar_set_stays_while_the_window_is_the_same(store: Store):
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        row = follow_ups(session)[0]
        row.urgency_rank, row.offer_on, row.next_step_on = 1, DAY + timedelta(days=30), LATER

        done = keep(session, who.id, due())

        row = follow_ups(session)[0]
        assert (row.urgency_rank, row.offer_on, row.next_step_on) == (1, date(2026, 10, 1), LATER)
        assert done.changed == ()


def test_an_answering_visit_closes_the_due_and_its_follow_up(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        visit(session, who.id)
        keep(session, who.id, due())
        answer = visit(session, who.id, LATER)

        keep(session, who.id, closings=(closing(due(), LATER, visit_on=LATER),), on=LATER)

        event = session.scalars(select(tables.DueEvent)).one()
        assert (event.what, event.reason, event.visit_id) == ("closed", "answered", answer.id)
        row = follow_ups(session)[0]
        assert (row.is_open, row.close_reason, row.closed_on) == (False, "answered", LATER)
        assert row.next_step_on is None


def test_a_visit_entered_late_closes_the_follow_up_on_its_own_day(store: Store) -> None:
    """So that a past day shows what was true then, by what is known today."""
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())

        entered_on = LATER + timedelta(weeks=3)
        keep(session, who.id, closings=(closing(due(), LATER, visit_on=LATER),), on=entered_on)

        assert follow_ups(session)[0].closed_on == LATER


def test_voiding_the_answering_visit_opens_the_due_and_the_same_follow_up_again(store: Store):
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        follow_ups(session)[0].step_no = 2
        visit(session, who.id, LATER)
        keep(session, who.id, closings=(closing(due(), LATER, visit_on=LATER),), on=LATER)

        keep(session, who.id, due(), on=LATER)

        assert events(session) == [(1, "closed", "answered"), (1, "reopened", None)]
        assert dues(session)[0].is_open
        row = follow_ups(session)[0]
        assert (row.is_open, row.step_no, row.closed_on) == (True, 2, None)
        assert row.next_step_on is not None


def test_a_closing_that_cites_another_visit_now_is_noted_anew(store: Store) -> None:
    """The visit that answered was voided; a later one answers it."""
    much_later = LATER + timedelta(weeks=1)
    with store.write() as session:
        who = person(session)
        visit(session, who.id, LATER)
        keep(session, who.id, closings=(closing(due(), LATER, visit_on=LATER),))
        second = visit(session, who.id, much_later)

        keep(session, who.id, closings=(closing(due(), much_later, visit_on=much_later),))

        cited = session.scalars(select(tables.DueEvent.visit_id)).all()
        assert (cited[-1], len(cited)) == (second.id, 2)


def test_a_due_whose_visit_is_gone_is_closed_as_entered_in_error(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())

        keep(session, who.id)

        assert events(session) == [(1, "closed", "entered_in_error")]
        assert follow_ups(session)[0].close_reason == "entered_in_error"


def test_a_due_that_its_standing_visit_asks_no_more_is_superseded(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        visit(session, who.id)
        keep(session, who.id, due())

        keep(session, who.id)

        assert events(session) == [(1, "closed", "superseded")]


def test_a_dues_dates_are_never_edited(store: Store) -> None:
    """A corrected visit asks for other dates: another row, and the first one closed."""
    moved = due(asked_on=DAY + timedelta(days=3))
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())

        keep(session, who.id, moved)

        assert [(d.latest, d.is_open) for d in dues(session)] == [
            (due().latest, False),
            (moved.latest, True),
        ]


def test_a_corrected_visit_goes_on_with_the_contact_run(store: Store) -> None:
    """Letters already sent count when only the dates were put right."""
    moved = due(asked_on=DAY + timedelta(days=3))
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        follow_ups(session)[0].step_no = 2

        keep(session, who.id, moved)

        assert [(f.is_open, f.step_no, f.latest) for f in follow_ups(session)] == [
            (True, 2, moved.latest)
        ]


def test_regrouping_keeps_the_follow_up_that_is_furthest_on(store: Store) -> None:
    """Two separate follow-ups become one; the second had its letter already."""
    first = due()
    second = due(
        ear="left",
        track="wax",
        earliest=DAY + timedelta(weeks=20),
        target=DAY + timedelta(weeks=22),
        latest=DAY + timedelta(weeks=24),
    )
    both = due(
        ear="left",
        track="hearing",
        earliest=DAY + timedelta(weeks=7),
        target=DAY + timedelta(weeks=8),
        latest=DAY + timedelta(weeks=21),
    )
    with store.write() as session:
        who = person(session)
        keep(session, who.id, first, second)
        ahead = next(f for f in follow_ups(session) if f.tracks == ("wax",))
        ahead.step_no = 3
        session.flush()

        wide = msgspec.structs.replace(second, earliest=first.earliest)
        keep(session, who.id, first, wide, both)

        still = [f for f in follow_ups(session) if f.is_open]
        assert [(f.id, f.step_no, set(f.tracks)) for f in still] == [
            (ahead.id, 3, {"fluid", "wax", "hearing"})
        ]
        assert [f.close_reason for f in follow_ups(session) if not f.is_open] == ["superseded"]


def test_a_due_is_held_by_one_open_follow_up_only(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        narrow = due(
            ear="left", earliest=due().earliest, target=due().earliest, latest=due().earliest
        )
        keep(session, who.id, due(), narrow)
        keep(session, who.id, due(), narrow, due(ear="left", track="hearing", urgency="urgent"))
        link = tables.FollowUpDue
        reconciled = session.execute(
            select(link.due_id, func.count()).where(link.left_at.is_(None)).group_by(link.due_id)
        )

        assert {count for _due, count in reconciled} == {1}


def test_an_open_follow_up_without_a_next_step_is_refused_by_the_database(store: Store) -> None:
    with pytest.raises(IntegrityError, match="open_has_next_step"), store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        follow_ups(session)[0].next_step_on = None


def referrals(session: Session) -> list[tables.Referral]:
    return list(session.scalars(select(tables.Referral).order_by(tables.Referral.id)))


def test_a_referral_is_kept_with_the_day_it_is_chased(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))

        row = referrals(session)[0]
        assert (row.stage, row.chase_on, row.is_open) == ("sent", date(2026, 9, 4), True)


def test_a_referral_asked_again_goes_on_as_the_same_row(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        row = referrals(session)[0]
        row.stage, row.chase_on = "accepted", date(2026, 9, 15)

        keep(session, who.id, referrals=(referral(LATER, urgency="urgent"),), on=LATER)

        rows = referrals(session)
        assert [(r.stage, r.urgency, r.asked_on) for r in rows] == [("accepted", "urgent", LATER)]


def test_a_referral_that_somebody_ended_stays_ended(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        row = referrals(session)[0]
        row.is_open, row.chase_on, row.end_reason = False, None, "result_back"

        keep(session, who.id, referrals=(referral(),))

        assert not referrals(session)[0].is_open


def test_a_referral_not_sent_yet_is_dropped_with_its_visit(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        keep(session, who.id)

        assert referrals(session)[0].end_reason == "entered_in_error"


def test_a_sent_referral_is_never_dropped_silently(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        referrals(session)[0].stage = "accepted"

        keep(session, who.id)
        keep(session, who.id)

        row = referrals(session)[0]
        noted = session.scalars(select(tables.ReferralEvent.what)).all()
        assert (row.is_open, row.chase_on, list(noted)) == (True, DAY, ["no_longer_asked"])


def test_a_referral_taken_up_elsewhere_is_ended(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        taken_up = ReferralEnd(referral=referral(), on=DAY - timedelta(days=9), reason="under_care")

        keep(session, who.id, referral_ends=(taken_up,))

        row = referrals(session)[0]
        assert (row.is_open, row.end_reason, row.ended_on) == (False, "under_care", taken_up.on)


def test_a_referral_that_one_pressing_more_takes_the_place_of_is_ended_as_that(
    store: Store,
) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        sooner = referral(DAY + timedelta(days=2), urgency="urgent")
        given_way = ReferralEnd(referral=referral(), on=sooner.asked_on, reason="superseded")

        keep(session, who.id, referrals=(sooner,), referral_ends=(given_way,))

        old, new = referrals(session)
        assert (old.is_open, old.end_reason, old.ended_on) == (False, "superseded", sooner.asked_on)
        assert (new.is_open, new.urgency, new.stage) == (True, "urgent", "sent")


def test_a_referral_asked_for_again_after_an_error_stands_again(store: Store) -> None:
    """The visit that asked was voided by mistake and put back."""
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        keep(session, who.id)
        keep(session, who.id, referrals=(referral(),))

        row = referrals(session)[0]
        closed = session.scalars(select(tables.ReferralEvent)).first()
        assert (row.is_open, row.chase_on, row.end_reason) == (True, date(2026, 9, 4), None)
        assert closed is not None and closed.void_why == "Asked for again."


def test_every_change_is_in_a_history_that_verifies(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due(), referrals=(referral(),))
        keep(session, who.id)
        told = session.execute(select(tables.History.entity, tables.History.what)).all()

    assert [tuple(t) for t in told] == [
        ("due", "asked"),
        ("follow_up", "opened"),
        ("referral", "asked"),
        ("due", "closed"),
        ("follow_up", "closed"),
        ("referral", "closed"),
    ]
    assert history.verify(store) == ()
