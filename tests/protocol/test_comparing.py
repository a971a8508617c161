"""Two protocols compared in words, and what adopting one must refuse."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from msgspec.structs import replace

from recall.protocol.comparing import (
    compare,
    edited_in_place,
    ends_before,
    in_hindsight,
    say,
    sections_changed,
)
from recall.protocol.loading import Protocol, content_of, from_content, load
from recall.protocol.own_days import READINGS
from recall.protocol.rules import KnownByAge, ProtocolFile, Recheck, Refer, Rule
from tests.protocol.versions import first as rule
from tests.protocol.versions import with_rules

DEFAULT = load()
TODAY = date(2026, 9, 7)
BEFORE, AFTER = date(2026, 9, 6), date(2026, 9, 8)


def sooner(old: Rule) -> Rule:
    assert isinstance(old.ask, Recheck)
    return replace(old, ask=replace(old.ask, latest="7 weeks"))


def test_a_protocol_compared_with_itself_says_nothing() -> None:
    assert compare(DEFAULT, load()) == ()


def test_each_change_is_a_sentence_with_the_rule_and_what_it_was() -> None:
    look = rule("fluid-child-look")

    said = compare(with_rules(look), with_rules(sooner(look)))

    assert len(said) == 1
    assert said[0].startswith("Rule fluid-child-look (version 1) changes what it asks: from ")
    assert "latest 8 weeks" in said[0]
    assert "latest 7 weeks" in said[0]


def test_rules_that_came_or_went_are_named() -> None:
    look, grade = rule("fluid-child-look"), rule("tensa-two-child")

    said = compare(with_rules(look), with_rules(grade))

    assert [s.split(":")[0] for s in said] == [
        "Rule tensa-two-child (version 1) is new",
        "Rule fluid-child-look (version 1) is gone",
    ]


def test_a_rule_changed_in_place_is_named_but_giving_it_a_last_day_is_not() -> None:
    look = rule("fluid-child-look")
    ended = replace(look, until=TODAY)

    assert edited_in_place(with_rules(look), with_rules(ended)) == ()
    assert (
        "add it as a new version" in edited_in_place(with_rules(look), with_rules(sooner(look)))[0]
    )
    assert "give it a last day" in edited_in_place(with_rules(look), with_rules())[0]


@pytest.mark.parametrize(
    ("was", "is_now", "refused"),
    [
        (None, TODAY, False),
        (None, BEFORE, True),
        (BEFORE, BEFORE, False),
        (BEFORE, None, True),
        (BEFORE, AFTER, True),
        (AFTER, None, False),
        (AFTER, TODAY, False),
    ],
)
def test_a_last_day_set_or_taken_away_must_not_judge_past_visits_anew(
    was: date | None, is_now: date | None, refused: bool
) -> None:
    look = rule("fluid-child-look")

    found = ends_before(
        with_rules(replace(look, until=was)), with_rules(replace(look, until=is_now)), TODAY
    )

    assert bool(found) is refused


def test_in_hindsight_the_newest_version_judges_every_visit() -> None:
    look = rule("fluid-child-look")
    newer = replace(sooner(look), version=2, since=TODAY)

    (only,) = in_hindsight(with_rules(look, newer)).rules

    assert (only.version, only.since) == (2, date.min)


def test_in_hindsight_the_newest_readings_judge_every_visit_where_there_are_any() -> None:
    file = in_hindsight(DEFAULT).file
    assert file.untested is not None
    assert (file.restrained_from, file.untested.since) == (date.min, date.min)
    assert (file.gives_way_from, file.one_place_from) == (date.min, date.min)

    assert (file.sure_from, file.own_place_from) == (date.min, date.min)

    none = dict.fromkeys((*READINGS, "untested"))
    before = in_hindsight(changed(**none)).file
    assert {name: getattr(before, name) for name in none} == none


def changed(**sections: Any) -> Protocol:
    return Protocol(replace(DEFAULT.file, **sections), DEFAULT.contact, "another", False)


FILE = DEFAULT.file
OTHERWISE: dict[str, Any] = {
    "now_latest": "3 weeks",
    "retry": replace(FILE.retry, adult=replace(FILE.retry.adult, latest="9 weeks")),
    "loop": replace(FILE.loop, window=replace(FILE.loop.window, latest="20 months")),
    "untested": None,
    "restrained_from": None,
    "gives_way_from": None,
    "one_place_from": None,
    "sure_from": None,
    "own_place_from": None,
    "stages": {**FILE.stages, "low": replace(FILE.stages["low"], seen="40 weeks")},
    "category": {},
}
FREE: dict[str, Any] = {"name": "own", "version": "9", "rule": FILE.rule[:1], "left_out": ()}


@pytest.mark.parametrize("name", ProtocolFile.__struct_fields__)
def test_whatever_stands_beside_the_rules_cannot_change_for_what_already_stands(name: str) -> None:
    new = changed(**{name: {**OTHERWISE, **FREE}[name]})
    assert getattr(new.file, name) != getattr(FILE, name)

    said = f"[{name}] cannot change for what already stands; write it as it was adopted."
    assert sections_changed(DEFAULT, new, TODAY) == (() if name in FREE else (said,))


def test_readings_that_are_new_start_on_the_day_of_adoption_or_later() -> None:
    without, (untested, on) = changed(untested=None, restrained_from=None), (FILE.untested, TODAY)
    assert untested is not None

    for day, refused in ((BEFORE, True), (on, False), (AFTER, False)):
        for new in (
            changed(untested=replace(untested, since=day), restrained_from=None),
            changed(untested=None, restrained_from=day),
        ):
            said = sections_changed(without, new, on)
            assert bool(said) is refused
            assert all("starts on 2026-09-06, before today; set its day to" in s for s in said)
    later = changed(untested=replace(untested, since=AFTER))
    assert len(sections_changed(DEFAULT, later, on)) == 1
    assert len(sections_changed(DEFAULT, changed(restrained_from=AFTER), on)) == 1


def test_the_kept_content_gives_the_same_protocol_back() -> None:
    again = from_content(content_of(DEFAULT))

    assert again.digest == DEFAULT.digest
    assert again.file == DEFAULT.file


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, "nothing"),
        ("", "nothing"),
        ((), "nothing"),
        ({}, "nothing"),
        (True, "recorded"),
        (3, "3"),
        ("hearing_test", "hearing test"),
        (("otoscopy", "hearing_test"), "otoscopy or hearing test"),
        (["a"], "a"),
        (
            {"ear": {"red": True}, "person": {"age": "under 16"}},
            "ear red recorded, person age under 16",
        ),
        (Refer(to="ent", seen="1 week"), "to ent, seen 1 week"),
        (KnownByAge(age="16 or more", known_by="CP"), "age 16 or more, known by CP"),
    ],
)
def test_a_value_of_a_protocol_is_said_in_words(value: object, words: str) -> None:
    assert say(value) == words


def test_what_stands_beside_the_rules_is_compared_too() -> None:
    look = rule("fluid-child-look")
    old = with_rules(look)
    file = replace(
        old.file, name="own", now_latest="3 weeks", retry=replace(old.file.retry, says="Again.")
    )
    lost = replace(old.contact.lost, contacts=3)
    new = Protocol(file, replace(old.contact, lost=lost), "another", False)

    said = compare(old, new)

    assert said[0] == "[name] changes: from default to own."
    assert said[1] == "[now_latest] changes: from 2 weeks to 3 weeks."
    assert said[2].startswith("[retry] changes: from adult earliest 3 days, target 2 weeks, ")
    assert said[3:] == ("The contact steps change.",)


def test_what_a_rule_no_longer_says_changes_to_nothing() -> None:
    old = rule("fluid-child-look")
    new = replace(old, urgency=None)

    assert [s for s in compare(with_rules(old), with_rules(new)) if "urgency" in s] == [
        f"Rule fluid-child-look (version 1) changes urgency: from {old.urgency} to nothing."
    ]


def test_a_last_day_in_the_past_is_named_with_what_to_write() -> None:
    look = rule("fluid-child-look")

    assert ends_before(with_rules(look), with_rules(replace(look, until=BEFORE)), TODAY) == (
        "Rule fluid-child-look (version 1) judges visits before today otherwise; "
        "set `until` to 2026-09-07 or later.",
    )


def test_in_hindsight_a_rule_that_has_ended_judges_nothing_and_order_does_not_matter() -> None:
    look, grade = rule("fluid-child-look"), rule("tensa-two-child")
    ended = replace(grade, until=TODAY)
    newer = replace(sooner(look), version=2, since=TODAY)

    found = in_hindsight(with_rules(newer, look, ended)).rules

    assert [(r.id, r.version, r.since) for r in found] == [("fluid-child-look", 2, date.min)]


def test_the_first_day_of_other_readings_and_who_tests_are_compared_too() -> None:
    file = replace(DEFAULT.file, restrained_from=None, untested=None)
    without = Protocol(file, DEFAULT.contact, "-", False)

    said = compare(without, DEFAULT)

    assert said[0] == "[restrained_from] changes: from nothing to 2026-11-28."
    assert said[1].startswith("[untested] changes: from nothing to since 2026-11-28, by audiology ")
