"""A correction that drops or lowers what pressed: named, explained, and seen by a second person."""

from __future__ import annotations

import pytest
from sqlalchemy import update

from recall.care.case import Visit
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.oversight.notices import announcements
from recall.desk.people.person_card import person
from recall.desk.referrals.progress import sent
from recall.desk.visits.closing import close_visit, void_visit
from recall.desk.visits.drafting import correction, draft
from recall.desk.visits.drafts import Acceptance
from recall.desk.visits.milder import milder_lines, see_milder
from recall.errors import NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import CLEAR, DAY, FLUID, KERATIN, desk_at, later, rows, somebody

MINOR = Ear(drum_seen="full", attic_seen=True, attic_grade=1)


@pytest.fixture
def clara(store: Store) -> Desk:
    return desk_at(store, by="clara")


def closed(desk: Desk, ear: Ear = KERATIN) -> int:
    somebody(desk)
    accepted = Acceptance(looked=True)
    return close_visit(desk, draft(desk, "W1", Visit(on=DAY, right=ear)), accepted).visit_id


def test_a_correction_that_drops_a_referral_names_it_and_needs_a_reason(clara: Desk) -> None:
    number = closed(clara)
    given = correction(clara, number, Visit(on=DAY, right=MINOR))
    assert any(m.about == "ent" and m.now != "urgent" for m in given.milder)
    with pytest.raises(Refused, match=r"milder.*ENT, right ear, urgent"):
        close_visit(clara, given, Acceptance(looked=True))
    close_visit(clara, given, Acceptance(looked=True, milder_why="It was the other ear's."))
    (waiting, *_) = milder_lines(clara)
    assert (waiting.reference, waiting.by) == ("W1", "Clara Voss")
    assert waiting.words.startswith("ENT, right ear, urgent: ")
    assert waiting.why == "It was the other ear's."
    assert any("second clinician" in words for words in announcements(clara))


def test_a_correction_that_keeps_or_raises_asks_for_nothing(clara: Desk) -> None:
    number = closed(clara)
    worse = Ear(**{n: getattr(KERATIN, n) for n in ("drum_seen", "attic_seen", "keratin")},
                attic_grade=4, scutum_erosion=True)  # fmt: skip
    given = correction(clara, number, Visit(on=DAY, right=worse))
    assert given.milder == ()
    close_visit(clara, given, Acceptance(looked=True))
    assert milder_lines(clara) == ()


def test_what_was_not_pressing_may_go_without_a_word(clara: Desk) -> None:
    number = closed(clara, FLUID)
    assert correction(clara, number, Visit(on=DAY, right=CLEAR)).milder == ()


def test_a_void_that_drops_it_names_it_and_waits_too(clara: Desk) -> None:
    number = closed(clara)
    done = void_visit(clara, number, "Somebody else's ears.")
    assert "Milder now: ENT, right ear, urgent: no longer asked for" in done.words
    assert {line.why for line in milder_lines(clara)} == {"Somebody else's ears."}


def test_a_second_person_sees_it(store: Store, clara: Desk) -> None:
    void_visit(clara, closed(clara), "Somebody else's ears.")
    numbers = [line.number for line in milder_lines(clara)]
    with store.write() as session:
        made = tables.Staff.__table__
        session.execute(update(made).where(made.c.handle == "rob").values(role="practitioner"))
    with pytest.raises(Refused, match="your own correction"):
        see_milder(later(clara, 3), numbers[0])
    for number in numbers:
        see_milder(desk_at(store, by="rob"), number)
    assert milder_lines(clara) == ()
    (seen, *_) = rows(store, tables.MilderLine)
    assert (seen["seen_by_id"], seen["seen_at"] is not None) == (desk_at(store).by.id, True)
    with pytest.raises(NotFound):
        see_milder(desk_at(store, by="rob"), numbers[0])


def test_where_nobody_else_may_decide_it_is_the_same_person_on_another_day(clara: Desk) -> None:
    void_visit(clara, closed(clara), "Somebody else's ears.")
    (line, *_) = milder_lines(clara)
    with pytest.raises(Refused, match="of today"):
        see_milder(clara, line.number)
    see_milder(later(clara, 1), line.number)
    assert line.number not in {each.number for each in milder_lines(clara)}


def test_only_somebody_who_may_decide_is_the_second_person(store: Store, clara: Desk) -> None:
    void_visit(clara, closed(clara), "Somebody else's ears.")
    (line, *_) = milder_lines(clara)
    for handle in ("rob", "mina"):
        with pytest.raises(Refused, match="may not"):
            see_milder(desk_at(store, by=handle), line.number)


def test_taking_the_void_back_takes_it_off_the_list(clara: Desk) -> None:
    void_visit(clara, closed(clara), "Somebody else's ears.")
    undo(clara)
    assert milder_lines(clara) == ()


def test_a_sent_referral_stays_open(store: Store, clara: Desk) -> None:
    number = closed(clara)
    r = tables.Referral.__table__
    with store.write() as session:
        session.execute(update(r).where(r.c.to == "ent").values(stage="accepted"))
    void_visit(clara, number, "Somebody else's ears.")
    assert {row["is_open"] for row in rows(store, tables.Referral, to="ent")} == {True}


def test_a_correction_says_what_was_sent_of_the_visit_and_where_to_write_again(clara: Desk) -> None:
    number = closed(clara)
    assert correction(clara, number, Visit(on=DAY, right=MINOR)).sent == ()
    (ent,) = [r for r in person(clara, "W1").referrals if r.to == "ent"]
    sent(later(clara, 1), ent.id, None)

    (told,) = correction(later(clara, 2), number, Visit(on=DAY, right=MINOR)).sent

    assert told.startswith("ENT was told on 2 September 2026: right: ")
    assert "cholesteatoma" in told and told.endswith(f"recall refer draft {ent.id}.")
    assert draft(clara, "W1", Visit(on=DAY, right=FLUID)).sent == ()
