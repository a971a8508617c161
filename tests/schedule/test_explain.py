"""An explanation says what matched, what nearly did and why not, and how the dates came out."""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec
import pytest

from recall.care.case import Case
from recall.protocol.loading import Protocol, load
from recall.schedule.calendar import Calendar
from recall.schedule.explain import Explanation, explain
from tests.schedule.own_rules import asks, protocol_of

ON = date(2026, 9, 1)


def explained(
    *visits: dict[str, Any],
    born: str = "2018-03-02",
    rules: Protocol | None = None,
    calendar: Calendar | None = None,
    today: date = date(2030, 1, 1),
    **more: Any,
) -> Explanation:
    case = msgspec.convert({"born": born, "visits": visits, **more}, Case)
    return explain(case, rules or load(), today, calendar=calendar)


def fluid(on: str = "2026-09-01") -> dict[str, Any]:
    return {"on": on, "right": {"drum_seen": "full", "effusion": "present"}}


def right(found: Explanation) -> Any:
    return found.ears[0]


def test_a_match_gives_its_lines_source_and_how_it_is_known() -> None:
    (look,) = [m for m in right(explained(fluid())).matched if m.startswith("fluid-child-look")]

    assert "effusion suspected or worse" in look
    assert "age under 16 (it is 8)" in look
    assert "NG233" in look
    assert "practice protocol, no published interval" in look


def test_a_clock_that_has_not_run_long_enough_names_the_day() -> None:
    """12 weeks from 1 September 2026 is 24 November: NG233, reassessed after 3 months."""
    nearly = right(explained(fluid())).nearly

    assert (
        "fluid-long-look: fluid known 12 weeks or more: not yet (not before 24 November 2026)"
        in (nearly)
    )


def test_what_was_not_recorded_is_told_from_what_was_recorded_otherwise() -> None:
    nearly = right(explained(fluid())).nearly

    assert any(n.startswith("fluid-at-risk-look") and "not recorded" in n for n in nearly)
    assert any(n.startswith("fluid-adult-look") and "otherwise (it is 8)" in n for n in nearly)


def test_an_unless_that_held_a_rule_back_says_why() -> None:
    found = explained(
        {
            "on": "2026-09-01",
            "reported": [
                "sudden_hearing_loss",
                {"what": "loss_explained", "ear": "right", "because": "fluid, with a cold"},
            ],
            "right": {"drum_seen": "full", "hearing_after": "better"},
        },
        born="1970-01-01",
    )

    (held,) = [n for n in right(found).nearly if n.startswith("sudden-loss-now")]
    assert "not asked, for this is on record: reported loss explained. " in held
    assert "A clinician recorded" in held


def test_the_dates_are_worked_out_step_by_step() -> None:
    lines = right(explained(fluid())).dates

    assert any(
        "fluid-child-look counts 4 weeks, 6 weeks and 8 weeks from the visit (1 September 2026): "
        "29 September 2026, 13 October 2026, 27 October 2026." in line
        for line in lines
    )


def test_a_target_that_has_passed_is_asked_for_now() -> None:
    """A first look after grommets within 3 months: AAO-HNSF 2022, statement 16."""
    ear = {"drum_seen": "full", "grommet": "in_place", "grommet_on": "2026-01-05"}

    lines = right(explained({"on": "2026-09-01", "right": ear})).dates

    assert any("That has passed, so it is asked for now" in line for line in lines)


def test_an_earlier_ask_says_how_it_ended_or_why_it_still_stands() -> None:
    seen = {"on": "2026-10-13", "right": {"drum_seen": "full", "effusion": "absent"}}
    hidden = {"on": "2026-10-13", "right": {"drum_seen": "none"}}

    assert any("documented clear" in a for a in explained(fluid(), seen).answered)
    (missed,) = [a for a in explained(fluid(), hidden).answered if "not answered" in a]
    assert "Its last day stays 27 October 2026." in missed


def test_nothing_to_explain_is_a_sentence_too() -> None:
    assert explained().sentences() == (
        "No visit with findings on or before that day, so nothing is asked.",
    )


