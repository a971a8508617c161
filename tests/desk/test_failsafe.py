"""The failsafe: the register is broken in each way that loses somebody, and it is found."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.replanning import refresh
from recall.desk.oversight import failsafe, failsafe_sums, notices
from recall.desk.oversight.alarm import Alarm
from recall.desk.oversight.checked import checked
from recall.desk.oversight.failsafe_kinds import BACKLOG, is_break
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    CLEAR,
    FLUID,
    KERATIN,
    desk_at,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)


@pytest.fixture
def register(store: Store) -> Store:
    """Two people with everything open, on the day of their visit."""
    desk = desk_at(store, by="clara")
    for ref in ("W1", "W2"):
        person_id = somebody(desk, ref)
        visit(desk, person_id, right=FLUID, left=KERATIN)
    return store


def break_with(store: Store, *statements: str) -> None:
    """Do what no part of the program would, past every constraint."""
    with store.engine.connect() as connection:
        raw = connection.connection.driver_connection
        assert raw is not None
        connection.rollback()
        raw.execute("PRAGMA ignore_check_constraints=ON")
        for statement in statements:
            raw.execute(statement)
        raw.execute("PRAGMA ignore_check_constraints=OFF")


def kinds(store: Store, days: int = 0, by: str = "nightly") -> dict[str, int]:
    return failsafe.run(later(desk_at(store, by=by), days)).counts


def test_a_whole_register_has_nothing_to_find(register: Store) -> None:
    report = failsafe.run(desk_at(register, by="nightly"))
    assert (report.people, report.findings) == (2, ())
    assert history_is_whole(register)


def test_a_run_leaves_its_line_in_the_history_with_what_it_found(register: Store) -> None:
    report = failsafe.run(desk_at(register, by="nightly"))

    (line,) = rows(register, tables.History, entity="failsafe_run")
    with register.read() as session:
        told = session.get_one(tables.HistoryPayload, line["id"]).content
    assert (line["what"], line["entity_id"]) == ("ran", report.run_id)
    assert told is not None and '"found":0' in told and '"people":2' in told


def test_nothing_is_found_after_a_visit_that_answers(register: Store) -> None:
    then = later(desk_at(register, by="clara"), 42)
    visit(then, 1, right=CLEAR)
    with register.write() as session:
        refresh(then, session, [1, 2])
    found = failsafe.run(then).findings
    assert {f.kind for f in found} <= {"step_past", "referral_past_chase"}


_LETTER = (
    "INSERT INTO letter (person_id, follow_up_id, round, step, home, kind, language, format, "
    'to_name, to_lines, body, fields, "on", recorded_at, by_id, printed_at) VALUES (1, 1, 1, '
    "'invitation', 1, 'invitation_child', 'en', 'standard', 'x', '[\"x\"]', 'x', '{{}}', "
    "'2026-08-01', '2026-08-01 09:00:00.000000', 1, {printed})"
)
BROKEN: dict[str, tuple[str, ...]] = {
    "not_kept": (
        "DELETE FROM follow_up_due WHERE due_id = 1",
        "DELETE FROM due WHERE id = 1",
    ),
    "closed_unanswered": (
        "UPDATE due SET is_open = 0 WHERE id = 1",
        'INSERT INTO due_event (due_id, what, reason, why, "on", recorded_at, by_id) VALUES '
        "(1, 'closed', 'answered', '', '2026-09-01', '2026-09-01 09:00:00.000000', 1)",
    ),
    "closed_without_reason": ("UPDATE due SET is_open = 0 WHERE id = 1",),
    "not_followed": ("UPDATE follow_up SET is_open = 0, close_reason = 'answered' WHERE id = 1",),
    "referral_not_kept": ("DELETE FROM referral WHERE id = 1",),
    "no_next_step": ("UPDATE follow_up SET next_step_on = NULL WHERE id = 1",),
    "stands_too_late": ("UPDATE follow_up SET next_step_on = '2030-01-01' WHERE id = 1",),
    "stands_otherwise": (
        "UPDATE follow_up SET step = 'phone', next_step_on = '2026-08-01' WHERE id = 1",
    ),
    "letter_not_followed_up": (_LETTER.format(printed="'2026-08-10 09:00:00.000000'"),),
    "letter_must_not_go": (
        _LETTER.format(printed="NULL"),
        "UPDATE person SET deceased_on = '2026-08-31' WHERE id = 1",
    ),
    "cannot_be_contacted": ("UPDATE contact_point SET safe = 'no' WHERE person_id = 1",),
    "referral_past_chase": ("UPDATE referral SET chase_on = NULL WHERE id = 1",),
    "owner_left": (
        "UPDATE visit SET confirmed_by_id = 3 WHERE id = 1",
        "UPDATE staff SET left_on = '2026-08-31' WHERE id = 3",
    ),
    "not_planned": ("INSERT INTO to_plan (person_id) VALUES (1)",),
}


@pytest.mark.parametrize("kind", BROKEN)
def test_each_break_is_found(register: Store, kind: str) -> None:
    break_with(register, *BROKEN[kind])
    assert kinds(register).get(kind, 0) >= 1
    last = failsafe.last(desk_at(register, by="nightly"))
    assert last is not None
    assert kind in last.counts
    assert all(f.person_id in (1, None) for f in last.findings)


def test_a_closing_that_cites_a_voided_visit_does_not_count(register: Store) -> None:
    then = later(desk_at(register, by="clara"), 42)
    seen = visit(then, 1, right=CLEAR)
    break_with(
        register,
        f"UPDATE visit SET void_at = '2026-10-14 09:00:00.000000', void_by_id = 1, "
        f"void_why = 'x' WHERE id = {seen}",
    )
    assert kinds(register, 42).get("closed_unanswered", 0) >= 1


def test_a_step_that_nobody_does_is_found_after_a_week(register: Store) -> None:
    row = open_follow_ups(register, 1)[0]
    desk = later(desk_at(register, by="clara"), 1)
    contacting.log_contact(desk, row["id"], None, Attempt("phone", "worse"))
    assert "step_past" not in kinds(register, 1)
    assert "step_past" in kinds(register, 40)


def test_a_booking_in_the_past_without_an_outcome_is_found(register: Store) -> None:
    row = open_follow_ups(register, 1)[0]
    bookings.book(desk_at(register), row["id"], None, Booking(datetime(2026, 9, 3, 10)))
    assert "booking_without_outcome" not in kinds(register, 2)
    assert kinds(register, 3)["booking_without_outcome"] == 1


def test_a_booking_for_what_a_visit_has_closed_meanwhile_is_found(register: Store) -> None:
    row = open_follow_ups(register, 1)[0]
    bookings.book(
        desk_at(register), row["id"], None, Booking(datetime(2027, 3, 3, 10), why_late="x")
    )
    break_with(
        register,
        f"UPDATE follow_up SET is_open = 0, close_reason = 'answered' WHERE id = {row['id']}",
    )
    assert "booking_for_nothing" not in kinds(register)  # another ask's window holds the day
    break_with(
        register, "UPDATE follow_up SET is_open = 0, close_reason = 'answered' WHERE person_id = 1"
    )
    assert kinds(register)["booking_for_nothing"] == 1


def test_a_referral_is_found_past_its_chase_day_whatever_its_row_says(register: Store) -> None:
    break_with(register, "UPDATE referral SET chase_on = '2030-01-01'")
    assert kinds(register, 60)["referral_past_chase"] >= 2


def test_what_is_found_names_nobody(register: Store) -> None:
    for statements in BROKEN.values():
        try:
            break_with(register, *statements)
        except Exception:  # some breaks exclude others
            continue
    report = failsafe.run(later(desk_at(register, by="nightly"), 90))
    assert report.findings
    assert not any("Thackwell" in f.says or "Rowan" in f.says for f in report.findings)


def test_pages_find_the_same_as_one(register: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    make: Callable[[], failsafe.Report] = lambda: failsafe.run(  # noqa: E731
        later(desk_at(register, by="nightly"), 90)
    )
    whole = make()
    monkeypatch.setattr(failsafe, "PAGE", 1)
    pages = make()
    assert sorted(map(str, whole.findings)) == sorted(map(str, pages.findings))
    assert date(2026, 9, 1) + timedelta(days=90) == pages.on


def test_a_row_that_stands_otherwise_than_the_accounts_count_it_is_found(register: Store) -> None:
    """In either way, for re-checks and for referrals."""
    assert "accounts_differ" not in kinds(register)
    break_with(
        register,
        "UPDATE due SET is_open = 0 WHERE id = 1",
        "UPDATE referral SET is_open = 0, end_reason = 'died', ended_on = '2026-09-01' "
        "WHERE id = 1",
        'INSERT INTO referral_event (referral_id, what, spoke_with, reason, note, "on", '
        "recorded_at, by_id) VALUES (2, 'closed', '', 'died: x', '', '2026-09-01', "
        "'2026-09-01 09:00:00.000000', 1)",
    )
    report = failsafe.run(desk_at(register, by="nightly"))
    found = {(f.entity, f.entity_id) for f in report.findings if f.kind == "accounts_differ"}
    assert found == {("due", 1), ("referral", 2)}


def test_breaks_are_listed_apart_from_backlog_which_is_counted(register: Store) -> None:
    at = later(desk_at(register, by="nightly"), 90)
    failsafe.run(at)
    before = checked(at)
    assert before.breaks == () and before.backlog and before.on == at.today
    assert len(before.shown) == len(before.counted) < len(before.backlog)

    break_with(register, *BROKEN["stands_too_late"])
    failsafe.run(later(at, 1))
    found = checked(later(at, 1))
    (broken,) = [line for line in found.breaks if line.kind == "stands_too_late"]
    assert (broken.reference, broken.is_new, found.gone) == ("W1", True, 0)
    assert broken.urgency
    assert not any(line.is_new for line in found.backlog)

    break_with(register, "UPDATE follow_up SET next_step_on = '2026-09-01' WHERE id = 1")
    failsafe.run(later(at, 2))
    after = checked(later(at, 2))
    assert after.gone == 1
    assert [line for line in after.breaks if line.kind == "stands_too_late"] == []


def test_today_says_in_alarm_what_must_never_be(register: Store) -> None:
    desk = desk_at(register, by="nightly")
    failsafe.run(desk)
    assert not any(isinstance(each, Alarm) for each in notices.announcements(desk))
    break_with(register, *BROKEN["not_followed"])
    failsafe.run(desk)

    (said,) = [each for each in notices.announcements(desk) if isinstance(each, Alarm)]
    assert said == notices.announcements(desk)[0]
    assert "1 September 2026 found 1 that must never be" in said


def test_every_kind_that_is_found_is_a_break_or_is_named_as_backlog() -> None:
    """Derived from the source: a new kind is a break until somebody says otherwise."""
    folder = Path(failsafe.__file__).parent
    text = "".join(path.read_text("utf-8") for path in folder.glob("failsafe_*.py"))
    found = set(re.findall(r'yield "(\w+)"', text)) | {failsafe_sums.KIND}
    assert set(BACKLOG) <= found
    assert {kind for kind in found if is_break(kind)} == found - set(BACKLOG) >= {"not_kept"}
