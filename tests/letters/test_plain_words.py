"""Letters that people understand, and that neither sell, nor blame, nor tell.

Reading age 12 is the seventh school year of the American grades that the formulas give (a grade
plus five is an age); the formulas and their sources are in `readability.py`. SMOG asks for
thirty sentences, so it is taken over all letters together.
"""

from __future__ import annotations

import re
from datetime import date

import pytest

from recall.letters import sample
from recall.letters.compose import compose, mail, script
from recall.letters.composed import Block
from recall.letters.data import RECALL_KINDS, Kind
from recall.letters.wording import Wording
from tests.letters import readability

AGE_12 = 7
ABOUT_CONTACT = ("moved_check", "own_contact_16")
CLINICAL = (
    *("wax", "grommet", "perforat", "effusion", "cholesteatoma", "retraction", "tympan", "drum"),
    *("polyp", "infection", "diagnos", "disease", "cancer", "otitis", "mastoid"),
)
SELLING = ("£", "price", "cost", "offer", "discount", "free", "fee", "pay", "save")
BLAMING = ("fail", "miss", "fault", "blame", "must", "neglect", "did not attend", "dna", "wasted")


def _prose(blocks: tuple[Block, ...]) -> str:
    """Return what is read as sentences: addresses, times and signatures are not."""
    read = (block for block in blocks if block.kind in ("text", "heading", "list"))
    sentences = [" ".join(block.lines).rstrip(".:") + "." for block in read]
    return " ".join(sentences)


@pytest.mark.parametrize("kind", RECALL_KINDS)
@pytest.mark.parametrize("full", [True, False])
def test_letter_reads_at_age_12_or_below(kind: Kind, full: bool) -> None:
    text = _prose(compose(sample.letter(kind, full=full), Wording()).body)

    assert readability.flesch_kincaid_grade(text) <= AGE_12
    assert readability.automated_index(text) <= AGE_12


@pytest.mark.parametrize("kind", RECALL_KINDS)
def test_call_reads_at_age_12_or_below(kind: Kind) -> None:
    text = _prose(script(sample.letter(kind), Wording()).blocks)

    assert readability.flesch_kincaid_grade(text) <= AGE_12


def test_all_letters_together_read_at_age_12_or_below() -> None:
    made = [compose(sample.letter(kind), Wording()) for kind in RECALL_KINDS]
    text = " ".join(_prose(letter.body) for letter in made)

    assert readability.sentences(text) >= 30
    assert readability.smog_grade(text) <= AGE_12


@pytest.mark.parametrize("kind", RECALL_KINDS)
def test_letter_to_a_person_is_neutral(kind: Kind) -> None:
    """No prices or offers (PECR 2003 regulation 22: a service message must stay one)."""
    text = mail(sample.letter(kind), Wording()).text.casefold()

    assert [word for word in SELLING if re.search(rf"\b{word}", text)] == []
    assert [word for word in CLINICAL if word in text] == []


@pytest.mark.parametrize("kind", RECALL_KINDS)
def test_letter_to_a_person_never_blames(kind: Kind) -> None:
    text = mail(sample.letter(kind), Wording()).text.casefold()

    assert [word for word in BLAMING if re.search(rf"\b{word}", text)] == []


def test_letter_after_a_child_was_not_brought_offers_help() -> None:
    text = mail(sample.letter("was_not_brought"), Wording()).text

    assert "it can be hard to get here" in text
    assert "something would make it easier" in text


@pytest.mark.parametrize("kind", RECALL_KINDS)
def test_letter_to_a_person_has_no_birth_date_and_no_nhs_number(kind: Kind) -> None:
    data = sample.letter(kind)
    assert data.subject is not None
    text = mail(data, Wording()).text

    assert data.subject.nhs_number not in text
    assert data.subject.born == date(2018, 3, 2)
    assert "March 2018" not in text


@pytest.mark.parametrize(
    "kind", [k for k in RECALL_KINDS if k not in ("moved_check", "own_contact_16")]
)
def test_letter_says_what_to_do_if_things_get_worse(kind: Kind) -> None:
    text = mail(sample.letter(kind), Wording()).text

    assert "NHS 111" in text
    assert "999" in text


def test_referral_is_a_draft_until_somebody_signs_it() -> None:
    text = mail(sample.letter("referral"), Wording()).text

    assert "Not valid until the practitioner has checked and signed it" in text
    assert "Signature: ____" in text


def test_referral_says_what_was_seen_in_the_words_that_were_given() -> None:
    data = sample.letter("referral")
    assert data.seen is not None
    body = compose(data, Wording()).body
    lines = [line for block in body for line in block.lines]

    assert [
        x for x in (*data.seen.right, *data.seen.left, *data.seen.reasons) if x not in lines
    ] == []


def test_unrecorded_ear_reads_as_not_recorded_never_as_normal() -> None:
    text = mail(sample.letter("referral", full=False), Wording()).text

    assert text.count("nothing recorded") == 2
    assert "normal" not in text
