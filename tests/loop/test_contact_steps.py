"""The table of contact steps: complete, and what people decided about each, written by hand.

Who acts, and which steps wait for nothing, are common practice, no source.
"""

from __future__ import annotations

from typing import get_args

from recall.loop.contact_steps import AWAITS_CLINICIAN, CONTACT_STEPS, FIRST_OF_ALL
from recall.loop.facts import LetterKind, StepKind
from recall.protocol.contact import LETTER_STEPS, RunKind


def test_every_step_stands_in_the_table_once_with_words_of_its_own() -> None:
    assert sorted(step.kind for step in CONTACT_STEPS) == sorted(get_args(StepKind))
    assert set(get_args(RunKind)) <= {step.kind for step in CONTACT_STEPS}
    assert len({step.short for step in CONTACT_STEPS}) == len(CONTACT_STEPS)
    assert len({step.task for step in CONTACT_STEPS}) == len(CONTACT_STEPS)
    assert all(0 < len(step.short) <= 16 for step in CONTACT_STEPS)


def test_letters_go_with_the_post_and_nothing_else_does() -> None:
    letters = {"invitation", "reminder", "last_letter", "missed_letter", "asked_letter"}

    assert {step.kind for step in CONTACT_STEPS if step.is_letter} == letters
    assert {step.kind for step in CONTACT_STEPS if step.who == "post"} == letters
    assert set(LETTER_STEPS) == set(get_args(LetterKind)) == letters


def test_what_waits_for_nothing_and_what_waits_for_a_clinician() -> None:
    assert set(FIRST_OF_ALL) == {"clinician_call", "safeguarding"}
    assert set(AWAITS_CLINICIAN) == {"decision", "clinician_call", "safeguarding", "ask_result"}
    lapsing = {step.kind for step in CONTACT_STEPS if step.lapses}
    assert lapsing == {"book_now", "list_look"}
