"""The weeks ahead, counted by hand on a small register."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import msgspec
import pytest

from recall import capacity, config
from recall.ahead.weeks import Week
from recall.care.ear import Ear
from recall.desk.contacts.bookings import book, record_attended, record_missed
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.oversight.ahead import Change, ahead, levelled, what_if
from recall.desk.oversight.ahead_text import as_groups, as_levelled, as_text, as_tried, late_rows
from recall.desk.worklists.call_card import call_cards_of
from recall.errors import InputError
from recall.protocol.contact_steps import CONTACT_STEPS
from recall.records.database.store import Store
from recall.schedule.calendar import Calendar
from tests.desk.practice import DAY, desk_at, later, open_follow_ups, somebody, visit

FLUID_ALONE = Ear(drum_seen="full", effusion="present")
WEEK = timedelta(days=7)


def with_fluid(desk: Desk, ref: str) -> dict:
    """A child with fluid, and the follow-up that comes of it."""
    person_id = somebody(desk, ref)
    visit(desk, person_id, right=FLUID_ALONE)
    return dict(open_follow_ups(desk.store, person_id)[0])


def monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def week_of(desk: Desk, day: date) -> Week:
    return next(w for w in ahead(desk, 30).whole.weeks() if w.monday == monday(day))


def with_rota(desk: Desk, *rota: config.Rota) -> Desk:
    """The same desk with a rota."""
    capacity = config.Capacity(rota=rota)
    return replace(desk, config=msgspec.structs.replace(desk.config, capacity=capacity))


def usual(who: str, minutes: int, **more: object) -> config.Rota:
    return config.Rota(who=who, minutes=dict.fromkeys(config.WEEKDAYS[:5], minutes), **more)


def test_an_open_follow_up_is_wanted_in_the_week_of_its_target(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1")

    week = week_of(desk, row["target"])

    assert (week.wanted, week.booked, week.waiting) == (1, 0, 0)
    usual_minutes = desk.config.capacity.minutes
    assert week.wanted_minutes == sum(getattr(usual_minutes, do) for do in row["do"]) > 0
    assert sum(w.asked for w in ahead(desk, 30).whole.weeks()) == 1


def test_a_booked_one_counts_in_the_week_of_its_appointment_only(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1")
    day = monday(row["earliest"]) + WEEK
    book(desk, row["id"], row["version"], Booking(datetime.combine(day, time(10)), minutes=35))

    found = ahead(desk, 30)

    assert (week_of(desk, day).booked, week_of(desk, day).booked_minutes) == (1, 35)
    assert sum(w.wanted for w in found.whole.weeks()) == 0
    assert sum(s.calls + s.letters for s in found.steps) == 0


def test_what_is_late_waits_in_portions_the_most_pressing_first(store: Store) -> None:
    desk = desk_at(store)
    for n in range(3):
        row = with_fluid(desk, f"W{n}")
    after = later(desk, (row["latest"] - DAY).days + 10)
    few = config.Letters(backlog_per_week=2)
    after = replace(after, config=msgspec.structs.replace(after.config, letters=few))

    weeks = ahead(after).whole.weeks()

    assert len(weeks) == 12
    assert [w.waiting for w in weeks] == [2, 1] + [0] * 10


def test_a_week_that_is_over_but_for_closed_days_is_not_told(store: Store) -> None:
    """On a Saturday what is late waits in the next week; on the Friday it waited in this one."""
    desk = desk_at(store)
    row = with_fluid(desk, "W1")
    friday = monday(row["latest"]) + timedelta(days=11)
    on_friday, on_saturday = (
        replace(desk, clock=type(desk.clock).at(friday + timedelta(days=n))) for n in (0, 1)
    )

    weeks = [ahead(each, 4).whole.weeks() for each in (on_friday, on_saturday)]

    assert [w[0].monday for w in weeks] == [monday(friday), monday(friday) + WEEK]
    assert [(w[0].waiting, w[0].gives > 0) for w in weeks] == [(1, True), (1, True)]
    tried = what_if(on_saturday, ahead(on_saturday, 4), Change(portion=1))
    assert tried.after.days[row["id"]] == monday(friday) + WEEK


def test_the_steps_of_a_week_are_those_of_its_run(store: Store) -> None:
    """By contact.toml: a letter 2 weeks before it opens, two calls, reminder, last letter, word."""
    desk = desk_at(store)
    row = with_fluid(desk, "W1")

    steps = ahead(desk, 40).steps

    assert row["earliest"] > DAY + 3 * WEEK
    assert (sum(s.letters for s in steps), sum(s.calls for s in steps)) == (3, 2)
    minutes = desk.config.capacity.steps
    others = sum(s.others for s in steps)
    at_most = 3 * minutes.posted + 2 * minutes.contact + others * 5
    assert 3 * minutes.posted + 2 * minutes.contact < sum(s.minutes for s in steps) <= at_most


def test_whatever_records_a_step_has_its_minutes() -> None:
    minutes = msgspec.structs.asdict(config.Capacity().steps)
    assert {step.done_as or "decided" for step in CONTACT_STEPS} == set(minutes)


def test_a_week_with_a_closed_day_gives_less_and_says_why(store: Store) -> None:
    desk = desk_at(store)
    closed = Calendar(holidays={monday(DAY) + WEEK: "Summer Bank Holiday"})
    held = replace(desk, calendar=closed)

    assert [w.gives for w in ahead(desk).whole.weeks()][1:3] == [2000, 2000]
    assert [w.gives for w in ahead(held).whole.weeks()][1:3] == [1600, 2000]
    text = as_text(ahead(held), held.calendar)
    assert "Closed: Monday 7 September 2026, Summer Bank Holiday." in text
    assert "Public holidays are known to 31 December 2026; of your own closures none" in text
    never = replace(desk, calendar=Calendar(weekdays=frozenset()))
    assert sum(w.gives for w in ahead(never).whole.weeks()) == 0


def test_the_rota_says_who_gives_what(store: Store) -> None:
    away = capacity.Closure(from_=monday(DAY) + WEEK, to=monday(DAY) + WEEK + timedelta(days=4))
    desk = with_rota(
        desk_at(store), usual("clara", 240, does=("otoscopy",)), usual("Mina", 60, away=(away,))
    )
    with_fluid(desk, "W1")
    found = ahead(desk)

    by = found.whole.by("practitioner")
    assert [w.gives for w in by["clara"]][1:3] == [1200, 1200]
    assert [w.gives for w in by["mina"]][1:3] == [0, 300]
    skills = found.whole.by("skill")
    assert skills["otoscopy"][2].gives == 1500
    assert "no site recorded" in as_groups(found, "site")
    assert sum(w.wanted for w in found.whole.by("site")[""]) == 1


def test_who_is_not_on_the_staff_table_is_named_and_not_counted(store: Store) -> None:
    desk = with_rota(desk_at(store), usual("zoe", 60), usual("clara", 60))
    found = ahead(desk)

    assert [hours.who for hours in found.rota] == ["clara"]
    assert "not on the staff table, and not counted: zoe." in as_text(found, desk.calendar)


def test_visits_create_again_what_they_asked_for(store: Store) -> None:
    """Two of two who were looked at were asked back: Wilson by hand 2 of 2 is 34 % to 100 %.

    E. B. Wilson, Journal of the American Statistical Association 22, 1927, p. 209.
    """
    desk = desk_at(store)
    for n in range(2):
        with_fluid(desk, f"W{n}")
    after = later(desk, 91)
    with store.read() as session:
        people = [row[0] for row in session.connection().exec_driver_sql("SELECT id FROM person")]
    for person_id in people:
        visit(after, person_id, right=FLUID_ALONE)

    again = ahead(after).whole.known[""]

    assert (again.share.hits, again.share.of) == (2, 2)
    assert again.share.low == pytest.approx(2 / (2 + 1.96**2), abs=1e-4)
    assert sum(again.after.values()) == pytest.approx(1)


def test_a_missed_appointment_is_expected_again_with_a_call(store: Store) -> None:
    """Of two who had one, one missed it and has another two weeks later: half of each week."""
    desk = desk_at(store)
    rows = [with_fluid(desk, f"W{n}") for n in range(4)]
    day = monday(rows[0]["earliest"]) + WEEK
    for n, row in enumerate(rows[:2]):
        at = datetime.combine(day, time(10 + n))
        book(desk, row["id"], row["version"], Booking(at, minutes=35))
    then = replace(desk, clock=type(desk.clock).at(day + timedelta(days=1)))
    with store.read() as session:
        made = session.connection().exec_driver_sql("SELECT id FROM booking ORDER BY id")
        numbers = [row[0] for row in made]
    record_missed(then, numbers[0])
    record_attended(then, numbers[1])
    (missed,) = open_follow_ups(store, rows[0]["person_id"])
    again = datetime.combine(day + 2 * WEEK, time(9))
    book(then, missed["id"], missed["version"], Booking(again, minutes=35))

    found = ahead(then, 8)

    assert sum(w.asked for w in found.whole.weeks()) == 3, "who came is not wanted again"
    assert (found.whole.missed.share.hits, found.whole.missed.share.of) == (1, 2)
    assert found.whole.missed.after == {2: 1.0}
    weeks = found.whole.weeks()
    assert [w.missed for w in weeks] == [w.asked / 2 for w in weeks]
    assert [s.after_missed for s in found.steps] == [w.missed for w in weeks]
    text = as_text(found, then.calendar)
    assert "first appointment missed" in text and "1 of 2, 9% to 91%; 100% have another" in text


def test_levelling_is_shown_before_and_after_and_offered_on_the_telephone(store: Store) -> None:
    desk = with_rota(desk_at(store), usual("clara", 120))
    rows = [with_fluid(desk, f"W{n}") for n in range(4)]
    found = levelled(desk, ahead(desk, 20))

    assert found.after.squares < found.before.squares
    assert len({placed.on for placed in found.after.placed}) == 4
    assert "4 to be booked; 3 would be offered another day" in as_levelled(found)
    target = rows[0]["target"]
    (card,) = call_cards_of(desk, "W1")
    assert card.offer_on == target
    starts = datetime.combine(target, time(10))
    book(desk, rows[0]["id"], rows[0]["version"], Booking(starts, minutes=60, with_="clara"))
    (card,) = call_cards_of(desk, "W1")
    assert card.offer_on is not None and abs((card.offer_on - target).days) == 1
    assert card.earliest <= card.offer_on <= card.latest


def test_what_is_offered_later_is_on_no_day_before_or_after_levelling(store: Store) -> None:
    """Four with one window; the weeks end in it, before its target: they are offered later."""
    desk = with_rota(desk_at(store), usual("clara", 120))
    rows = [with_fluid(desk, f"W{n}") for n in range(4)]
    opens, aimed = monday(rows[0]["earliest"]), monday(rows[0]["target"])
    assert opens < aimed
    weeks = (opens - monday(DAY)).days // 7 + 1

    cut = levelled(desk, ahead(desk, weeks))
    whole = levelled(desk, ahead(desk, weeks + (aimed - opens).days // 7))

    assert (cut.later, cut.before.placed, cut.after.placed) == (4, (), ())
    assert set(cut.before.days.values()) == {0} and cut.before.days == cut.after.days
    assert "Later: 4, offered a day after these weeks" in as_levelled(cut)
    assert whole.later == 0 and len(whole.before.placed) == len(whole.after.placed) == 4


def test_somebody_away_makes_late_what_a_day_more_would_save(store: Store) -> None:
    desk = with_rota(desk_at(store), usual("clara", 60), usual("mina", 60))
    row = with_fluid(desk, "W1")
    before = replace(desk, clock=type(desk.clock).at(row["latest"] - timedelta(days=4)))
    only = with_rota(before, usual("clara", 60))
    found = ahead(only)

    tried = what_if(only, found, Change(away="clara", weeks_away=3))

    assert (len(tried.before.late), [p.number for p in tried.newly_late]) == (0, [row["id"]])
    assert "would be late besides" in as_tried(tried)
    (said,) = tried.changes
    assert said.startswith("clara away from ") and said in as_tried(tried)
    (line,) = late_rows(tried)
    assert line.seen_before is not None and line.seen_before <= row["latest"] < line.seen_after
    two = ahead(before)
    assert not what_if(before, two, Change(away="clara", weeks_away=3)).newly_late


def test_a_day_on_which_nobody_works_is_said_to_give_nothing(store: Store) -> None:
    """5 September 2026 is a Saturday."""
    day = date(2026, 9, 5)
    away = (capacity.Closure(from_=day, why="the only one here is away"),)
    desk = with_rota(desk_at(store), usual("clara", 60, away=away))

    tried = what_if(desk, ahead(desk), Change(open_on=day))

    assert tried.changes == ("Open on Saturday 5 September 2026: nobody is there.",)


def test_a_change_that_is_none_is_refused(store: Store) -> None:
    desk = desk_at(store)
    found = ahead(desk, 2)

    with pytest.raises(InputError, match="is an open day already"):
        what_if(desk, found, Change(open_on=DAY))
    with pytest.raises(InputError, match="not in the weeks"):
        what_if(desk, found, Change(open_on=DAY + 9 * WEEK))
    with pytest.raises(InputError, match="not on the rota"):
        what_if(desk, found, Change(away="clara"))
    assert not what_if(desk, found, Change(open_on=monday(DAY) + timedelta(days=5))).newly_late


def test_what_weeks_by_practitioner_or_site_cannot_tell_is_said_of_that_table_alone(
    store: Store,
) -> None:
    desk = desk_at(store)
    with_fluid(desk, "W1")
    with_one = ahead(with_rota(desk, usual("clara", 240)))
    without = ahead(desk)

    assert "No rota:" in as_groups(without, "practitioner")
    assert "No rota:" not in as_groups(with_one, "practitioner")
    assert "No rota:" not in as_groups(without, "site")


def test_what_is_offered_on_the_last_sunday_is_of_these_weeks(store: Store) -> None:
    """Weeks end with their Sunday; a look some weeks on falls on the weekday of the visit."""
    sunday = later(desk_at(store), 5)
    target = with_fluid(sunday, "W1")["target"]
    assert (sunday.today.weekday(), target.weekday()) == (6, 6)
    weeks = (target - sunday.today).days // 7

    found, shorter = ahead(sunday, weeks), ahead(sunday, weeks - 1)

    assert found.last == target
    assert ([p.target for p in found.to_place], found.later) == ([target], [])
    assert shorter.to_place == []
