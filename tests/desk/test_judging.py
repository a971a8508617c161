"""Lines of the plan that a named person strikes out, moves, raises or lowers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import insert

from recall.care.case import Reported, Visit
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.people.person_card import person
from recall.desk.people.timeline import timeline
from recall.desk.plans.explaining import explain_person
from recall.desk.plans.judging import judge_line, standing_lines, struck_by_rule, take_back
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.plan_lines import Judgement
from tests.desk.practice import (
    DAY,
    FLUID,
    desk_at,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)

HOLE = Ear(drum_seen="full", attic_seen=True, perforation="central", perforation_cause="trauma")
MASS = Ear(drum_seen="full", attic_seen=True, mass_behind_drum="white")
GROWN = date(1980, 3, 2)
OURS = Judgement("strike", "judgement", "Seen again next week anyway.")


@pytest.fixture
def clara(store: Store) -> Desk:
    return desk_at(store, by="clara")


def names(desk: Desk, ref: str = "W1") -> list[str]:
    return [line.name for line in standing_lines(desk, ref).lines]


def test_a_line_is_struck_out_and_shown_and_counted(clara: Desk) -> None:
    child = somebody(clara)
    visit(clara, child, right=FLUID, left=FLUID)
    assert "fluid:both" in names(clara)

    done = judge_line(clara, "W1", "fluid:both", OURS)
    assert "struck out, clinical judgement" in done.words
    assert "fluid:both" not in names(clara)
    closed = [d for d in rows(clara.store, tables.Due, track="fluid") if not d["is_open"]]
    assert {d["ear"] for d in closed} == {"right", "left"}
    events = rows(clara.store, tables.DueEvent, reason="struck_out")
    assert {e["due_id"] for e in events} == {d["id"] for d in closed}
    assert all(e["decision_id"] for e in events)

    (shown,) = person(clara, "W1").judged
    assert (shown.on, shown.by) == (DAY, "Clara Voss") and "clinical judgement" in shown.words
    assert any("struck out" in each.says for each in timeline(clara, "W1"))
    assert explain_person(clara, "W1").judged
    (counted, *_) = struck_by_rule(clara)
    assert (counted.rule, counted.because) == ("fluid-child-look", (("judgement", 2),))
    assert history_is_whole(clara.store)


def test_it_holds_at_the_next_visit_and_ends_with_a_worse_finding(clara: Desk) -> None:
    child = somebody(clara)
    visit(clara, child, right=FLUID)
    judge_line(clara, "W1", "fluid:right", OURS)
    again = later(clara, 42)
    visit(again, child, right=FLUID)
    assert "fluid:right" not in names(again)
    worse = later(clara, 70)
    visit(worse, child, right=Ear(**{**FLUID_VALUES, "tensa_grade": 2}))
    assert "fluid:right" in names(worse)


FLUID_VALUES = {
    f: getattr(FLUID, f) for f in FLUID.__struct_fields__ if getattr(FLUID, f) is not None
}


def test_undo_and_taking_back_let_it_stand_again(clara: Desk) -> None:
    child = somebody(clara)
    visit(clara, child, right=FLUID)
    judge_line(clara, "W1", "fluid:right", OURS)
    undo(clara)
    assert "fluid:right" in names(clara) and struck_by_rule(clara) == ()

    judge_line(clara, "W1", "fluid:right", OURS)
    (held,) = person(clara, "W1").judged
    tomorrow = later(clara, 1)
    with pytest.raises(InputError):
        take_back(tomorrow, held.number, " ")
    take_back(tomorrow, held.number, "Asked after all.")
    assert "fluid:right" in names(tomorrow) and person(tomorrow, "W1").judged == ()
    assert any(f["tracks"] == ("fluid",) for f in open_follow_ups(clara.store, child))
    with pytest.raises(NotFound):
        take_back(tomorrow, held.number, "Twice.")


def test_known_elsewhere_is_care_there_and_both_are_taken_back_together(clara: Desk) -> None:
    child = somebody(clara)
    visit(clara, child, right=MASS)
    judge_line(clara, "W1", "ent:right", Judgement("strike", "known_elsewhere"))
    (care, *_) = rows(clara.store, tables.UnderCare)
    assert '"of":"ent"' in care["content"] and '"ear":"right"' in care["content"]
    assert not any(name.startswith("ent:") for name in names(clara))
    undo(clara)
    assert rows(clara.store, tables.UnderCare) == [] and "ent:right" in names(clara)


def test_who_follows_hearing_is_audiology_unless_it_is_said(clara: Desk) -> None:
    child = somebody(clara)
    visit(clara, child, right=Ear(hearing_dB={"500": 30, "1000": 35, "2000": 30, "4000": 35}))
    line = next(n for n in names(clara) if n.startswith("hearing:"))
    judge_line(clara, "W1", line, Judgement("strike", "known_elsewhere"))
    (care,) = rows(clara.store, tables.UnderCare)
    assert '"of":"paediatric_audiology"' in care["content"]


def test_a_child_is_never_struck_out_as_declining_without_the_prompt(clara: Desk) -> None:
    visit(clara, somebody(clara), right=FLUID)
    with pytest.raises(Refused, match="whom others bring"):
        judge_line(clara, "W1", "fluid:right", Judgement("strike", "declines"))
    judge_line(clara, "W1", "fluid:right", Judgement("strike", "declines", considered=True))
    visit(clara, somebody(clara, "W2", born=GROWN), right=HOLE)
    (line, *_) = names(clara, "W2")
    judge_line(clara, "W2", line, Judgement("strike", "declines"))


def test_only_somebody_who_may_decide_judges(store: Store, clara: Desk) -> None:
    visit(clara, somebody(clara), right=FLUID)
    for handle in ("rob", "mina"):
        with pytest.raises(Refused, match="may not"):
            judge_line(desk_at(store, by=handle), "W1", "fluid:right", OURS)


def test_what_cannot_be_made_of_a_line_is_refused(clara: Desk) -> None:
    visit(clara, somebody(clara), right=FLUID)
    visit(clara, somebody(clara, "W2"), right=MASS)
    with pytest.raises(NotFound, match="no line"):
        judge_line(clara, "W1", "fluid:left", OURS)
    with pytest.raises(InputError, match="anyway"):
        judge_line(clara, "W1", "fluid:right", replace(OURS, until=DAY + timedelta(days=1)))
    with pytest.raises(InputError, match="already"):
        judge_line(clara, "W1", "fluid:right", Judgement("weigh", "judgement", urgency="medium"))
    with pytest.raises(InputError, match="three days"):
        judge_line(clara, "W1", "fluid:right", Judgement("move", "judgement"))
    gone = (DAY - timedelta(days=1), DAY, DAY)
    with pytest.raises(InputError, match="gone by"):
        judge_line(clara, "W1", "fluid:right", Judgement("move", "judgement", window=gone))
    days = (DAY, DAY, DAY)
    with pytest.raises(InputError, match="urgency"):
        judge_line(clara, "W2", "ent:right", Judgement("move", "judgement", window=days))


def test_a_line_is_moved_raised_and_lowered(clara: Desk) -> None:
    child = somebody(clara)
    visit(clara, child, right=FLUID)
    days = tuple(DAY + timedelta(days=n) for n in (50, 60, 70))
    judge_line(clara, "W1", "fluid:right", Judgement("move", "judgement", window=days))
    (line,) = [x for x in standing_lines(clara, "W1").lines if x.name == "fluid:right"]
    assert (line.dues[0].earliest, line.dues[0].target, line.latest) == days
    for urgency in ("high", "low"):
        judge_line(clara, "W1", "fluid:right", Judgement("weigh", "judgement", urgency=urgency))
        (line,) = [x for x in standing_lines(clara, "W1").lines if x.name == "fluid:right"]
        assert (line.urgency, line.latest) == (urgency, days[2])
    assert [j.words.split(": ")[1].split(",")[0] for j in person(clara, "W1").judged] == [
        "made low"
    ]


def test_an_emergency_stands_until_something_explains_it_for_that_ear(clara: Desk) -> None:
    somebody(clara, born=GROWN)
    told = (Reported(what="sudden_hearing_loss", ear="right"),)
    for after, falls in (("same", False), ("better", True)):
        ear = Ear(drum_seen="full", hearing_after=after)
        given = draft(clara, "W1", Visit(on=DAY, reported=told, right=ear))
        explained = Judgement("strike", "explained", "Wax, out now.")
        for judgement in (OURS, replace(explained, why=""), explained):
            accepted = Acceptance(judged=(("ent:right", judgement),))
            if falls and judgement == explained:
                close_visit(clara, given, accepted)
                assert not any(name.startswith("ent:") for name in names(clara))
            else:
                with pytest.raises(Refused, match="An emergency stands"):
                    close_visit(clara, given, accepted)
    (ended,) = rows(clara.store, tables.Referral, to="ent")
    assert (ended["is_open"], ended["end_reason"]) == (False, "struck_out")


def test_lines_are_judged_at_closing_in_the_same_act(clara: Desk) -> None:
    somebody(clara)
    given = draft(clara, "W1", Visit(on=DAY, right=FLUID))
    with pytest.raises(Conflict, match="no line"):
        close_visit(clara, given, Acceptance(judged=(("fluid:left", OURS),)))
    close_visit(clara, given, Acceptance(judged=(("fluid:right", OURS),)))
    assert "fluid:right" not in names(clara)
    undo(clara)
    assert rows(clara.store, tables.Visit) == [] and rows(clara.store, tables.Decision) == []


def test_somebody_who_may_not_decide_closes_without_judging(store: Store) -> None:
    rob = desk_at(store, by="rob")
    somebody(rob)
    given = draft(rob, "W1", Visit(on=DAY, right=FLUID))
    with pytest.raises(Refused, match="may not"):
        close_visit(rob, given, Acceptance(judged=(("fluid:right", OURS),)))


def test_what_was_booked_for_a_line_that_falls_is_called_off(clara: Desk) -> None:
    child = somebody(clara)
    visit(clara, child, right=FLUID)
    (follow_up, *_) = open_follow_ups(clara.store, child)
    made = {"on": DAY, "recorded_at": clara.now, "by_id": clara.by.id, "person_id": child}
    starts = datetime.combine(follow_up["target"], datetime.min.time())
    values = {**made, "follow_up_id": follow_up["id"], "starts_local": starts, "minutes": 20}
    values["zone"] = "Europe/London"
    with clara.store.write() as session:
        session.execute(insert(tables.Booking.__table__).values(**values))
    for line in names(clara):
        judge_line(clara, "W1", line, OURS)
    assert open_follow_ups(clara.store, child) == []
    (ended,) = rows(clara.store, tables.BookingEvent)
    assert (ended["what"], ended["why"]) == ("cancelled_by_practice", "Struck out.")
