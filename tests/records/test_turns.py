"""Turns at the write lock: a long run goes on once nobody waits, and never waits for ever.

Where a folder cannot be locked a run only pauses: these are for systems where it can.
"""

import threading
import time
from pathlib import Path

from recall.records.database import turns
from recall.records.database.store import Store

SOON = 0.1


def test_a_run_waits_while_somebody_waits_and_then_goes_on(tmp_path: Path) -> None:
    assert turns.let_pass(tmp_path)
    with turns.waiting(tmp_path), turns.waiting(tmp_path):
        assert not turns.let_pass(tmp_path, SOON)
    assert turns.let_pass(tmp_path, SOON)


def test_a_run_shows_nobody_as_waiting_after_it_let_them_pass(tmp_path: Path) -> None:
    assert turns.let_pass(tmp_path)
    with turns.waiting(tmp_path):
        pass  # would never begin, were the run's own lock kept


def test_a_folder_that_is_gone_keeps_nobody(tmp_path: Path) -> None:
    with turns.waiting(tmp_path / "gone"):
        assert turns.let_pass(tmp_path / "gone", SOON)


def test_a_desk_that_waits_for_the_write_lock_shows_it_until_it_has_it(store: Store) -> None:
    writes, done = threading.Event(), threading.Event()

    def act() -> None:
        with store.write():
            writes.set()
            done.wait(10)

    desk = threading.Thread(target=act)
    with store.write():
        desk.start()
        until = time.monotonic() + 10  # the thread takes a moment to begin
        while turns.let_pass(store.path.parent, 0):
            assert time.monotonic() < until
        assert not writes.is_set()
    assert writes.wait(10)
    assert turns.let_pass(store.path.parent, SOON)  # it writes, and nobody waits
    done.set()
    desk.join(10)
    assert not desk.is_alive()
