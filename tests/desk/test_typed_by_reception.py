"""A visit closed by somebody who may not decide: it stands, and waits for a clinician."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from recall.care.case import Visit
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.oversight.counts import counts
from recall.desk.oversight.notices import announcements
from recall.desk.oversight.report import register_report
from recall.desk.plans.confirming import confirm_people, plans, waiting
from recall.desk.post.batches import prepare
from recall.desk.referrals import progress
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import correction, draft
from recall.desk.visits.drafts import VisitNote
from recall.desk.visits.examining import examined
from recall.desk.worklists.queue_lines import queue_lines
from recall.desk.worklists.referral_list import referrals
from recall.errors import Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import PERSON, VISIT, take_in
from tests.desk.posting import first_letter_day, on
from tests.desk.practice import DAY, FLUID, KERATIN, desk_at, later, rows, somebody, visit

LOSS = Ear(hearing_dB={"500": 60, "1000": 60, "2000": 65, "4000": 70}, drum_seen="full")


@pytest.fixture
def reception(desk: Desk) -> Desk:
    """The same desk with reception at it."""
    return replace(desk, by=desk_at(desk.store, by="rob").by)


def typed(desk: Desk, ear: Ear = FLUID, **more: Any) -> str:
    """Close a visit as it was typed; return what was said."""
    somebody(desk)
    return close_visit(desk, draft(desk, "W1", Visit(on=DAY, right=ear, **more))).words


def test_it_is_stored_unconfirmed_and_nobody_is_taken_to_have_examined(reception: Desk) -> None:
    words = typed(reception)
    assert "waits for a clinician" in words
    (row,) = rows(reception.store, tables.Visit)
    assert (row["confirmed_at"], row["confirmed_by_id"]) == (None, None)
    assert (row["examiner_id"], row["examiner"]) == (None, None)
    assert waiting(reception).visits == 1
    assert counts(reception).unconfirmed == 1
    assert [p.reference for p in plans(reception)] == ["W1"]
    assert "1 visits wait for a clinician: recall confirm." in announcements(reception)
    said = {(line.part, line.what): line.count for line in register_report(reception, DAY).lines}
    assert said["visits", "not confirmed by a clinician"] == 1


def test_whoever_is_named_examined_and_the_visit_still_waits(reception: Desk) -> None:
    typed(reception, examiner="clara")
    (row,) = rows(reception.store, tables.Visit)
    assert (row["examiner_id"], row["confirmed_at"]) == (1, None)


def test_no_letter_goes_out_until_a_clinician_has_confirmed(desk: Desk, reception: Desk) -> None:
    typed(reception)
    then = on(reception, first_letter_day(reception, 1))
    before = prepare(then)
    assert (before.written, before.unconfirmed) == (0, 1)
    assert all(
        "not confirmed" in " ".join(line.warnings) for line in queue_lines(then, letters=True)
    )
    assert confirm_people(on(desk, then.today), ["W1"]) == 1
    after = prepare(then)
    assert (after.written, after.unconfirmed) == (1, 0)


def test_what_is_urgent_is_acted_on_at_once(reception: Desk) -> None:
    """Its letter to the person is not held, nor its referral; both say that they wait."""
    typed(reception, KERATIN)
    (line,) = referrals(reception, everything=True)
    assert line.urgency == "urgent"
    assert "not confirmed" in " ".join(line.warnings)
    with pytest.raises(Refused, match="address"):  # and for no other reason
        progress.write_letter(reception, line.referral_id, None)


def test_a_referral_that_can_wait_is_not_written_before(desk: Desk, reception: Desk) -> None:
    somebody(reception)
    given = draft(reception, "W1", Visit(on=DAY), VisitNote("refer", ears=("left",)))
    close_visit(reception, given)
    (line,) = referrals(reception, everything=True)
    with pytest.raises(Refused, match="not confirmed"):
        progress.write_letter(reception, line.referral_id, None)
    confirm_people(desk, ["W1"])
    (line,) = referrals(reception, everything=True)
    assert line.warnings == ()
    with pytest.raises(Refused, match="address"):
        progress.write_letter(desk, line.referral_id, None)


def test_a_clinician_who_puts_it_right_confirms_what_stands(desk: Desk, reception: Desk) -> None:
    """The dues keep the number of the visit that asked first, which waits for ever."""
    typed(reception)
    close_visit(desk, correction(desk, 1, Visit(on=DAY, right=FLUID, left=Ear(drum_seen="full"))))
    (row,) = rows(desk.store, tables.Visit)
    assert (row["confirmed_by_id"], row["examiner_id"]) == (1, None)
    assert waiting(desk).visits == 0
    then = on(desk, first_letter_day(desk, 1))
    assert prepare(then).written == 1


def test_reception_that_puts_its_own_visit_right_waits_again(desk: Desk, reception: Desk) -> None:
    typed(reception, examiner="clara")
    confirm_people(desk, ["W1"])
    close_visit(reception, correction(reception, 1, Visit(on=DAY, right=FLUID, left=FLUID)))
    (row,) = rows(desk.store, tables.Visit)
    assert (row["examiner_id"], row["confirmed_at"]) == (1, None)
    assert waiting(desk).visits == 1
    then = on(desk, first_letter_day(desk, 1))
    assert prepare(then).written == 0


def test_what_a_file_says_otherwise_waits_again(desk: Desk, store: Store, tmp_path: Any) -> None:
    """A visit of a file that was confirmed, and comes again changed: what stands is new."""
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    confirm_people(desk, ["P1"])
    take_in(desk, tmp_path, "visits", {**VISIT, "note": "Seen with the mother."})
    assert waiting(desk).visits == 1
    weeks_later = later(desk, 14)
    assert (prepare(weeks_later).written, prepare(weeks_later).unconfirmed) == (0, 1)


def test_who_examined_is_asked_only_where_somebody_else_began(desk: Desk, reception: Desk) -> None:
    assert examined(desk, "clara") == examined(desk, "")
    assert (examined(desk, "clara").by, examined(desk, "clara").ask) == ("clara", ())
    assert (examined(reception, "rob").by, examined(reception, "rob").ask) == (None, ())
    assert [s.handle for s in examined(desk, "rob").ask] == ["clara"]
    assert [s.handle for s in examined(reception, "clara").ask] == ["clara"]
    assert examined(reception, "mina") == examined(reception, "rob")


def test_a_helper_visit_is_the_clinical_leads(store: Store) -> None:
    """The tests' own visits are confirmed, unless a test says otherwise."""
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID)
    visit(desk, somebody(desk, "W2"), confirmed=False, right=FLUID)
    assert waiting(desk).visits == 1
