"""Looking through history: in order of danger, in portions, each answer by a named person."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from unittest.mock import Mock

import pytest

from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.oversight import failsafe
from recall.desk.oversight.counts import counts
from recall.desk.plans import looking_through
from recall.desk.plans.changeover import kinds, of_kind, portion
from recall.desk.plans.looking_through import Answer, answer, answer_kind
from recall.desk.plans.passing_time import settle
from recall.desk.worklists.queue_lines import queue_lines
from recall.desk.worklists.referral_list import referrals
from recall.errors import Conflict, InputError, NotFound, RecallError, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.changing_over import LIVE, OLD, SEEN, WORN, history, live_desk, seen_on
from tests.desk.files import PERSON, take_in
from tests.desk.practice import history_is_whole, later, rows

DONE = Answer("done", where="Elm House", when="2025-03")
ANSWERS = (
    Answer("still_open"),
    DONE,
    Answer("not_needed", because="judgement", why="too long ago to matter"),
    Answer("under_care", of="ent"),
)


@pytest.fixture
def desk(store: Store, tmp_path: Path) -> Desk:
    """A clinician's desk with a worn pocket, fluid twice and nothing else in its history."""
    history(live_desk(store, tmp_path), tmp_path, OLD, "2025-01-14", "2024-02-02", **SEEN)
    return live_desk(store, tmp_path, by="clara")


@pytest.fixture
def worn(store: Store, tmp_path: Path) -> Desk:
    """The same, each person with a worn pocket that was to be seen by ENT."""
    history(live_desk(store, tmp_path), tmp_path, OLD, "2025-01-14", **WORN, **SEEN)
    return live_desk(store, tmp_path, by="clara")


def test_the_most_dangerous_comes_first_in_a_portion_that_a_day_can_bear(worn: Desk) -> None:
    found = portion(worn)
    assert found.left == counts(worn).history == len(found.lines)
    urgencies = [line.urgency for line in found.lines]
    ranks = ["emergency", "urgent", "high", "medium", "low"]
    assert urgencies == sorted(urgencies, key=ranks.index)
    assert found.lines[0].what.startswith("refer to ENT")
    assert found.lines[0].asked_on.isoformat() == OLD, "of two alike the longest ago comes first"


@pytest.mark.parametrize("given", ANSWERS, ids=lambda a: a.what)
def test_the_count_shrinks_by_answers_alone_until_nothing_is_left(
    worn: Desk, given: Answer
) -> None:
    left = counts(worn).history
    while found := portion(worn, more=40).lines:
        answer(worn, [found[0].ask], given, {found[0].ask: found[0].version})
        now = counts(worn).history
        assert now < left
        left = now
        assert counts(later(worn, 30)).history == left, "time alone takes nothing away"
    assert left == 0
    assert history_is_whole(worn.store)
    assert not failsafe.run(worn).findings


def test_what_is_still_open_enters_its_steps_from_today(worn: Desk) -> None:
    for each in portion(worn).lines:
        answer(worn, [each.ask], Answer("still_open"))
    for row in rows(worn.store, tables.FollowUp, is_open=True):
        assert row["earliest"] == LIVE
        assert row["latest"] >= LIVE
    open_ones = referrals(worn, everything=True)
    assert {row.late_by_days for row in open_ones} == {0}
    assert all(row.chase_on >= LIVE and row.seen_by > LIVE for row in open_ones)
    assert {line.reference for line in queue_lines(later(worn, 150), letters=True)} == {"P1", "P2"}


def test_what_was_done_counts_as_done_with_where_and_when(desk: Desk) -> None:
    first = portion(desk).lines[0]
    (done,) = answer(desk, [first.ask], DONE)
    assert done.words == "Done elsewhere: Elm House, 2025-03."
    (row,) = [r for r in rows(desk.store, tables.FollowUp) if f"F{r['id']}" == first.ask]
    assert (row["is_open"], row["close_reason"]) == (False, "answered")


def test_whose_care_it_is_under_is_kept_and_the_ask_falls(worn: Desk) -> None:
    first = portion(worn).lines[0]
    answer(worn, [first.ask], Answer("under_care", of="ent"))
    assert rows(worn.store, tables.UnderCare)
    assert first.ask not in {line.ask for line in portion(worn).lines}


def test_referrals_that_end_with_an_answer_about_something_else_are_said(worn: Desk) -> None:
    referral, *_ = [line for line in portion(worn).lines if line.ask[0] == "R"]
    looks = [
        x for x in portion(worn).lines if x.ask[0] == "F" and x.person_id == referral.person_id
    ]
    answer(worn, [referral.ask], Answer("still_open"))
    was = {r["id"] for r in rows(worn.store, tables.Referral) if r["is_open"]}
    said = [done for x in looks for done in answer(worn, [x.ask], Answer("under_care", of="ent"))]
    now = {r["id"] for r in rows(worn.store, tables.Referral) if r["is_open"]}

    assert was - now
    assert sum(done.ends for done in said) == len(was - now)
    told = [done.words for done in said if done.ends]
    assert told and all("of theirs ended with it." in words for words in told)


@pytest.mark.parametrize("given", ANSWERS, ids=lambda a: a.what)
def test_an_answer_is_taken_back_like_anything_else(worn: Desk, given: Answer) -> None:
    before = [line.ask for line in portion(worn).lines]
    answer(worn, before[:1], given)
    assert [line.ask for line in portion(worn).lines] != before
    undo(worn)
    assert [line.ask for line in portion(worn).lines] == before