LONG = (
    fluid("2026-09-01"),
    {
        "on": "2026-12-01",
        "reported": ["facial_weakness"],
        "right": {
            "drum_seen": "full",
            "effusion": "present",
            "hearing_dB": {"500": 35, "1000": 35, "2000": 35, "4000": 35},
        },
        "left": {"drum_seen": "full"},
    },
)


def test_the_whole_is_told_ear_by_ear() -> None:
    lines = explained(*LONG).sentences()

    assert lines[0] == "The last visit with findings was on 1 December 2026."
    for title in ("Right ear", "Left ear", "Earlier asks", "Appointments"):
        assert lines[lines.index(title) - 1] == ""
    assert "  fluid (right ear), asked on 1 September 2026, was answered by this visit." in lines


def test_what_has_lasted_too_long_is_told_from_what_has_not_lasted_long_enough() -> None:
    nearly = right(explained(*LONG)).nearly

    assert (
        "fluid-child-look: fluid known under 12 weeks: otherwise "
        "(it has been so since 1 September 2026)"
    ) in nearly
    assert "fluid-half-year: fluid known 6 months or more: not yet (not before 1 March 2027)" in (
        nearly
    )


def test_what_was_not_recorded_is_said_once() -> None:
    nearly = right(explained(*LONG)).nearly

    assert "fluid-origin-loss: risk chinese or se asian origin: not recorded" in nearly
    assert (
        "fluid-both-long-loss-ear: fluid both known 12 weeks or more: not recorded "
        "(has not happened)"
    ) in nearly


def test_nothing_is_nearly_matched_that_matched() -> None:
    ear = right(explained(*LONG))
    matched = {m.partition(",")[0] for m in ear.matched}

    advised = {"fluid-child-advice"}
    asked = {"facial-weakness", "fluid-long-look", "fluid-long-hearing", "loss-child"}
    assert matched == asked | advised
    assert not matched & {n.partition(":")[0] for n in ear.nearly}


def test_the_dates_of_a_track_name_its_own_rivals_only() -> None:
    """11, 12 and 15, and 11, 12 and 26 weeks from 1 December 2026."""
    dates = right(explained(*LONG)).dates

    assert dates == (
        "hearing (recheck), high: from 16 February 2027, best on 23 February 2027, "
        "at the latest on 16 March 2027.",
        "  fluid-long-hearing counts 11 weeks, 12 weeks and 26 weeks from the visit "
        "(1 December 2026): 16 February 2027, 23 February 2027, 1 June 2027.",
        "  loss-child counts 11 weeks, 12 weeks and 15 weeks from the visit "
        "(1 December 2026): 16 February 2027, 23 February 2027, 16 March 2027.",
        "  loss-child stands: no last day is earlier.",
        "fluid (recheck), high: from 16 February 2027, best on 23 February 2027, "
        "at the latest on 1 June 2027.",
        "  fluid-long-look counts 11 weeks, 12 weeks and 26 weeks from the visit "
        "(1 December 2026): 16 February 2027, 23 February 2027, 1 June 2027.",
        "Referral to ENT, emergency: asked on 1 December 2026 by facial-weakness; "
        "to be seen by 2 December 2026.",
    )


def test_a_window_in_the_past_is_said_to_be_asked_for_now_and_any_other_is_not() -> None:
    assert not [d for d in right(explained(*LONG)).dates if "asked for now" in d]


def test_only_what_this_visit_ended_is_told() -> None:
    seen = {"on": "2026-10-13", "right": {"drum_seen": "full", "effusion": "absent"}}
    later = {"on": "2026-11-20", "right": {"drum_seen": "full"}}

    assert explained(fluid(), seen).answered
    assert explained(fluid(), seen, later).answered == ()


