"""The contact data: every follow-up has a run, and what presses is never left to the post.

"Urgent never by letter alone" and every number are common practice, no source; the model is
the call and recall of the cervical screening programme in England (csas.nhs.uk).
"""

from __future__ import annotations

import tomllib
from datetime import date, timedelta
from importlib.resources import files
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.care.case import Urgency
from recall.errors import ProtocolError
from recall.protocol.contact import ContactProtocol, StepRule, decode_contact

TEXT = (files("recall.protocol") / "contact.toml").read_text(encoding="utf-8")
RULES = ContactProtocol.load()
VISIT = date(2026, 9, 1)


def changed(old: str, new: str) -> ContactProtocol:
    assert old in TEXT
    return decode_contact(TEXT.replace(old, new, 1).encode(), "contact.toml")


@given(st.sampled_from(get_args(Urgency)), st.booleans(), st.integers(0, 2000))
def test_every_follow_up_has_a_run_that_ends_in_a_decision(
    urgency: Urgency, again: bool, days: int
) -> None:
    run = RULES.run_for(urgency, again, VISIT, VISIT + timedelta(days))

    assert [step.kind for step in run.steps].count("decision") == 1
    assert run.steps[-1].kind == "decision"


@pytest.mark.parametrize(
    ("days", "name"),
    [(21, "within three weeks"), (22, "within ten weeks"), (70, "within ten weeks"), (71, "later")],
)
def test_the_run_goes_by_how_soon_the_last_day_comes(days: int, name: str) -> None:
    assert RULES.run_for("medium", False, VISIT, VISIT + timedelta(days)).name == name


def test_within_ten_weeks_the_first_step_is_to_book_before_they_leave() -> None:
    for run in RULES.run:
        if run.round == "first" and run.name != "later":
            assert run.steps[0].kind == "book_now"


def test_every_run_and_every_chase_says_where_it_comes_from() -> None:
    for part in (*RULES.run, *RULES.chase.values(), RULES.lost, RULES.missed):
        assert part.source
        assert part.known_by == "CP"


def test_lost_needs_two_contacts_by_two_channels() -> None:
    assert (RULES.lost.contacts, RULES.lost.channels) == (2, 2)


def test_a_voicemail_is_name_and_number_and_nothing_else() -> None:
    assert RULES.words.voicemail == (
        "On a machine leave your name and the practice's number, nothing else."
    )


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('{ kind = "phone", from = "visit", after = "1 day", tries = 3 },', "", "must call first"),
        ('{ kind = "decision", from = "latest", wait = "1 day" },', "", "one decision"),
        ("tries = 3", "tries = 0", "tries must be 1 or more"),
        ('after = "1 day", tries', 'after = "soon", tries', "not a length of time"),
        ('before = "4 weeks"', 'before = "1 month"', "days or weeks"),
        ('kind = "list_look"', 'kind = "look"', "no step of a run is called 'look'"),
        ('[chase.low]', '[chase.medium_low]', "medium_low"),
        ('name = "later"\nurgency = ["high", "medium", "low"]', 'name = "later"\nurgency = ["low"]',
         "no run for every high"),
        ('from = "visit" },', 'from = "round" },', "no day to count from"),
        ("[lost]", "[lost", "contact.toml is not a TOML file"),
        ('not_before = "1 week"', 'not_before = "soon"', "not a length of time"),
        ('wait = "1 day"', 'wait = "soon"', "not a length of time"),
        ('call = "1 day"', 'call = "soon"', "not a length of time"),
        ('letter = "3 days"', 'letter = "soon"', "not a length of time"),
        ('review = "4 weeks"', 'review = "soon"', "not a length of time"),
        ('own_contact_asked = "26 weeks"', 'own_contact_asked = "26"', "not a length of time"),
        (TEXT[TEXT.index("[chase.low]") :], "", "contact.toml: no chase for low"),
        ('urgency = ["emergency", "urgent"]\nround', 'urgency = ["urgent"]\nround',
         "no run for every emergency follow-up, again: True"),
        ('name = "urgent"\nurgency = ["urgent"]', 'name = "urgent"\nurgency = ["emergency"]',
         "no run for every urgent follow-up, again: False"),
        ('{ kind = "phone", from = "round", after = "1 week", tries = 2 },',
         '{ kind = "decision", from = "round" },', "run 'again' must end in its one decision"),
    ],
)  # fmt: skip
def test_data_that_would_lose_somebody_do_not_load(old: str, new: str, says: str) -> None:
    with pytest.raises(ProtocolError, match=says):
        changed(old, new)


def test_the_data_are_plain_toml() -> None:
    assert set(tomllib.loads(TEXT)) == set(ContactProtocol.__struct_fields__)


def test_what_is_no_text_is_refused() -> None:
    with pytest.raises(ProtocolError, match="is not a TOML file"):
        decode_contact(b"\xff\xfe", "own.toml")


@pytest.mark.parametrize(
    ("before", "after", "day"),
    [
        ("0 days", "0 days", date(2026, 9, 15)),
        ("3 days", "0 days", date(2026, 9, 12)),
        ("2 weeks", "0 days", date(2026, 9, 1)),
        ("0 days", "1 month", date(2026, 10, 15)),
        ("1 day", "1 week", date(2026, 9, 21)),
    ],
)
def test_a_step_falls_so_long_before_or_after_its_anchor(
    before: str, after: str, day: date
) -> None:
    step = StepRule(kind="phone", anchor="target", before=before, after=after)

    assert step.day(date(2026, 9, 15)) == day


def test_a_step_waits_for_the_visit_and_for_the_post() -> None:
    plain = StepRule(kind="phone", anchor="target")
    slow = StepRule(kind="phone", anchor="target", not_before="10 days", wait="3 days")

    assert (plain.floor(VISIT), plain.waited(VISIT)) == (VISIT, date(2026, 9, 8))
    assert (slow.floor(VISIT), slow.waited(VISIT)) == (date(2026, 9, 11), date(2026, 9, 4))


def test_a_step_is_tried_once_where_nothing_is_said() -> None:
    assert StepRule(kind="phone", anchor="target").tries == 1


def test_what_presses_may_be_rung_about_and_then_written() -> None:
    """A letter before the call is refused, one after it is not; the rest may start by letter."""
    letter = '{ kind = "invitation", from = "visit", after = "2 days" },'
    call = '{ kind = "phone", from = "visit", after = "1 day", tries = 2 },\n  '

    with pytest.raises(ProtocolError, match="run 'urgent' must call first"):
        changed(call + letter, letter + "\n  " + call)
    assert (
        changed('{ kind = "phone", from = "target", tries = 2 },', "")
        .run_for("low", False, VISIT, VISIT + timedelta(70))
        .steps[1]
        .kind
        == "invitation"
    )


def test_a_round_again_has_its_own_runs() -> None:
    names = {
        (urgency, again): RULES.run_for(urgency, again, VISIT, VISIT + timedelta(200)).name
        for urgency in get_args(Urgency)
        for again in (False, True)
    }

    assert names == {
        ("emergency", False): "emergency",
        ("urgent", False): "urgent",
        **dict.fromkeys([("high", False), ("medium", False), ("low", False)], "later"),
        **dict.fromkeys([("emergency", True), ("urgent", True)], "pressing, again"),
        **dict.fromkeys([("high", True), ("medium", True), ("low", True)], "again"),
    }
