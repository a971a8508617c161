"""Edges of the register: the day itself, the run after the last shown, the other thread."""

from __future__ import annotations

import gc
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace
from sqlalchemy import func, select, text

from recall.errors import StorageError
from recall.loop import facts as loop
from recall.records import tables
from recall.records.database.backup import make_backup
from recall.records.database.bulk import seldom_collected
from recall.records.database.store import Store
from recall.records.facts.candidates import to_chase
from recall.records.facts.events import facts_for
from recall.records.journal import history, job_ledger
from recall.records.ledger.storing import store_ledger
from recall.records.people.addresses import reachable
from recall.records.people.finding import find, rekey
from tests.conftest import NOW
from tests.records.build import DAY, MADE, WHO, due, ledger, opens, person, referral


def test_a_backup_is_made_though_one_broke_off_at_that_instant(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "register-20260901T090000000000Z.part").write_text("half a copy")
    assert make_backup(register_path, tmp_path / "kept", NOW).rows["staff"] == 4


def test_a_backup_of_a_file_that_is_not_there_is_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="The backup could not be made"):
        make_backup(tmp_path / "none.db", tmp_path / "kept", NOW)


def test_a_backup_into_what_is_no_folder_is_refused_in_words(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    (tmp_path / "kept").write_text("a file")
    with pytest.raises(StorageError, match="The backup could not be made"):
        make_backup(register_path, tmp_path / "kept", NOW)


def test_the_collector_looks_seldom_meanwhile_and_as_usual_afterwards() -> None:
    usual = gc.get_threshold()
    with pytest.raises(ZeroDivisionError), seldom_collected():
        assert gc.get_threshold()[0] >= 50_000
        assert gc.get_threshold()[1:] == usual[1:]
        raise ZeroDivisionError
    assert gc.get_threshold() == usual


def test_one_thread_goes_on_with_what_another_opened(store: Store) -> None:
    """The desk's screens read in threads, from one pool of connections."""

    def staff() -> int | None:
        with store.read() as session:
            return session.scalar(select(func.count()).select_from(tables.Staff))

    with ThreadPoolExecutor(1) as pool:
        assert (staff(), pool.submit(staff).result()) == (4, 4)


def test_a_referral_is_chased_from_its_very_day_on(store: Store) -> None:
    with store.write() as session:
        store_ledger(session, person(session).id, ledger(referrals=(referral(),)), WHO, opens)
        chase_on = date(2026, 9, 4)
        found = [to_chase(session, chase_on + timedelta(days=n)) for n in (-1, 0, 1)]
    assert found == [[], [1], [1]]


def test_a_letter_sent_before_the_register_counts_as_posted_and_a_call_as_a_call(
    store: Store,
) -> None:
    with store.write() as session:
        who = person(session)
        store_ledger(session, who.id, ledger(due()), WHO, opens)
        mine = {"person_id": who.id, "follow_up_id": 1, **MADE}
        session.add_all(
            [
                tables.Contact(step="invitation", channel="letter", outcome="message_sent", **mine),
                tables.Contact(step="phone", channel="text", outcome="message_sent", **mine),
                tables.Contact(step="invitation", channel="phone", outcome="no_answer", **mine),
                tables.FollowUpEvent(follow_up_id=1, what="address_checked", **MADE),
            ]
        )
        session.flush()
        events = facts_for(session, [1])[1].events
        assert [c.step_no for c in session.scalars(select(tables.Contact))] == [0, 0, 0]
        assert session.scalars(select(tables.FollowUp.round)).all() == [1]
    assert {replace(event, recorded_at=None) for event in events} == {
        loop.Posted(on=DAY, kind="invitation", by="letter"),
        loop.Contact(on=DAY, channel="text", outcome="message_sent"),
        loop.Contact(on=DAY, channel="phone", outcome="no_answer"),
        loop.AddressChecked(on=DAY),
    }


def test_what_is_written_after_a_missing_payload_is_whole(store: Store) -> None:
    with store.write() as session:
        for number in (1, 2):
            history.append(session, 1, NOW, "added", "visit", number)
        session.execute(text("DELETE FROM history_payload WHERE history_id = 2"))
        history.append(session, 1, NOW, "added", "visit", 3)
    assert {broken.seq for broken in history.verify(store)} == {2}


def test_a_runner_is_taken_for_dead_after_exactly_its_time(store: Store) -> None:
    given = {"by_id": 4, "runner": "two"}
    with store.write() as session:
        job_ledger.begin(session, "nightly", DAY, by_id=4, at=NOW, runner="one")
        almost = NOW + timedelta(minutes=15) - timedelta(seconds=1)
        assert job_ledger.begin(session, "nightly", DAY, at=almost, **given) is None
        then = NOW + timedelta(minutes=15)
        assert job_ledger.begin(session, "nightly", DAY, at=then, **given) == 1


def test_the_last_thirty_runs_are_shown(store: Store) -> None:
    with store.write() as session:
        for number in range(32):
            day = DAY + timedelta(days=number)
            job_ledger.begin(session, "nightly", day, by_id=4, at=NOW, runner="one")
        shown = [run.for_day for run in job_ledger.runs(session, "nightly")]
    assert shown == [date(2026, 10, 2) - timedelta(days=n) for n in range(30)]


def test_a_telephone_number_is_no_home(store: Store) -> None:
    with store.write() as session:
        person(session)
        number = {"kind": "phone", "raw": "01632 960123", "value": "+441632960123"}
        session.add(tables.ContactPoint(person_id=1, **number, **MADE))
        session.flush()
        assert reachable(session, [1], DAY)[1].person.home is None


def test_a_reference_beside_a_name_is_that_one_first(store: Store) -> None:
    with store.write() as session:
        for ref, given in (("W42", "Ann"), ("W4", "Zoe")):
            rekey(session, [person(session, ref, given_names=given).id])
        assert [found.ref for found in find(session, "marsh w4")] == ["W4", "W42"]


def test_how_somebody_was_found_is_told(store: Store) -> None:
    phone = {"kind": "phone", "raw": "01632 960777", "value": "+441632960777"}
    with store.write() as session:
        who = person(session, family_name="Thompson")
        session.add(tables.ContactPoint(person_id=who.id, **phone, **MADE))
        rekey(session, [who.id])
        said = ("thompson", "thomp", "tomson", "thomqson", "777", "77")
        found = [[each.how for each in find(session, word)] for word in said]
    assert found == [["exact"], ["begins"], ["sounds"], ["near"], ["exact"], []]
