"""What is said of a protocol that cannot be used, and what one holds that can."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from recall.errors import ProtocolError
from recall.protocol.loading import content_of, decode, from_content, load
from recall.protocol.rules import Refer
from tests.protocol.test_checking import RULE, protocol

SPAN = {"earliest": "1 week", "target": "2 weeks", "latest": "4 weeks"}


def asks(**more: Any) -> dict[str, Any]:
    return {"ask": {**RULE["ask"], **more}}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (asks(earliest="7 months"), "Rule one: the window runs backwards."),
        (asks(target="8 months"), "Rule one: the window runs backwards."),
        (
            asks(earliest="30 days", target="1 month", latest="2 months"),
            "Rule one: the window runs backwards.",
        ),
        (asks(**{"from": "birth"}), "Rule one: 'birth' is no anchor."),
        (
            asks(**{"from": "grommet_inserted"}),
            "Rule one: it counts from grommet_inserted, which may not be recorded.",
        ),
        (asks(latest="soon"), "'soon' is not a length of time."),
        ({"when": {"ear": {"colour": True}}}, "Rule one, ear.colour: there is no such word."),
        (
            {"when": {"ear": {"keratin": False}}},
            "Rule one, ear.keratin: only `true` can be asked for.",
        ),
        (
            {"when": {"ear": {"tensa_grade": ["2 or worse", "3 or worse"]}}},
            "Rule one, ear.tensa_grade: a scale takes one value, the mildest that counts.",
        ),
        (
            {"when": {"ear": {"tensa_grade": "2"}}},
            'Rule one, ear.tensa_grade: a scale can only say "or worse": write "2 or worse".',
        ),
        (
            {"when": {"ear": {"tensa_grade": "9 or worse"}}},
            "Rule one, ear.tensa_grade: '9' is not one of 0, 1, 2, 3, 4.",
        ),
        (
            {"when": {"ear": {"tensa_grade": "0 or worse"}}},
            "Rule one, ear.tensa_grade: nothing can be conditioned on the normal value.",
        ),
        *(
            (
                {"when": {"ear": {"hearing_loss": text}}},
                'Rule one, ear.hearing_loss: write it like "25 dB or worse".',
            )
            for text in ("25 or more", "under 25 dB", "25 to 40 dB")
        ),
        (
            {"when": {"person": {"risk": ["autism", "youth"]}}},
            "Rule one, person.risk: 'youth' is not one of ",
        ),
        ({"when": {"report": {"said": ["pian"]}}}, "Rule one, report.said: 'pian' is not one of "),
        ({"when": {"course": {"fluid_known": "long"}}}, "'long' is not a range."),
        ({"when": {}}, "Rule one: it has no condition."),
        (
            {"unless": {"ear": {"keratin": True}}},
            "Rule one: an `unless` needs its reason in `unless_because`.",
        ),
        ({"urgency": "soon"}, "own.toml: rule one, urgency: Invalid enum value 'soon'."),
        ({"colour": "red"}, "own.toml: rule one: Object contains unknown field `colour`."),
    ],
)
def test_a_rule_that_cannot_be_meant_is_named_with_what_is_wrong(
    tmp_path: Path, change: dict[str, Any], says: str
) -> None:
    with pytest.raises(ProtocolError) as refused:
        protocol(tmp_path, {"id": "none", "when": {"ear": {"red": True}}}, change)
    assert str(refused.value).startswith(says)


@pytest.mark.parametrize("worst", ["4", "4 or worse"])
def test_the_worst_value_of_a_scale_may_be_asked_for_as_it_is(tmp_path: Path, worst: str) -> None:
    (only,) = protocol(tmp_path, {"when": {"ear": {"tensa_grade": worst}}}).matcher.compiled

    assert (only.lines[0].kind, only.lines[0].low) == ("scale", 4)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[[rule]]\nid = 1", "own.toml: rule 1, id: Expected `str`, got `int`."),
        ("[[rule]]\nversion = 1", "own.toml: rule number 1: Object missing required field `id`."),
        ("name = 1", "own.toml: Expected `str`, got `int` - at `$.name`."),
        ("name = 1\n[[rule]]", "own.toml: Expected `str`, got `int` - at `$.name`."),
        ("rule = 1", "own.toml: Expected `array`, got `int` - at `$.rule`."),
        ("rule = [1]", "own.toml: rule 0: Expected `object`, got `int`."),
        ("name = [", "own.toml is not a TOML file: "),
    ],
)
def test_what_cannot_be_decoded_names_its_place(text: str, says: str) -> None:
    with pytest.raises(ProtocolError) as refused:
        decode(text.encode(), "own.toml")
    assert str(refused.value).startswith(says)


def test_a_file_that_is_no_text_and_one_that_is_not_there_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ProtocolError, match=r"^own\.toml is not a TOML file: "):
        decode(b"\xff", "own.toml")
    with pytest.raises(ProtocolError, match=r"^The protocol own\.toml cannot be read: No "):
        load(tmp_path / "own.toml")


def test_content_of_another_kind_is_not_read() -> None:
    with pytest.raises(ProtocolError, match="adopted protocol cannot be read by this version"):
        from_content(b"[{}, {}]")


def test_an_anchor_that_may_be_missing_needs_its_clock_or_a_window_for_never(
    tmp_path: Path,
) -> None:
    counted = asks(**{"from": "last_hearing_test"})
    ear = {"ear": {"tensa_grade": "2 or worse"}}
    clock = {"when": {**ear, "course": {"hearing_tested": "under 12 months"}}}
    loose = {"when": {**ear, "course": {"hearing_tested": "under 12 months or never"}}}

    (by_clock,) = protocol(tmp_path, {**clock, **counted}).asks.values()
    (by_never,) = protocol(
        tmp_path, asks(**{"from": "last_hearing_test", "never": SPAN})
    ).asks.values()

    assert by_clock.never is None
    assert by_never.never is not None
    assert str(by_never.never.latest) == "4 weeks"
    with pytest.raises(ProtocolError, match="may not be recorded"):
        protocol(tmp_path, {**loose, **counted})


def test_how_a_rule_is_known_goes_by_age(tmp_path: Path) -> None:
    ages = [{"age": "under 2", "known_by": "M-lo"}, {"age": "16 or more", "known_by": "C"}]

    (found,) = protocol(tmp_path, {"known_by_age": ages}).asks.values()

    assert [found.known_by(age) for age in (1, 2, 15, 16)] == ["M-lo", "CP", "CP", "C"]


def test_a_referral_has_its_own_stages_and_its_urgency_s_for_the_rest(tmp_path: Path) -> None:
    """High urgency in the shipped file: 3 days, 2 weeks, 12 weeks, 16 weeks."""
    ask = {"kind": "refer", "to": "ent", "accepted": "1 week", "result": "9 weeks"}
    found = protocol(tmp_path, {"ask": ask, "category": "refer", "urgency": "high"})

    stages = found.stages_for("high", Refer(to="ent", seen="5 weeks"))
    plain = found.stages_for("high")
    own = next(iter(found.asks.values())).stages

    assert own is not None
    for mine, words in (
        (stages, ("3 days", "2 weeks", "5 weeks", "16 weeks")),
        (plain, ("3 days", "2 weeks", "12 weeks", "16 weeks")),
        (own, ("3 days", "1 week", "12 weeks", "9 weeks")),
    ):
        assert tuple(map(str, (mine.sent, mine.accepted, mine.seen, mine.result))) == words


def test_the_name_and_the_digest_go_with_the_content(tmp_path: Path) -> None:
    one, same = protocol(tmp_path, {}), protocol(tmp_path, {})
    other = protocol(tmp_path, {"says": "Something else."})

    assert (one.name, one.version) == ("default", "2026.1")
    assert one.digest == same.digest != other.digest
    assert from_content(content_of(one)).digest == one.digest


@pytest.mark.parametrize(
    ("when", "says"),
    [
        ({"person": {"risk": ["autism", "height", "joy"]}}, "person.risk: 'height' is not one of"),
        ({"report": {"said": ["joy", "height"]}}, "report.said: 'joy' is not one of"),
        ({"ear": {"perforation": ["central", "none", "round"]}}, "ear.perforation: 'none' is not"),
    ],
)
def test_the_first_word_that_nobody_knows_is_named(
    tmp_path: Path, when: dict[str, Any], says: str
) -> None:
    with pytest.raises(ProtocolError, match=says):
        protocol(tmp_path, {"when": when})
