"""What encryption and signing in cost; run by hand, prints ratios to a floor in the same run.

    python tests/benchmarks/locked.py [PEOPLE]

The floor of encryption is the same work on the same register before it was encrypted; that of
signing in is one check of the same digest by the library of the digest alone.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from argon2 import PasswordHasher
from sqlalchemy import text

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.replanning import mark_everybody, replan
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.signing import hashing, passwords
from recall.desk.worklists import lists
from recall.desk.worklists.day_list import Part
from recall.desk.worklists.queue_lines import queue_lines
from recall.records.database import encrypting, keys
from recall.records.database.backup import make_backup
from recall.records.database.store import Store, open_store
from tests.benchmarks.day import DAY, fill, timed
from tests.conftest import NOW
from tests.desk.practice import desk_at

TIMES = 9
PASSWORD = "a lantern over seven wet stones"


def main() -> None:
    """Print each piece of work, plain and encrypted, and signing in."""
    people = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    with tempfile.TemporaryDirectory() as folder:
        desk = fill(Path(folder) / "register.db", people)
        mark_everybody(desk)
        replan(desk)
        plain = work(desk)
        _sign_in(desk.store)
        desk.store.close()
        keys.use(f"{folder}/key", desk.store.path)
        code = keys.new_code()
        keys.put(code)
        took = timed(lambda: encrypting.rewrite(desk.store.path, code))
        print(f"  {f'encrypting {people} people':<34}{took:10.1f} ms")
        store = open_store(desk.store.path)
        sealed = work(replace(desk_at(store, DAY), config=desk.config))
        store.close()
    for what, took in sealed.items():
        print(f"  {what:<34}{took:10.1f} ms {took / plain[what]:8.2f} times the plain file")


def work(desk: Desk) -> dict[str, float]:
    """Return the milliseconds that pieces of work take."""
    path = desk.store.path
    lines = [x for x in queue_lines(desk, Part(TIMES), letters=True) if x.follow_up_id]
    calls = iter(lines)
    return {
        "opening": timed(lambda: open_store(path).close(), TIMES),
        "the day's list": timed(lambda: queue_lines(desk, Part(50), letters=True), TIMES),
        "a contact": timed(lambda: _call(desk, next(calls)), len(lines)),
        "backup, with its check": timed(lambda: make_backup(path, path.parent / "b", NOW), 3),
        "failsafe": timed(lambda: failsafe.run(desk), 3),
    }


def _call(desk: Desk, line: lists.Line) -> None:
    contacting.log_contact(desk, line.follow_up_id or 0, None, Attempt("phone", "no_answer"))


def _sign_in(store: Store) -> None:
    """Print a sign-in beside one check of the same digest by its library alone."""
    clock = desk_at(store, DAY).clock
    with store.write() as session:
        session.execute(text("UPDATE staff SET role = 'clinical_lead' WHERE handle = 'rob'"))
    passwords.set_first(store, clock, "rob", PASSWORD)
    kept, library = hashing.hashed(PASSWORD), PasswordHasher()
    floor = timed(lambda: library.verify(kept, PASSWORD), TIMES)
    took = timed(lambda: passwords.prove(store, clock, "rob", PASSWORD), TIMES)
    print(f"  {'signing in':<34}{took:10.1f} ms {took / floor:8.2f} times one check of the digest")


if __name__ == "__main__":
    main()
