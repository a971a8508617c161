"""After three looks that found nothing worse, *come back if* may be offered, with what is known."""

from __future__ import annotations

from recall.care.case import Visit
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance, Draft
from recall.records.database.store import Store
from tests.desk.practice import desk_at, later, somebody

LOOKED = Acceptance(looked=True)
HALF_A_YEAR = 183
CHILDREN = ("W1", "W2", "W3")


def graded(grade: int) -> Ear:
    return Ear(drum_seen="full", tensa_grade=grade, effusion="absent", hearing_screen="passed")


def drafted(desk: Desk, ref: str, grade: int = 1) -> Draft:
    return draft(desk, ref, Visit(on=desk.today, right=graded(grade)))


def look(desk: Desk, ref: str, grade: int = 1) -> Draft:
    given = drafted(desk, ref, grade)
    close_visit(desk, given, LOOKED)
    return given


def test_it_is_offered_at_the_third_look_that_is_no_worse(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    first = look(desk, "W1")
    second = look(later(desk, HALF_A_YEAR), "W1")
    third = look(later(desk, 2 * HALF_A_YEAR), "W1")
    worse = drafted(later(desk, 3 * HALF_A_YEAR), "W1", grade=2)

    assert (first.offers, second.offers, worse.offers) == ((), (), ())
    (offer,) = third.offers
    assert offer.startswith("Right ear: no worse at three looks.")
    assert "striking retraction:right out" in offer
    assert offer.endswith("Nobody as stable was looked at again here: nothing is known of it.")


def test_it_says_how_many_as_stable_were_worse_at_their_next_look(store: Store) -> None:
    """1 of 2: 9 to 91 in 100 (Wilson 1927; Newcombe, Stat Med 1998;17:857, method 3)."""
    desk = desk_at(store, by="clara")
    for ref in CHILDREN:
        somebody(desk, ref=ref)
    for looks in range(3):
        for ref in CHILDREN[:2]:
            look(later(desk, looks * HALF_A_YEAR), ref)
    fourth = later(desk, 3 * HALF_A_YEAR)
    look(fourth, "W1")
    look(fourth, "W2", grade=2)
    for looks in range(3):
        given = look(later(desk, (4 + looks) * HALF_A_YEAR), "W3")

    (offer,) = given.offers
    assert offer.endswith(
        "Here 1 of 2 people as stable were worse at their next look (9 to 91 in 100)."
    )
