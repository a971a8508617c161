"""What holds on the very day of a limit, and for runs that a practice wrote for itself.

The lengths of time are those of `contact.toml`: common practice, no source.
"""

from __future__ import annotations

from datetime import date

import msgspec
import pytest

from recall.loop.facts import Event, Posted, facts_of
from recall.loop.steps import Step, next_step
from recall.protocol.contact import ContactProtocol, StepRule
from recall.protocol.contact_steps import StepKind
from recall.schedule.plan import FollowUp
from tests.loop.tell import RULES, event, facts, tell
from tests.loop.test_runs import SHORT
from tests.loop.test_stories import ADULT, LATER, URGENT
from tests.records.build import due

DAY = date(2026, 10, 13)
STOPS = ("do_not_contact", "not_safe", "died")


def next_of(*events: Event, on: date = DAY, **more: object) -> Step:
    found = next_step(facts(events=events, **more), on, RULES)
    assert found is not None
    return found


def own_run(*kinds: StepKind) -> ContactProtocol:
    """Return the contact data with another run, of these steps, for what does not press."""
    steps = tuple(StepRule(kind=kind, anchor="earliest") for kind in (*kinds, "decision"))
    runs = [msgspec.structs.replace(run, steps=steps) for run in RULES.run if "low" in run.urgency]
    return msgspec.structs.replace(RULES, run=(*runs, *RULES.run))


def test_a_decision_on_the_day_contact_stopped_is_reviewed_four_weeks_later() -> None:
    tell(
        "2026-09-10 | decided carry_on | decision 2026-10-08 | waiting",
        objected_on=date(2026, 9, 10),
    )


def test_a_decision_before_contact_stopped_does_not_answer_for_it() -> None:
    tell(
        """
        2026-09-05 | decided carry_on | invitation 2026-09-15 | waiting
        2026-09-10 |                  | decision 2026-09-10   | to_contact
        """,
        objected_on=date(2026, 9, 10),
    )


def test_of_two_reasons_not_to_contact_somebody_the_later_is_told() -> None:
    stopped = [event(date(2026, 9, 10), f"phone {what}", 0) for what in STOPS]

    assert [next_of(*stopped[: n + 1]).why for n in range(3)] == [
        "The person asked not to be contacted (10 September 2026).",
        "The person is not safe to contact (10 September 2026).",
        "The person has died: send nothing more, close what is open.",
    ]


def test_after_a_death_what_is_still_booked_is_to_be_called_off_and_nothing_that_was() -> None:
    """A list of another program that brings a day of death calls nothing off."""
    booked = event(date(2026, 9, 10), "booked 2026-10-20", 1)
    died, off = DAY, event(DAY, "ended cancelled_practice", 1)

    open_now = "The person has died: send nothing more, close what is open"
    assert next_of(booked, died_on=died).why == f"{open_now}, cancel what is booked."
    assert next_of(booked, off, died_on=died).why == f"{open_now}."


def test_put_off_until_the_last_day_itself_is_no_matter_for_a_clinician() -> None:
    put_off = "2026-09-10 | phone too_ill until 2026-09-{} | {} | waiting"

    tell(put_off.format(15, "phone 2026-09-15"), **URGENT)
    tell(put_off.format(16, "decision 2026-09-10").replace("waiting", "to_contact"), **URGENT)


def test_a_decision_on_the_day_it_was_put_off_answers_it() -> None:
    tell(
        """
        2026-09-10 | phone too_ill until 2026-09-30 | decision 2026-09-10 | to_contact
        2026-09-10 | decided carry_on               | phone 2026-09-30    | waiting
        """,
        **URGENT,
    )


def test_an_address_checked_on_the_day_they_moved_is_in_doubt_no_more() -> None:
    moved = {"moved_on": date(2026, 9, 3)}

    tell("2026-09-03 | checked | phone 2026-10-13 | waiting", **moved)
    tell(
        """
        2026-09-02 | checked | invitation 2026-09-15    | waiting
        2026-09-03 |         | address_check 2026-09-04 | waiting
        """,
        **moved,
    )


def test_the_list_is_looked_at_until_the_letters_are_due() -> None:
    tell("2027-01-04 | | list_look 2027-01-04 | to_contact", **LATER)
    tell("2027-01-17 | | list_look 2027-01-04 | to_contact", **LATER)


def test_misses_are_counted_from_the_last_decision_whatever_stands_beside_it() -> None:
    before = """
        2026-09-01 | booked 2026-09-10    | attend 2026-09-10    | booked
        2026-09-10 | ended did_not_attend | phone 2026-09-11     | waiting
        2026-09-10 | decided carry_on     | phone 2026-09-11     | waiting
        2026-09-11 | booked 2026-09-20    | attend 2026-09-20    | booked
        2026-09-20 | ended did_not_attend | phone 2026-09-21     | waiting
        """
    after = """
        2026-09-01 | booked 2026-09-10    | attend 2026-09-10    | booked
        2026-09-10 | decided carry_on     | attend 2026-09-10    | booked
        2026-09-10 | ended did_not_attend | phone 2026-09-11     | waiting
        2026-09-11 | booked 2026-09-20    | attend 2026-09-20    | booked
        2026-09-20 | ended did_not_attend | decision 2026-09-20  | to_contact
        """
    tell(before, **ADULT)
    tell(after, **ADULT)