def test_an_audiogram_that_is_not_bad_enough_is_read_out() -> None:
    """Fluid with a loss of 30 dB in this ear; here it is 20 dB."""
    ear = {**fluid()["right"], "hearing_dB": {"500": 20, "1000": 20, "2000": 20, "4000": 20}}

    (loss,) = [
        n
        for n in right(explained({"on": "2026-09-01", "right": ear})).nearly
        if n.startswith("fluid-child-loss:")
    ]
    assert loss.endswith(
        "otherwise (recorded as hearing dB: 500 Hz 20, 1000 Hz 20, 2000 Hz 20, 4000 Hz 20)"
    )


def test_a_flag_is_said_without_a_value() -> None:
    ear = {"drum_seen": "full", "keratin": True}

    (matched,) = [
        m
        for m in right(explained({"on": "2026-09-01", "right": ear})).matched
        if m.startswith("disease-keratin")
    ]
    assert matched.startswith("disease-keratin, because keratin. ")


def test_each_anchor_is_named() -> None:
    """The windows counted from what is known of the past, each with its day."""
    from recall.protocol.anchors import ANCHORS
    from recall.schedule.explain import _ANCHOR_WORDS

    assert set(_ANCHOR_WORDS) == set(ANCHORS)


def looks(name: str, when: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Return a rule that asks for a look after 4 to 8 weeks."""
    ask = asks("4 weeks", "6 weeks", "8 weeks", "otoscopy")
    return {"id": name, "track": "fluid", "urgency": "medium", "when": when, "ask": ask, **more}


SEEN = looks("seen", {"ear": {"effusion": "present"}})


def nearly(rule: dict[str, Any], *visits: dict[str, Any], **more: Any) -> tuple[str, ...]:
    """Return what is said of a rule that a first line opens and that does not match."""
    told: tuple[str, ...] = right(
        explained(*(visits or (fluid(),)), rules=protocol_of(rule), **more)
    ).nearly
    return told


@pytest.mark.parametrize(
    ("when", "says"),
    [
        ({"ear": {"effusion": "present", "keratin": True}}, "keratin: not recorded"),
        ({"ear": {"effusion": "present", "trace_of_a_hole": True}},
         "trace of a hole: not recorded"),
        ({"ear": {"effusion": "present", "asymmetry": "15 dB or worse"}},
         "asymmetry 15 dB or worse: not recorded"),
        ({"ear": {"effusion": "present", "air_bone_gap": "20 dB or worse"}},
         "air bone gap 20 dB or worse: not recorded"),
        ({"ear": {"effusion": "present", "better_ear_loss": "25 dB or worse"}},
         "better ear loss 25 dB or worse: not recorded"),
        ({"ear": {"effusion": "present"}, "other": {"keratin": True}},
         "other ear: keratin: not recorded"),
        ({"ear": {"effusion": "present"}, "report": {"said": ["pain", "vertigo"]}},
         "reported pain or vertigo: not recorded"),
        ({"ear": {"effusion": "present"}, "course": {"grommet_in": "under 6 months"}},
         "grommet in under 6 months: not recorded (has not happened)"),
        ({"ear": {"effusion": "present"}, "course": {"fluid_visits": "2 or more"}},
         "fluid visits 2 or more: otherwise (it is 1)"),
        ({"ear": {"effusion": "present"}, "course": {"fluid_on_record": "never"}},
         "fluid on record never: otherwise (it has been so since 1 September 2026)"),
        ({"ear": {"effusion": "present"}, "course": {"fluid_on_record": "over 5 days"}},
         "fluid on record over 5 days: not yet (not before 7 September 2026)"),
    ],
)  # fmt: skip
def test_each_sort_of_line_that_does_not_hold_says_why(when: dict[str, Any], says: str) -> None:
    assert nearly(looks("near", when)) == (f"near: {says}",)


@pytest.mark.parametrize(
    ("when", "found", "says"),
    [
        (
            {"ear": {"effusion": "present", "trace_of_a_hole": True}},
            {"tympanogram": {"flat": True, "volume_ml": 0.7}},
            "near: trace of a hole: otherwise (recorded as tympanogram: ",
        ),
        (
            {"ear": {"effusion": "present", "air_bone_gap": "20 dB or worse"}},
            {"hearing_dB": {"500": 30}, "bone_dB": {"500": "nr"}},
            "near: air bone gap 20 dB or worse: otherwise "
            "(recorded as hearing dB: 500 Hz 30, bone dB: 500 Hz nr)",
        ),
        (
            {"ear": {"effusion": "present", "keratin": True}},
            {"keratin": False},
            "near: keratin: otherwise (recorded as keratin: no)",
        ),
        (
            {"ear": {"effusion": "present", "tensa_grade": "2 or worse"}},
            {"tensa_grade": 1},
            "near: tensa grade 2 or worse: otherwise (recorded as tensa grade: 1)",
        ),
    ],
)
def test_what_was_recorded_otherwise_is_read_out(
    when: dict[str, Any], found: dict[str, Any], says: str
) -> None:
    ear = {**fluid()["right"], **found}

    (told,) = nearly(looks("near", when), {"on": "2026-09-01", "right": ear})
    assert told.startswith(says)


def test_what_the_other_ear_showed_is_read_off_the_other_ear() -> None:
    rule = looks("near", {"ear": {"effusion": "present"}, "other": {"effusion": "present"}})

    (told,) = nearly(rule, {**fluid(), "left": {"drum_seen": "full", "effusion": "absent"}})
    assert told == "near: other ear: effusion present: otherwise (recorded as effusion: absent)"


def test_a_rule_whose_first_line_or_whose_two_lines_fail_is_not_near() -> None:
    first = looks("first", {"ear": {"keratin": True}, "person": {"age": "under 16"}})
    two = looks("two", {"ear": {"effusion": "present", "keratin": True, "red": True}})

    assert nearly(first) == nearly(two) == ()


def test_the_lines_of_an_ear_stand_under_its_name() -> None:
    near = looks("near", {"ear": {"effusion": "present", "keratin": True}})
    lines = explained(fluid(), rules=protocol_of(SEEN, near)).sentences()

    start = lines.index("Right ear")
    assert lines[start - 1] == ""
    assert lines[start + 1].startswith("  matched: seen, because effusion present. ")
    assert lines[start + 2] == "  nearly: near: keratin: not recorded"
    assert lines[start + 3].startswith("  fluid (recheck), medium: from 29 September 2026")
    left = lines.index("Left ear")
    assert lines[left - 1 : left + 2] == ("", "Left ear", "  No rule matched.")
    assert "  No rule matched." not in lines[start:left]


def test_each_appointment_is_told_with_its_open_day_and_what_was_weighed() -> None:
    """Six weeks from 1 September 2026 is Tuesday 13 October; only Fridays are open."""
    both = {**fluid(), "left": fluid()["right"]}
    fridays = Calendar(weekdays=frozenset({4}))

    today = date(2026, 9, 2)
    found = explained(both, rules=protocol_of(SEEN), calendar=fridays, today=today)

    assert found.combined == (
        "13 October 2026: fluid. Open day to offer: 16 October 2026. One appointment does for 2 "
        "asks: fluid (both ears). 13 October 2026 is the target of fluid, the most pressing "
        "(medium).",
    )
    assert explained(fluid(), rules=protocol_of(SEEN)).combined == ("13 October 2026: fluid.",)


def test_an_ask_that_gave_way_to_a_stricter_one_and_one_that_still_stands_are_told_apart() -> None:
    soon = looks("soon", {"ear": {"bulging": True}})
    soon["ask"] = asks("1 day", "1 week", "2 weeks", "otoscopy")
    rules = protocol_of(SEEN, soon)
    again = fluid("2026-09-08")
    worse = {"on": "2026-09-08", "right": {**again["right"], "bulging": True}}

    stood, gave_way = (explained(fluid(), last, rules=rules) for last in (again, worse))

    assert gave_way.answered == (
        "fluid (right ear), asked on 1 September 2026, gave way to a stricter ask.",
    )
    assert "  soon stands: no last day is earlier." in right(gave_way).dates
    assert stood.answered == ()
    assert "  Asked on 1 September 2026 by seen and still standing." in right(stood).dates
    assert "  Asked on 1 September 2026 by seen and still standing." not in right(gave_way).dates
