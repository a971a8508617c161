"""A job runs once for a day, however many runners there are, and is taken over from a dead one."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from recall.errors import Conflict
from recall.records.database.store import Store, open_store
from recall.records.journal import job_ledger
from tests.conftest import NOW
from tests.records.build import DAY

LATER = NOW + timedelta(minutes=5)
MUCH_LATER = NOW + timedelta(hours=1)


def begin(store: Store, at: datetime = NOW, runner: str = "one") -> int | None:
    with store.write() as session:
        return job_ledger.begin(session, "nightly", DAY, by_id=4, at=at, runner=runner)


def test_a_job_is_claimed_once(store: Store) -> None:
    assert (begin(store), begin(store, LATER, "two")) == (1, None)


def test_of_many_runners_at_once_one_gets_the_job(register_path: Path) -> None:
    def runner(number: int) -> int | None:
        store = open_store(register_path)
        got = begin(store, runner=str(number))
        store.close()
        return got

    with ThreadPoolExecutor(4) as pool:
        got = list(pool.map(runner, range(4)))

    assert sorted(got, key=str) == [1, None, None, None]


def test_a_finished_job_is_never_run_again_for_its_day(store: Store) -> None:
    run = begin(store)
    with store.write() as session:
        job_ledger.finish(session, run or 0, "one", LATER, '{"letters": 3}')

    assert begin(store, MUCH_LATER) is None
    with store.read() as session:
        assert job_ledger.last_done(session, "nightly") == DAY
        assert [(r.state, r.counts) for r in job_ledger.runs(session, "nightly")] == [
            ("done", '{"letters": 3}')
        ]


def test_a_failed_job_is_tried_again(store: Store) -> None:
    run = begin(store)
    with store.write() as session:
        job_ledger.fail(session, run or 0, "one", LATER, "follow-up 7 has no address")

    assert begin(store, LATER, "two") == run
    with store.read() as session:
        assert [(r.tries, r.runner, r.error) for r in job_ledger.runs(session, "nightly")] == [
            (2, "two", "")
        ]


def test_a_job_whose_runner_went_silent_is_taken_over(store: Store) -> None:
    run = begin(store)

    assert begin(store, MUCH_LATER, "two") == run


def test_a_sign_of_life_keeps_the_job(store: Store) -> None:
    run = begin(store)
    with store.write() as session:
        job_ledger.sign_of_life(session, run or 0, "one", MUCH_LATER - timedelta(minutes=1))

    assert begin(store, MUCH_LATER, "two") is None


def test_a_runner_that_was_taken_for_dead_can_finish_nothing(store: Store) -> None:
    run = begin(store) or 0
    begin(store, MUCH_LATER, "two")

    with pytest.raises(Conflict, match="taken over"), store.write() as session:
        job_ledger.finish(session, run, "one", MUCH_LATER)

    with store.read() as session:
        assert [r.state for r in job_ledger.runs(session, "nightly")] == ["running"]


def test_one_run_answers_for_the_days_that_were_missed_before_it(store: Store) -> None:
    failed = begin(store) or 0
    with store.write() as session:
        job_ledger.fail(session, failed, "one", LATER, "the disk is full")
    missed = [DAY, DAY + timedelta(days=1)]

    for _ in range(2):
        with store.write() as session:
            job_ledger.answered(session, "nightly", missed, by_id=4, at=LATER, counts="{}")

    with store.read() as session:
        assert job_ledger.days_done(session, "nightly") == (DAY, frozenset(missed))
        assert len(job_ledger.runs(session, "nightly")) == 2