def test_a_whole_kind_is_answered_with_its_count_and_taken_back_as_one(desk: Desk) -> None:
    alike = max(kinds(desk), key=lambda each: each.count)
    assert alike.count > 1
    left = counts(desk).history
    with pytest.raises(Conflict, match="nothing was answered"):
        answer_kind(desk, alike.kind, alike.count + 1, DONE)
    assert counts(desk).history == left
    assert len(of_kind(desk, alike.kind)) == alike.count
    answer_kind(desk, alike.kind, alike.count, DONE)
    assert counts(desk).history == left - alike.count
    undo(desk)
    assert counts(desk).history == left


def test_many_answers_are_several_writes_and_taken_back_as_one(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(looking_through, "AT_ONCE", 1)
    alike = max(kinds(desk), key=lambda each: each.count)
    before = [line.ask for line in portion(desk).lines]
    writes = Mock(wraps=looking_through._answer_some)
    monkeypatch.setattr(looking_through, "_answer_some", writes)
    answer_kind(desk, alike.kind, alike.count, DONE)
    assert writes.call_count == alike.count > 1
    undo(desk)
    assert [line.ask for line in portion(desk).lines] == before
    assert history_is_whole(desk.store)


def test_what_was_answered_before_a_refused_portion_stands_and_is_counted(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(looking_through, "AT_ONCE", 1)
    alike = max(kinds(desk), key=lambda each: each.count)
    first, second, *_ = of_kind(desk, alike.kind)
    left = counts(desk).history
    seen = {first.ask: first.version, second.ask: second.version - 1}
    with pytest.raises(Conflict, match="Of 2 shown, 1 are answered"):
        answer(desk, [first.ask, second.ask], DONE, seen)
    assert counts(desk).history == left - 1
    assert second.ask in {line.ask for line in portion(desk).lines}


@pytest.mark.parametrize("given", ANSWERS, ids=lambda a: a.what)
def test_of_two_alike_of_one_person_the_second_may_fall_with_the_first(
    store: Store, tmp_path: Path, given: Answer
) -> None:
    rob = live_desk(store, tmp_path)
    take_in(rob, tmp_path, "people", PERSON)
    wax = {"right_wax_found": "occluding", "right_wax_left": "none"}
    found = {"right_effusion": "absent", "right_perforation": "central"}
    hole = seen_on("2024-03-27", **wax, **found)
    take_in(
        rob,
        tmp_path,
        "visits",
        hole,
        seen_on("2024-05-14", "V2", **wax, right_effusion="", right_perforation=""),
    )
    settle(rob)
    clara = live_desk(store, tmp_path, by="clara")
    alike = of_kind(clara, "perforation:high")
    assert [line.reference for line in alike] == ["P1", "P1"]
    answer_kind(clara, "perforation:high", 2, given)
    with pytest.raises(NotFound):
        of_kind(clara, "perforation:high")
    assert history_is_whole(store)


def test_what_was_answered_today_is_no_more_of_todays_portion(worn: Desk) -> None:
    everything = portion(worn)
    answer(worn, [everything.lines[0].ask], DONE)
    now = portion(worn)
    assert (now.answered_today, now.a_day) == (1, 25)
    assert now.left < everything.left


def test_only_whoever_may_decide_answers(worn: Desk, tmp_path: Path) -> None:
    reception = live_desk(worn.store, tmp_path)
    ask = portion(reception).lines[0].ask
    with pytest.raises(Refused):
        answer(reception, [ask], DONE)
    with pytest.raises(Refused):
        answer_kind(reception, "any", 1, DONE)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (Answer("done", when="2025"), "where"),
        (Answer("done", where="Elm House"), "when"),
        (Answer("done", where="Elm House", when="soon"), "no day"),
        (Answer("done", where="Elm House", when="2031-01"), "ahead"),
        (Answer("done", where="Elm House", when="2023-01-01"), "later"),
        (Answer("not_needed"), "words"),
    ],
)
def test_an_answer_that_is_not_whole_is_refused(desk: Desk, given: Answer, said: str) -> None:
    left = counts(desk).history
    with pytest.raises(InputError, match=said):
        answer(desk, [portion(desk).lines[0].ask], given)
    assert counts(desk).history == left


def test_what_is_answered_by_two_desks_is_answered_once(worn: Desk) -> None:
    first = portion(worn).lines[0]
    answer(worn, [first.ask], DONE)
    with pytest.raises(RecallError):
        answer(worn, [first.ask], DONE)
    with pytest.raises(InputError, match="names nothing"):
        answer(worn, ["7"], DONE)


def test_an_emergency_is_not_struck_out_without_what_explains_it(
    store: Store, tmp_path: Path
) -> None:
    sudden = {
        "reported": "sudden_hearing_loss",
        "right_drum_seen": "full",
        "left_drum_seen": "full",
    }
    day = (LIVE - timedelta(40)).isoformat()
    history(live_desk(store, tmp_path), tmp_path, day, **sudden)
    clara = live_desk(store, tmp_path, by="clara")
    (emergency, *_) = [line for line in portion(clara).lines if line.urgency == "emergency"]
    with pytest.raises(Refused, match="emergency stands"):
        answer(clara, [emergency.ask], Answer("not_needed", why="long ago"))
    answer(clara, [emergency.ask], Answer("still_open"))
    said = {row.next for row in referrals(clara)}
    assert not any("while the person is here" in words for words in said)
    assert any("If not, ring there now" in words for words in said)
