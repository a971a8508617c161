"""What a rule asked for and found in a register, and a changed rule held against its history."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import msgspec
import pytest
from scipy.stats import binomtest

from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.oversight.rule_audit import RuleLine, audit
from recall.desk.oversight.what_if import TakenOver, what_if
from recall.desk.plans.decisions import Decided, decide
from recall.desk.plans.judging import judge_line, standing_lines
from recall.desk.referrals.progress import News, record, result
from recall.protocol.loading import Protocol
from recall.protocol.rules import Recheck, Refer
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.plan_lines import Judgement
from tests.desk.practice import DAY, KERATIN, desk_at, open_follow_ups, rows, somebody, visit
from tests.desk.test_adoption import changed
from tests.protocol.versions import at_first
from tests.schedule.test_hindsight import with_early_look

FLUID = Ear(drum_seen="full", effusion="present")
NO_FLUID = Ear(drum_seen="full", effusion="absent")
LOOK = "fluid-child-look"


def line_of(desk: Desk, rule: str) -> RuleLine:
    (found,) = [line for line in audit(desk) if line.rule == rule]
    return found


def three_children(store: Store) -> Desk:
    """With fluid on a day; one comes back with it, one without, the clinician closes one."""
    desk = desk_at(store, by="clara")
    ids = [somebody(desk, f"W{n}") for n in (1, 2, 3)]
    for person_id in ids:
        visit(desk, person_id, right=FLUID)
    after = desk_at(store, DAY + timedelta(weeks=6), by="clara")
    for person_id, ear in zip(ids, (FLUID, NO_FLUID), strict=False):
        visit(after, person_id, right=ear)
    closed = open_follow_ups(store, ids[2])[0]
    decide(
        after,
        [closed["id"]],
        Decided("clinician_decision", "Seen by the school service", considered=True),
    )
    return after


def test_each_rule_tells_what_it_asked_for_and_found(store: Store) -> None:
    desk = three_children(store)

    line = line_of(desk, LOOK)

    assert (line.asked, line.looked, line.found) == (4, 2, 1)
    assert (line.struck, line.struck_why) == (1, "clinician decision 1")
    # Wilson, E. B. (1927), for 1 of 2, computed with scipy.stats.binomtest.
    interval = binomtest(1, 2).proportion_ci(0.95, method="wilson")
    assert (line.low, line.high) == pytest.approx((interval.low, interval.high))


def test_only_what_was_asked_since_a_day_counts(store: Store) -> None:
    desk = three_children(store)

    (line,) = [found for found in audit(desk, desk.today) if found.rule == LOOK]

    assert (line.asked, line.looked) == (1, 0)


def test_referrals_are_told_by_how_far_they_came(store: Store) -> None:
    desk = desk_at(store, by="clara")
    for ref in ("W1", "W2"):
        visit(desk, somebody(desk, ref), right=KERATIN)
    first, *_ = rows(store, tables.Referral)
    for stage in ("sent", "seen"):
        (row,) = rows(store, tables.Referral, id=first["id"])
        record(desk, row["id"], row["version"], News(stage))

    line = line_of(desk, "disease-keratin")

    assert (line.asked, line.referred) == (0, 2)
    assert (line.sent, line.seen, line.results, line.groundless) == (1, 1, 0, 0)

    (row,) = rows(store, tables.Referral, id=first["id"])
    result(desk, row["id"], row["version"], "cleared")

    line = line_of(desk, "disease-keratin")
    assert (line.results, line.struck, line.struck_why) == (1, 0, "")


def test_a_longer_interval_costs_less_and_finds_later(store: Store) -> None:
    """From 6 to 12 weeks: what was found at six weeks would have been wanted 42 days later."""
    desk = desk_at(store, by="clara")
    person_id = somebody(desk, "W1")
    visit(desk, person_id, right=FLUID)
    after = desk_at(store, DAY + timedelta(weeks=6), by="clara")
    visit(after, person_id, right=Ear(drum_seen="full", effusion="present", tensa_grade=2))

    found = what_if(after, with_early_look("12 weeks", "16 weeks"))

    appointments, referrals, pressing = found.rates
    assert appointments.more < 0 and (referrals.more, pressing.more) == (0, 0)
    (delay,) = found.delays
    assert (delay.reference, delay.name, delay.finding) == (
        "W1",
        "Rowan Thackwell",
        "tensa grade 2",
    )
    assert (delay.found_on, delay.days) == (after.today, 42)
    (track,) = found.tracks
    assert (track.track, track.found, track.later, track.never) == ("retraction", 1, 1, 0)
    assert (track.middle_days, track.longest_days) == (42, 42)


def in_the_place_of_the_look(rule_id: str, ask: Recheck | Refer) -> Protocol:
    """Return the first rules with another rule in the place of the early look at fluid."""
    old = at_first()
    (look,) = [r for r in old.rules if r.id == LOOK]
    other = msgspec.structs.replace(look, id=rule_id, ask=ask)
    rules = tuple(other if r.id == LOOK else r for r in old.rules)
    return Protocol(msgspec.structs.replace(old.file, rule=rules), old.contact, "other", True)


@pytest.mark.parametrize(
    ("ask", "taken", "then", "days"),
    [
        (
            Recheck(do=("otoscopy",), earliest="5 weeks", target="8 weeks", latest="9 weeks"),
            TakenOver(LOOK, "other-look", 1, 14, 14),
            ("other-look", None),
            14,
        ),
        (
            Refer(to="ent"),
            TakenOver(LOOK, "ent", 1, None, None),
            ("ent", DAY + timedelta(weeks=18)),
            None,
        ),
    ],
    ids=["another look", "ENT"],
)
def test_it_says_which_rule_or_service_takes_the_place_of_a_look_and_when(
    store: Store,
    ask: Recheck | Refer,
    taken: TakenOver,
    then: tuple[str, date | None],
    days: int | None,
) -> None:
    desk = desk_at(store, by="clara")
    person_id = somebody(desk, "W1")
    visit(desk, person_id, right=FLUID)
    after = desk_at(store, DAY + timedelta(weeks=6), by="clara")
    visit(after, person_id, right=Ear(drum_seen="full", effusion="present", tensa_grade=2))

    found = what_if(after, in_the_place_of_the_look("other-look", ask))

    assert found.taken_over == (taken,)
    (delay,) = found.delays
    assert (delay.asked_by, delay.instead, delay.seen_by, delay.days) == (LOOK, *then, days)


def test_the_rules_that_are_in_use_change_nothing_by_themselves(store: Store) -> None:
    desk = three_children(store)

    found = what_if(desk, desk.protocol)

    assert found.delays == ()
    assert all(rate.more == 0 for rate in found.rates)


def test_an_empty_register_answers(store: Store) -> None:
    desk = desk_at(store, by="clara")

    assert audit(desk) == ()
    assert what_if(desk, desk.protocol).people == 0


def test_what_was_struck_out_counts_once_with_its_reason(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)
    (line,) = [
        each for each in standing_lines(desk, "W1").lines if each.dues and each.dues[0].rule == LOOK
    ]
    judge_line(
        desk, "W1", line.name, Judgement(does="strike", because="judgement", considered=True)
    )

    found = line_of(desk, LOOK)

    assert (found.asked, found.looked) == (1, 0)
    assert (found.struck, found.struck_why) == (1, "struck out, clinical judgement 1")


def test_the_adopted_protocol_is_taken_by_its_newest_rules_too(store: Store) -> None:
    """Its second version asks a week sooner, from a day after every visit."""
    after = desk_at(store, DAY + timedelta(weeks=6), by="clara")
    person_id = somebody(after, "W1")
    visit(desk_at(store, by="clara"), person_id, right=FLUID)
    retracted = Ear(drum_seen="full", effusion="present", tensa_grade=2)
    visit(after, person_id, right=retracted)
    adopted = changed("6 weeks", DAY + timedelta(weeks=20))

    found = what_if(replace(after, protocol=adopted), adopted)

    (track,) = found.tracks
    assert (track.found, track.earlier, track.later) == (1, 0, 0)
    assert all(rate.more == 0 for rate in found.rates)