def test_a_child_not_brought_is_looked_into_from_the_day_of_the_last_miss() -> None:
    tell(
        """
        2026-09-01 | booked 2026-09-10     | attend 2026-09-10       | booked
        2026-09-10 | ended was_not_brought | phone 2026-09-11        | waiting
        2026-09-11 | booked 2026-09-20     | attend 2026-09-20       | booked
        2026-09-20 | ended was_not_brought | safeguarding 2026-09-20 | to_contact
        2026-09-22 | booked 2026-09-27     | safeguarding 2026-09-20 | to_contact
        2026-09-23 | phone no_answer       | safeguarding 2026-09-20 | to_contact
        """
    )


def test_a_call_that_needed_an_interpreter_is_none_of_the_calls_of_its_step() -> None:
    tell(
        """
        2026-09-15 | posted invitation       | phone 2026-10-13    | waiting
        2026-10-13 | phone needs_interpreter | phone 2026-10-16    | waiting
        2026-10-16 | phone no_answer         | phone 2026-10-18    | waiting
        2026-10-18 | phone no_answer         | reminder 2026-10-20 | waiting
        """
    )


def test_calls_are_taken_in_the_order_in_which_they_were_made() -> None:
    """The message ended the first step, so that the call after it is the first of the second."""
    known = tell(
        """
        2026-09-02 | phone left_message | invitation 2026-09-07 | waiting
        2026-09-17 | posted invitation  | phone 2026-09-20      | waiting
        2026-09-20 | phone no_answer    | phone 2026-09-22      | waiting
        """,
        **SHORT,
    )

    assert next_of(*known.events, on=date(2026, 9, 20), **SHORT).why == "Ring again, call 2."


def test_without_a_safe_way_the_search_for_one_says_why() -> None:
    nowhere = next_of(channels=frozenset())

    assert nowhere.kind == "address_check"
    assert nowhere.why == "No safe way is recorded for the next step: look for one."


@pytest.mark.parametrize(
    ("steps", "happened", "channels", "kind"),
    [
        (("invitation",), ("posted invitation",), "phone letter", "phone"),
        (("phone",), ("phone left_message",), "phone letter", "last_letter"),
        (("phone",), ("phone left_message",), "phone", "address_check"),
        (("phone",), ("phone left_message", "text message_sent"), "phone letter", "address_check"),
        (("phone",), ("phone left_message", "checked"), "phone", "phone"),
        (("invitation",), ("posted invitation", "checked"), "letter", "last_letter"),
    ],
)
def test_where_a_practices_own_run_leaves_a_way_untried_that_way_comes_before_lost(
    steps: tuple[StepKind, ...], happened: tuple[str, ...], channels: str, kind: str
) -> None:
    """A practice may adopt a run without a letter, or without a call."""
    own = own_run(*steps)
    events = tuple(event(date(2026, 10, 1), words, 0) for words in happened)
    about = facts(urgency="low", channels=frozenset(channels.split()), events=events)

    found = next_step(about, DAY, own)

    assert found is not None
    assert found.kind == kind
    assert found.why.startswith("Before anybody may be called lost: ")


def test_a_letter_that_has_gone_out_is_not_the_other_way() -> None:
    """Of letters the last one comes first, then the ones before it."""
    lost = msgspec.structs.replace(RULES.lost, contacts=4, channels=1)
    own = msgspec.structs.replace(own_run("phone"), lost=lost)
    sent: list[Event] = []
    kinds = []
    for kind in ("last_letter", "reminder", "invitation"):
        about = facts(urgency="low", channels=frozenset({"letter"}), events=tuple(sent))
        checked = about.with_events(event(date(2026, 10, 1), "checked", 0))
        found = next_step(checked, DAY, own)
        kinds.append(found.kind if found else None)
        sent.append(Posted(on=date(2026, 10, 2), kind=kind))  # type: ignore[arg-type]

    assert kinds == ["last_letter", "reminder", "invitation"]


def test_of_what_is_missing_the_first_is_said() -> None:
    sent = event(date(2026, 10, 1), "posted invitation", 0)

    found = next_step(facts(urgency="low", events=(sent,)), DAY, own_run("invitation"))

    assert found is not None
    assert found.why == "Before anybody may be called lost: 1 of 2 contacts."


def test_a_text_beside_the_telephone_is_none_of_the_calls_of_a_step() -> None:
    tell(
        """
        2026-09-15 | posted invitation  | phone 2026-10-13    | waiting
        2026-10-13 | text message_sent  | phone 2026-10-18    | waiting
        2026-10-18 | phone left_message | reminder 2026-10-23 | waiting
        """
    )


def test_a_follow_up_was_asked_for_on_the_last_day_on_which_a_visit_asked() -> None:
    asked = tuple(due(asked_on=date(2026, 9, day)) for day in (3, 9, 6))
    window = {name: getattr(asked[0], name) for name in ("earliest", "target", "latest")}
    rest = {"offer_on": None, "tracks": ("fluid",), "ears": ("right",), "do": ("otoscopy",)}
    made = FollowUp(**window, **rest, urgency="medium", dues=asked)

    assert facts_of(made, born=date(2018, 3, 2)).asked_on == date(2026, 9, 9)
