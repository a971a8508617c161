"""What a line that is judged otherwise takes with it, and what it leaves alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import insert

from recall.care.case import Visit
from recall.care.ear import Ear, Side
from recall.desk.core.session import Desk
from recall.desk.people.person_card import person
from recall.desk.plans.judging import judge_line, judge_lines, standing_lines, take_back
from recall.desk.visits.judging import refuse, say_withdrawn
from recall.errors import InputError, Refused
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.plan import Decision
from recall.schedule.plan_lines import Judgement, Line
from tests.desk.practice import DAY, FLUID, desk_at, later, open_follow_ups, rows, somebody, visit
from tests.records.build import due, referral

MASS = Ear(drum_seen="full", attic_seen=True, mass_behind_drum="white")
STRIKE = Judgement("strike", "judgement", "Seen elsewhere.")
GROWN = date(1980, 3, 2)


@pytest.fixture
def clara(store: Store) -> Desk:
    return desk_at(store, by="clara")


def booked(desk: Desk, on: date) -> None:
    """A child with fluid, whose next look is booked for a day."""
    child = somebody(desk)
    visit(desk, child, right=FLUID)
    for follow_up in open_follow_ups(desk.store, child):
        values = {
            "on": DAY,
            "recorded_at": desk.now,
            "by_id": desk.by.id,
            "person_id": child,
            "follow_up_id": follow_up["id"],
            "starts_local": datetime.combine(on, datetime.min.time()),
            "minutes": 20,
            "zone": "Europe/London",
        }
        with desk.store.write() as session:
            session.execute(insert(tables.Booking.__table__).values(**values))


def strike_all(desk: Desk, judgement: Judgement) -> None:
    for line in standing_lines(desk, "W1").lines:
        judge_line(desk, "W1", line.name, judgement)


def test_taking_a_reason_back_takes_back_the_care_elsewhere_written_with_it(clara: Desk) -> None:
    visit(clara, somebody(clara), right=MASS)
    judge_line(clara, "W1", "ent:right", Judgement("strike", "known_elsewhere"))
    assert rows(clara.store, tables.UnderCare) != []
    held = person(clara, "W1").judged[0]

    tomorrow = later(clara, 1)
    take_back(tomorrow, held.number, "They know nothing of it.")

    assert rows(clara.store, tables.UnderCare) == []
    assert "ent:right" in {line.name for line in standing_lines(tomorrow, "W1").lines}


def test_what_is_booked_for_a_line_that_is_only_put_off_stays_booked(clara: Desk) -> None:
    booked(clara, DAY + timedelta(weeks=5))

    strike_all(clara, replace(STRIKE, until=DAY + timedelta(weeks=20)))

    assert rows(clara.store, tables.BookingEvent) == []


@pytest.mark.parametrize(("days", "called_off"), [(0, False), (1, True)])
def test_who_is_booked_for_today_is_not_called_off(
    clara: Desk, days: int, called_off: bool
) -> None:
    booked(clara, DAY + timedelta(days))

    strike_all(clara, STRIKE)

    assert bool(rows(clara.store, tables.BookingEvent)) is called_off


def test_moving_an_emergency_later_needs_what_explains_it_and_moving_it_earlier_does_not(
    clara: Desk,
) -> None:
    line = Line(dues=(due(urgency="emergency"),))

    def moved(latest: date) -> Judgement:
        return Judgement("move", "judgement", window=(DAY, DAY, latest))

    with pytest.raises(Refused, match="An emergency stands"):
        refuse(clara, line, moved(line.latest + timedelta(days=1)), None, GROWN)
    refuse(clara, line, moved(line.latest), None, GROWN)


def test_only_a_referral_that_was_asked_before_is_said_to_be_withdrawn() -> None:
    """Nobody has been told yet of one that is asked and struck out on one day."""
    before, today = DAY - timedelta(days=1), DAY

    def said(asked_on: date, judgement: Judgement = STRIKE) -> str:
        line = Line(referral=referral(asked_on=asked_on))
        return say_withdrawn([(line, judgement)], today)

    assert "that the referral of" in said(before)
    assert said(today) == ""
    assert said(before, replace(STRIKE, until=DAY + timedelta(days=90))) == ""


@pytest.mark.parametrize(("side", "other"), [("right", "left"), ("left", "right")])
def test_a_level_explains_a_loss_only_where_the_other_ear_hears_no_better(
    clara: Desk, side: Side, other: Side
) -> None:
    """20 dB is a level under 25; beside an ear of 0 dB it is an asymmetry of more than 15."""
    line = Line(dues=(due(ear=side, track="hearing", urgency="emergency"),))
    explained = Judgement("strike", "explained", "Wax, out now.")

    def found(level: int) -> Visit:
        tones = ("500", "1000", "2000", "4000")
        ears = {side: Ear(hearing_dB=dict.fromkeys(tones, 20))}
        ears[other] = Ear(hearing_dB=dict.fromkeys(tones, level))
        return Visit(on=DAY, right=ears["right"], left=ears["left"])

    refuse(clara, line, explained, found(20), GROWN)
    with pytest.raises(Refused, match="An emergency stands"):
        refuse(clara, line, explained, found(0), GROWN)


@pytest.mark.parametrize("window", [(-1, 0, 0), (1, 0, 2), (0, 2, 1), (0, 0, None)])
def test_other_days_of_what_stands_are_in_order_and_not_gone_by(
    clara: Desk, window: tuple[int | None, ...]
) -> None:
    def moved(*days: int | None) -> Decision:
        found = [None if day is None else DAY + timedelta(days=day) for day in days]
        told = dict(zip(("earliest", "target", "latest"), found, strict=True))
        return Decision(
            on=DAY, ear="right", track="fluid", action="move", because="judgement", **told
        )

    visit(clara, somebody(clara), right=FLUID)

    with pytest.raises(InputError, match="out of order, or gone by"):
        judge_lines(clara, "W1", (), [moved(*window)])
    judge_lines(clara, "W1", (), [moved(0, 0, 0)])

    (due_,) = rows(clara.store, tables.Due, is_open=True)
    assert (due_["earliest"], due_["latest"]) == (DAY, DAY)
