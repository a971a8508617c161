"""A plan as people read it: one finding in both ears is one line; the dues stay as they are."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from msgspec import convert

from recall.care.case import Case
from recall.cli.visits.plan_text import plan_text
from recall.protocol.loading import load
from recall.schedule.plan import Plan
from recall.schedule.planning import plan
from recall.schedule.reading import dues_read, follow_ups_read, reasons_read
from tests.records.build import due

ON = date(2026, 12, 1)
FLUID = {"drum_seen": "full", "effusion": "present"}


def planned(right: dict[str, Any], left: dict[str, Any], born: str = "2020-03-02") -> Plan:
    visit = {"on": ON, "right": right, "left": left}
    return plan(convert({"born": born, "visits": [visit]}, Case), load(), ON)


def test_fluid_in_both_ears_of_a_child_is_read_in_ten_lines() -> None:
    made = planned(FLUID, FLUID)

    text = [line for line in plan_text(made).splitlines() if not line.startswith("Note: ")]

    assert [len(f.dues) for f in made.follow_ups] == [2, 2]
    assert [len(dues_read(f.dues)) for f in made.follow_ups] == [1, 1]
    assert text == [
        "MEDIUM  29 December 2026 to 26 January 2027, both ears: otoscopy, tympanometry",
        "   Fluid behind the drum: early look by practice protocol. Published guidance",
        "      asks for none while hearing is normal. (fluid-child-look; practice)",
        "HIGH  16 February to 16 March 2027, both ears: hearing test, tympanometry",
        "   Fluid in both ears, hearing not tested since it was documented: a hearing",
        "      test at three months. (fluid-child-both; R2)",
        "Tell them (both ears): Fluid behind the drum dulls sounds: face the child and",
        "   speak near, with less noise around; tell school or nursery; keep smoke away.",
        "   Come back sooner if hearing, speech or balance gets worse, or the ear hurts",
        "   or runs.",
    ]


def test_what_is_due_in_one_ear_only_is_read_by_itself() -> None:
    made = planned({**FLUID, "tensa_grade": 1}, {"drum_seen": "full", "tensa_grade": 1})

    read = {(due.track, ears) for f in made.follow_ups for ears, due in dues_read(f.dues)}

    assert ("retraction", ("right", "left")) in read
    assert ("fluid", ("right",)) in read


def test_a_reason_that_holds_for_both_ears_is_said_once() -> None:
    worn = {"drum_seen": "full", "scutum_erosion": True}
    (referral,) = planned(worn, worn, born="1980-03-02").referrals

    assert [(ears, r.rule) for ears, r in reasons_read(referral.reasons)] == [
        (("right", "left"), "disease-scutum")
    ]
    assert len(referral.reasons) == 2


def test_two_ears_with_different_last_days_are_two_lines() -> None:
    right, left = due(), due(ear="left")
    sooner = due(ear="left", latest=left.latest - timedelta(days=1))

    assert [ears for ears, _ in dues_read([right, left])] == [("right", "left")]
    assert [ears for ears, _ in dues_read([right, sooner])] == [("right",), ("left",)]


def test_a_look_and_the_second_try_at_it_are_one_line() -> None:
    days = [(ON, FLUID), (date(2027, 1, 5), {"wax_found": "none"})]
    visits = [{"on": on, "right": ear} for on, ear in days]
    made = plan(convert({"born": "2020-03-02", "visits": visits}, Case), load(), days[-1][0])

    (both,) = [f for f in made.follow_ups if len(f.dues) > 1]

    assert {(d.track, d.kind) for d in both.dues} == {("fluid", "recheck"), ("fluid", "retry")}
    assert [due.kind for _, due in dues_read(both.dues)] == ["recheck"]
    assert [due.kind for _, due in dues_read([d for d in both.dues if d.kind == "retry"])] == [
        "retry"
    ]


def test_a_look_whose_days_have_gone_by_and_the_second_try_at_it_are_one_line() -> None:
    days = [(ON, FLUID), (date(2027, 3, 1), {"wax_found": "none"})]
    visits = [{"on": on, "right": ear} for on, ear in days]
    made = plan(convert({"born": "2020-03-02", "visits": visits}, Case), load(), days[-1][0])

    assert {due.kind for f in made.follow_ups for due in f.dues} == {"recheck", "retry"}
    assert [due.kind for f in follow_ups_read(made) for due in f.dues] == ["retry"]
    assert plan_text(made).count("Late since 26 January 2027") == 1
    (one,) = made.follow_ups
    assert one.earliest > days[-1][0], "a day that has gone by is offered"
    assert {due.latest for due in one.dues if due.kind == "recheck"} == {date(2027, 1, 26)}


def test_an_infection_of_the_bone_is_said_once_of_pain_and_once_of_granulation() -> None:
    """CKS otitis externa 2021, as quoted (extreme pain, granulation: the same day)."""
    ill = {"canal_skin": "inflamed", "discharge": "purulent", "granulation": True}
    said = [{"what": what, "ear": "right"} for what in ("severe_pain", "night_pain")]
    day = {"on": ON, "reported": said, "right": {"drum_seen": "full", "attic_seen": True, **ill}}
    case = convert({"born": "1945-04-01", "risks": ["diabetes"], "visits": [day]}, Case)

    made = plan(case, load(), ON)

    (referral,) = made.referrals
    assert (referral.to, referral.urgency) == ("ent", "emergency")
    assert len(referral.reasons) == 7
    assert [r.rule for _, r in reasons_read(referral.reasons)] == [
        "canal-risk-severe-pain",
        "canal-risk-granulation",
    ]
    assert made.follow_ups == ()
