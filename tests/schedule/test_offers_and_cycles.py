"""Where the practice calendar and the person's own wax cycle meet the plan."""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec

from recall.care.case import Case
from recall.cycle.population import Population
from recall.protocol.loading import load
from recall.schedule.calendar import Calendar
from recall.schedule.explain import explain
from recall.schedule.own_cycle import Populations
from recall.schedule.plan import Due, Plan
from recall.schedule.planning import plan

LATER = date(2030, 1, 1)
PRACTICE = Population(
    shape=1.7, scale_days=250.0, frailty=0.4, fitted_on=date(2026, 1, 1), people=400, spells=900
)


def planned(
    visits: list[dict[str, Any]],
    *,
    calendar: Calendar | None = None,
    population: Populations = None,
    born: str = "1950-05-01",
    risks: tuple[str, ...] = (),
) -> Plan:
    case = msgspec.convert({"born": born, "visits": visits, "risks": risks}, Case)
    today = LATER if calendar is None else case.visits[-1].on
    return plan(case, load(), today, calendar=calendar, population=population)


def wax(on: str, found: str = "occluding") -> dict[str, Any]:
    return {
        "on": on,
        "right": {
            "wax_found": found,
            "wax_left": "none",
            "clearance": "cleared",
            "drum_seen": "full",
        },
    }


def routine(found: Plan) -> Due:
    (due,) = [d for f in found.follow_ups for d in f.dues if d.category == "wax_routine"]
    return due


def on_right(found: Plan) -> Due:
    (due,) = [d for f in found.follow_ups for d in f.dues if (d.track, d.ear) == ("wax", "right")]
    return due


EVERY_FIVE_MONTHS = [wax(d) for d in ("2025-01-06", "2025-06-09", "2025-11-10", "2026-04-13")]


def test_without_a_population_the_routine_interval_of_six_months_stands() -> None:
    """6 months (5 to 7) is common practice, no source; NG98 sets no interval."""
    due = routine(planned(EVERY_FIVE_MONTHS))

    assert (due.earliest, due.target, due.latest) == (
        date(2026, 9, 13),
        date(2026, 10, 13),
        date(2026, 11, 13),
    )
    assert due.cycle == ""


def test_somebody_whose_wax_comes_back_every_five_months_is_seen_sooner() -> None:
    due = routine(planned(EVERY_FIVE_MONTHS, population=PRACTICE))

    assert date(2026, 7, 13) <= due.target < date(2026, 10, 13)
    assert due.cycle.startswith("Wax has come back within about 5 months (4 visits); next check at")


def test_the_own_cycle_never_leaves_the_protocols_bounds_of_3_to_12_months() -> None:
    """Not under 3 months: AAO-HNSF 2008; 12 months is common practice, no source."""
    quick = Population(
        shape=3.0, scale_days=20.0, frailty=0.1, fitted_on=date(2026, 1, 1), people=400, spells=900
    )
    slow = Population(
        shape=3.0, scale_days=4000.0, frailty=0.01, fitted_on=date(2026, 1, 1), people=9, spells=9
    )

    assert routine(planned(EVERY_FIVE_MONTHS, population=quick)).target == date(2026, 7, 13)
    assert routine(planned(EVERY_FIVE_MONTHS, population=slow)).target == date(2027, 4, 13)


def test_too_little_is_known_of_a_person_with_one_return_and_the_reason_is_given() -> None:
    due = routine(planned([wax("2026-01-05"), wax("2026-06-08")], population=PRACTICE))

    assert due.target == date(2026, 12, 8)
    assert "too little to tell this person's own cycle; routine interval" in due.cycle


def test_an_ear_that_has_been_clear_for_months_is_looked_at_sooner_than_one_cleared_today() -> None:
    clear = {"wax_found": "none", "wax_left": "none", "drum_seen": "full"}
    every_nine_months = [wax(d) for d in ("2024-01-08", "2024-10-07", "2025-07-07", "2026-04-13")]
    known = {"population": PRACTICE, "risks": ("recurrent_wax",)}

    cleared = on_right(planned(every_nine_months, **known))
    still = on_right(planned([*every_nine_months, {"on": "2026-06-22", "right": clear}], **known))

    assert still.target - date(2026, 6, 22) < cleared.target - date(2026, 4, 13)


def test_a_visit_keeps_the_population_that_was_known_on_its_day() -> None:
    """Working out the population again moves no date that was set before."""
    later = msgspec.structs.replace(PRACTICE, fitted_on=date(2026, 5, 1))

    known = routine(planned(EVERY_FIVE_MONTHS, population=(PRACTICE, later)))
    assert known == routine(planned(EVERY_FIVE_MONTHS, population=(PRACTICE,)))
    assert routine(planned(EVERY_FIVE_MONTHS, population=(later,))).cycle == ""


def test_of_several_populations_the_newest_that_was_known_is_taken() -> None:
    newer = msgspec.structs.replace(PRACTICE, scale_days=2500.0, fitted_on=date(2026, 3, 1))

    found = routine(planned(EVERY_FIVE_MONTHS, population=(PRACTICE, newer)))

    assert found == routine(planned(EVERY_FIVE_MONTHS, population=newer))
    assert found != routine(planned(EVERY_FIVE_MONTHS, population=PRACTICE))


def test_an_explanation_says_what_the_own_cycle_made_of_the_date() -> None:
    case = msgspec.convert({"born": "1950-05-01", "visits": EVERY_FIVE_MONTHS}, Case)
    found = explain(case, load(), LATER, population=PRACTICE)
    words = routine(planned(EVERY_FIVE_MONTHS, population=PRACTICE)).cycle

    assert words
    assert f"  {words}" in found.ears[0].dates


FLUID = [{"on": "2026-09-01", "right": {"drum_seen": "full", "effusion": "present"}}]


def test_an_open_day_inside_the_window_is_offered_and_clinical_dates_stay() -> None:
    """The target, 13 October 2026, is a Tuesday."""
    only_fridays = Calendar(weekdays=frozenset({4}))

    first = planned(FLUID, calendar=only_fridays, born="2018-03-02").follow_ups[0]

    assert first.target == date(2026, 10, 13)
    assert first.offer_on is not None
    assert first.offer_on.weekday() == 4
    assert first.earliest <= first.offer_on <= first.latest


def test_a_window_without_an_open_day_offers_none_and_names_the_nearest_on_both_sides() -> None:
    shut = Calendar(closures={date(2026, 9, d): "moving house" for d in range(25, 31)})
    shut = msgspec.structs.replace(
        shut,
        closures={
            **shut.closures,
            **{date(2026, 10, d): "moving house" for d in range(1, 31)},
        },
    )

    found = planned(FLUID, calendar=shut, born="2018-03-02")

    assert found.follow_ups[0].offer_on is None
    (notice,) = [n for n in found.notices if "open" in n.lower()]
    assert "24 September 2026" in notice
    assert "2 November 2026" in notice
