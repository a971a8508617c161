"""What somebody who may decide makes of a due: other dates in order, or an ask by category."""

from __future__ import annotations

from datetime import date
from typing import Any

from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case
from recall.protocol.loading import load
from recall.schedule.deciding import by_category, moved
from recall.schedule.fold import folding
from recall.schedule.plan import Decision, Due, Referral

ON = date(2026, 9, 10)


def due() -> Due:
    """Return a child's fluid due: 29 September, 13 and 27 October 2026."""
    visit = {"on": "2026-09-01", "right": {"drum_seen": "full", "effusion": "present"}}
    case = convert({"born": "2018-03-02", "visits": [visit]}, Case)
    return folding(case, load(), date(2030, 1, 1)).open["right", "fluid", "recheck"]


def to(**days: Any) -> tuple[str, str, str]:
    decision = Decision(on=ON, ear="right", track="fluid", action="move", **days)
    found = moved(due(), decision)
    return str(found.earliest), str(found.target), str(found.latest)


def test_only_what_is_said_moves_and_the_window_never_runs_backwards() -> None:
    october, november = date(2026, 10, 20), date(2026, 11, 3)

    assert to() == ("2026-09-29", "2026-10-13", "2026-10-27")
    assert to(target=october) == ("2026-09-29", "2026-10-20", "2026-10-27")
    assert to(earliest=october) == ("2026-10-20", "2026-10-20", "2026-10-27")
    assert to(latest=november) == ("2026-09-29", "2026-10-13", "2026-11-03")
    assert to(target=november) == ("2026-09-29", "2026-11-03", "2026-11-03")
    assert to(latest=date(2026, 10, 1)) == ("2026-09-29", "2026-10-13", "2026-10-13")


def test_a_due_that_was_moved_is_asked_on_the_day_of_the_decision() -> None:
    decision = Decision(on=ON, ear="right", track="fluid", action="move", urgency="high")

    found = moved(due(), decision)
    assert (found.asked_on, found.urgency) == (ON, "high")
    assert moved(due(), replace(decision, urgency=None)).urgency == "medium"


def test_an_ask_by_category_says_so() -> None:
    decision = Decision(on=ON, ear="right", action="ask", category="wax_routine")

    found = by_category(decision, load(), False)
    assert isinstance(found, Due)
    assert (found.rule, found.rule_version) == ("category-wax-routine", 1)


def asked(child: bool = False, **more: Any) -> Due | Referral | None:
    return by_category(Decision(on=ON, ear="right", action="ask", **more), load(), child)


def test_an_ask_by_category_has_the_window_of_the_age_and_the_urgency_that_was_given() -> None:
    adult, child = (asked(child, category="retraction_watch") for child in (False, True))
    pressing = asked(category="retraction_watch", urgency="high")

    assert isinstance(adult, Due)
    assert isinstance(child, Due)
    assert isinstance(pressing, Due)
    text, adult_window, child_window = load().categories["retraction_watch"]
    assert adult.latest == adult_window.latest.after(ON)
    assert child.latest == child_window.latest.after(ON)
    assert (adult.urgency, pressing.urgency) == (text.urgency, "high")
    assert (adult.kind, adult.track, adult.do) == ("recheck", "retraction", text.do)


def test_a_referral_by_category_is_high_where_nothing_is_said() -> None:
    plain, urgent = (
        asked(category="refer", to="ent"),
        asked(category="refer", to="gp", urgency="urgent"),
    )

    assert isinstance(plain, Referral)
    assert isinstance(urgent, Referral)
    assert (plain.to, plain.urgency, plain.asked_on) == ("ent", "high", ON)
    assert (urgent.to, urgent.urgency) == ("gp", "urgent")
    (reason,) = plain.reasons
    assert (reason.rule, reason.rule_version, reason.track) == ("category-refer", 1, "drum")
    assert reason.says == "Referred by the practitioner."
    assert urgent.within_days == (urgent.stages.seen_by - ON).days < plain.within_days


def test_a_referral_by_category_keeps_the_track_and_the_words_it_was_given() -> None:
    found = asked(category="refer", to="ent", track="cavity", why="It keeps running.")

    assert isinstance(found, Referral)
    assert (found.reasons[0].track, found.reasons[0].says) == ("cavity", "It keeps running.")


def test_advice_and_a_referral_without_a_service_ask_for_nothing() -> None:
    assert asked(category="come_back_if") is None
    assert asked(category="refer") is None
    assert asked() is None
    assert asked(to="ent") is None
    assert isinstance(asked(category="wax_routine", to="ent"), Due)
