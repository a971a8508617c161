"""A letter to a colleague: how soon, which question, the course, and the clinician's own words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import msgspec
import pytest

from recall.care.case import Case, Visit
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.referrals.letter_content import (
    FOR_STAFF,
    OF_RULE,
    asked_words,
    questions,
    reasons_of,
)
from recall.desk.referrals.progress import News, draft_letter, record
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance, VisitNote
from recall.errors import InputError, Refused
from recall.letters import sample
from recall.letters.compose import compose
from recall.letters.data import Seen
from recall.letters.wording import Wording
from recall.letters.wording.blocks import plain
from recall.protocol.loading import load
from recall.protocol.rules import Refer, Rule
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.plan import Reason, Referral, Stages
from tests.desk.practice import DAY, KERATIN, desk_at, rows, somebody, visit

NOBODY = Case(born=date(1980, 1, 1))
LOSS = {"500": 40, "1000": 45, "2000": 45, "4000": 50}


@pytest.mark.parametrize(
    ("urgency", "words"),
    [
        ("emergency", "Please see this person as an emergency, today."),
        ("urgent", "Please see this person urgently, by 15 September 2026."),
        ("high", "Please see this person soon, by 15 September 2026."),
        ("low", "Please see this person routinely, by 15 September 2026."),
    ],
)
def test_how_soon_is_said_in_words_that_are_used_outside(urgency: str, words: str) -> None:
    assert asked_words(urgency, date(2026, 9, 15), DAY) == words


def test_a_day_that_has_gone_by_is_said_as_that() -> None:
    said = asked_words("high", DAY - timedelta(days=1), DAY)

    assert said == "Please see this person as soon as you can: it was to be by 31 August 2026."
    assert asked_words("high", DAY, DAY).endswith("soon, by 1 September 2026.")


def referred(store: Store) -> tuple[Desk, int]:
    """A child whose attic got worse and who hears less, with the referral of the last visit."""
    first = desk_at(store, DAY - timedelta(days=100), by="clara")
    person_id = somebody(first)
    visit(first, person_id, right=Ear(drum_seen="full", attic_seen=True, attic_grade=2))
    desk = desk_at(store, by="clara")
    visit(desk, person_id, right=KERATIN, left=Ear(hearing_dB=LOSS))
    number = rows(store, tables.Referral, to="ent")[0]["id"]
    return desk, number


def test_a_referral_says_the_course_the_question_and_where_else(store: Store) -> None:
    desk, number = referred(store)

    text = draft_letter(desk, number).text

    assert "right ear, attic grade: 2 (24 May 2026), 3 (1 September 2026)" in text
    assert "Is there disease in this ear" in text
    assert "GP: Dr Quill, Mill Surgery, Wrenfield" in text
    assert "Also referred on the same day" in text
    assert "Children's audiology department" in text


def test_the_clinicians_words_go_into_the_letter_the_newest_alone(store: Store) -> None:
    desk, number = referred(store)
    assert "From the practitioner" not in draft_letter(desk, number).text

    for words in ("Smells.", "The ear smells, and she is off balance."):
        record(desk, number, None, News("worded", reason=words))

    text = draft_letter(desk, number).text
    assert "From the practitioner\n\nThe ear smells, and she is off balance." in text
    assert "Smells.\n" not in text


def test_words_for_a_letter_move_nothing_of_the_referral(store: Store) -> None:
    desk, number = referred(store)
    record(desk, number, None, News("rejected", reason="full"))
    (before,) = rows(store, tables.Referral, id=number)

    record(desk, number, None, News("worded", reason="Please look again."))

    (after,) = rows(store, tables.Referral, id=number)
    assert (after["stage"], after["chase_on"]) == (before["stage"], before["chase_on"])
    assert after["stage"] == "decision"


def test_only_who_may_decide_words_a_letter_and_never_with_nothing(store: Store) -> None:
    desk, number = referred(store)

    with pytest.raises(Refused):
        record(desk_at(store, by="rob"), number, None, News("worded", reason="x"))
    with pytest.raises(InputError):
        record(desk, number, None, News("worded", reason="  "))


def test_words_that_were_typed_at_closing_stand_in_the_letters_of_that_day(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    note = VisitNote(words="off balance", for_letters="The ear smells.")
    seen = Visit(on=desk.today, right=KERATIN)
    close_visit(desk, draft(desk, "W1", seen, note), Acceptance(looked=True))
    number = rows(store, tables.Referral, to="ent")[0]["id"]

    assert "From the practitioner\n\nThe ear smells." in draft_letter(desk, number).text


def _referral(rule: str, says: str = "Something. What staff do.") -> Referral:
    day = DAY
    stages = Stages(sent_by=day, accepted_by=day, seen_by=day, result_by=day)
    reason = Reason(
        ear="left",
        track="canal_skin",
        rule=rule,
        rule_version=1,
        says=says,
        source="",
        known_by="CP",
    )
    return Referral(
        to="gp",
        ears=("left",),
        urgency="urgent",
        within_days=14,
        stages=stages,
        reasons=(reason,),
        asked_on=day,
    )


@pytest.mark.parametrize(
    ("rule", "word"),
    [
        ("pinna-lesion", "cancer of the skin"),
        ("sudden-loss-now", "loss of the inner ear"),
        ("object-failed", "remove this object"),
        ("battery-or-unknown-object", "at once"),
        ("facial-weakness", "need today"),
        ("facial-numbness", "and what does it need?"),
        ("canal-inflamed-long", "examine and treat this ear canal"),
    ],
)
def test_the_question_is_about_what_was_found(rule: str, word: str) -> None:
    (question,) = questions([_referral(rule)], NOBODY)

    assert word in question


def test_every_beginning_is_that_of_a_rule() -> None:
    names = {f"{r.id}-" for r in load().rules}

    assert not [b for b in OF_RULE if not any(n.startswith(f"{b}-") for n in names)]
    assert {f"{b}-" for b in FOR_STAFF} <= names


def test_what_tells_staff_what_to_do_is_not_in_the_letter() -> None:
    says = "Skin that may be cancer: the GP is told by telephone. Say its size."

    (told,) = reasons_of([_referral("pinna-lesion", says)], NOBODY)
    assert told.startswith("left ear: Skin that may be cancer. Size: ____")
    assert reasons_of([_referral("own-rule", says)], NOBODY) == (f"left ear: {says}",)


def test_no_rule_that_refers_tells_a_colleague_how_the_house_works() -> None:
    """Neither how we test, nor what to ask the person, nor a day that may or may not be known."""
    refers = [rule for rule in load().file.rule if isinstance(rule.ask, Refer)]
    told = [line for r in refers for line in reasons_of([_referral(r.id, r.says)], NOBODY)]

    house = ("day of suction", "no day recorded", "Ask since", "Ask about")
    assert len(told) == len(refers)
    assert not [line for line in told if any(words in line for words in house)]
    (line,) = reasons_of([_referral("sudden-loss-now", _sudden(refers).says)], NOBODY)
    assert line.startswith("left ear: Sudden hearing loss: ENT or emergency department within 24")


def _sudden(refers: Sequence[Rule]) -> Rule:
    return next(rule for rule in refers if rule.id == "sudden-loss-now")


@pytest.mark.parametrize(
    ("urgency", "heading"),
    [("emergency", "Emergency referral"), ("urgent", "Urgent referral"), ("high", "Referral")],
)
def test_a_letter_is_headed_by_how_pressing_it_is(urgency: str, heading: str) -> None:
    seen = Seen(visit_on=DAY, is_emergency=urgency == "emergency", is_urgent=urgency == "urgent")
    data = msgspec.structs.replace(sample.letter("referral"), seen=seen)

    assert f"\n\n{heading}\n\n" in plain(compose(data, Wording()).body)
