"""What one service is asked at one visit is one line for both ears, until the ears stand apart."""

from __future__ import annotations

from datetime import timedelta

import pytest

from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.oversight.counts import counts
from recall.desk.people.person_card import person
from recall.desk.referrals import progress
from recall.desk.referrals.progress import Followed, News
from recall.desk.worklists.referral_list import ReferralLine, referrals
from recall.errors import Conflict, InputError
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    CLEAR,
    KERATIN,
    desk_at,
    history_is_whole,
    later,
    rows,
    somebody,
    visit,
)

BOTH = ("right", "left")


@pytest.fixture
def desk(store: Store) -> Desk:
    """A clinician on the day on which keratin was found in both ears of W1."""
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=KERATIN, left=KERATIN)
    return desk


def lines(desk: Desk) -> tuple[ReferralLine, ...]:
    """The open lines to ENT; the list, the card and the count are one."""
    found = referrals(desk, everything=True, clinical=True)
    card = person(desk, "W1").referrals
    assert [(line.referral_id, line.numbers, line.ears, line.next) for line in found] == [
        (one.id, one.numbers, one.ears, one.why) for one in card
    ]
    for days in (0, 3, 10, 60, 400):
        then = later(desk, days)
        assert counts(then).referrals == len(referrals(then))
    return tuple(line for line in found if line.to == "ent")


def stages(desk: Desk) -> dict[str, str]:
    """The stage on record of each ear."""
    found = rows(desk.store, tables.Referral, to="ent")
    return {ear: row["stage"] for row in found for ear in row["ears"]}


def test_both_ears_are_one_line_that_says_so(desk: Desk) -> None:
    (line,) = lines(desk)
    stored = rows(desk.store, tables.Referral, to="ent")
    assert [row["ears"] for row in stored] == [("right",), ("left",)]
    assert (line.ears, line.numbers) == (BOTH, tuple(row["id"] for row in stored))
    assert line.clinical.startswith("Both ears: ") and "Right ear" not in line.clinical


def test_one_act_by_either_number_counts_for_both_and_is_undone_whole(desk: Desk) -> None:
    (line,) = lines(desk)
    for number in line.numbers:
        progress.sent(desk, number, None)
        assert stages(desk) == {"right": "accepted", "left": "accepted"}
        assert [each.numbers for each in lines(desk)] == [line.numbers]
        undo(desk)
        assert stages(desk) == {"right": "sent", "left": "sent"}
        assert lines(desk)[0].next == line.next
    assert history_is_whole(desk.store)


def test_the_result_of_one_ear_parts_them_and_undo_joins_them(desk: Desk) -> None:
    (both,) = lines(desk)
    done = progress.result(desk, both.referral_id, both.version, "All clear.", ear="left")
    assert "Only of the left ear." in done.words
    (rest,) = lines(desk)
    assert (rest.ears, rest.numbers) == (("right",), both.numbers[:1])
    undo(desk)
    assert lines(desk)[0].numbers == both.numbers
    assert history_is_whole(desk.store)


def test_where_the_ears_stand_apart_an_act_on_one_line_leaves_the_other(desk: Desk) -> None:
    (both,) = lines(desk)
    progress.accepted(desk, both.referral_id, None, ear="left")
    assert {line.ears: line.stage for line in lines(desk)} == {
        ("right",): "sent",
        ("left",): "seen",
    }
    right, left = both.numbers
    progress.record(desk, right, None, News("chased"))
    assert stages(desk) == {"right": "sent", "left": "seen"}
    progress.accepted(desk, right, None)
    assert [line.ears for line in lines(desk)] == [BOTH]
    progress.result(desk, left, None, "Both cleaned.", they_follow=Followed())
    assert lines(desk) == ()


def test_what_stands_alike_for_another_reason_is_told_by_ear(desk: Desk) -> None:
    (both,) = lines(desk)
    progress.rejected(desk, both.referral_id, None, "Not for us.", ear="right")
    progress.discharged_unseen(desk, both.numbers[1], None, "Did not answer.")
    (line,) = lines(desk)
    assert line.ears == BOTH
    assert "Right ear: The referral was rejected" in line.next
    assert "Left ear: They were discharged" in line.next


def test_an_ear_that_the_line_has_not_is_refused(desk: Desk) -> None:
    (both,) = lines(desk)
    right, left = both.numbers
    progress.sent(desk, right, None, ear="right")
    with pytest.raises(InputError, match="not one of the left ear"):
        progress.sent(desk, right, None, ear="left")
    with pytest.raises(InputError, match="not one of the right ear"):
        progress.close(desk, left, None, "transferred", "Moved.", ear="right")
    assert stages(desk) == {"right": "accepted", "left": "sent"}


def test_the_second_of_two_desks_is_told_by_either_number(desk: Desk) -> None:
    (both,) = lines(desk)
    right, left = both.numbers
    version = rows(desk.store, tables.Referral, id=left)[0]["version"]
    progress.sent(desk, right, both.version)
    with pytest.raises(Conflict):
        progress.sent(desk, left, version)


def test_what_another_visit_or_another_service_asks_is_its_own_line(store: Store) -> None:
    desk = desk_at(store, by="clara")
    number = somebody(desk)
    visit(desk, number, right=KERATIN, left=CLEAR)
    next_day = later(desk, 40)
    visit(next_day, number, right=CLEAR, left=KERATIN)
    found = lines(next_day)
    assert sorted(line.ears for line in found) == [("left",), ("right",)]
    assert len({line.asked_on for line in found}) == 2
    assert found[0].asked_on + timedelta(days=40) in {line.asked_on for line in found}
