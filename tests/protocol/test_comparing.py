"""Two protocols compared in words, and what adopting one must refuse."""

from __future__ import annotations

from datetime import date

import pytest
from msgspec.structs import replace

from recall.protocol.comparing import (
    compare,
    edited_in_place,
    ends_before,
    in_hindsight,
    starts_before,
)
from recall.protocol.loading import content_of, from_content, load
from recall.protocol.rules import Recheck, Rule
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


def test_a_new_version_must_not_judge_visits_before_its_adoption() -> None:
    look = rule("fluid-child-look")
    early = replace(sooner(look), version=2)
    fair = replace(early, since=TODAY)

    assert starts_before(with_rules(look), with_rules(look, fair), TODAY) == ()
    assert len(starts_before(with_rules(look), with_rules(look, early), TODAY)) == 1


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


def test_the_kept_content_gives_the_same_protocol_back() -> None:
    again = from_content(content_of(DEFAULT))

    assert again.digest == DEFAULT.digest
    assert again.file == DEFAULT.file
