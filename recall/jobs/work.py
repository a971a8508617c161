"""What each job does, and how it says that it is done.

A job whose work is rows ends them and its own entry in one transaction (`Run.done`); one whose
work is a file makes the file so that making it twice is the same as once, and is entered after.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

import msgspec
from sqlalchemy.orm import Session

from recall.desk.session import Desk
from recall.records import job_runs

Counts = dict[str, Any]
Work = Callable[["Run"], Counts]
_MODULES: dict[str, str] = {
    "nightly": "recall.jobs.nightly",
    "letters": "recall.jobs.letters",
    "wax": "recall.jobs.wax",
    "report": "recall.jobs.report",
    "backup": "recall.jobs.backup",
}
_BREATH = timedelta(seconds=60)


@dataclass
class Run:
    """One run in hand: for which intended day, and by which runner."""

    desk: Desk
    job: str
    for_day: date
    id: int
    runner: str
    earlier: tuple[date, ...] = ()
    """Missed days for which this run answers too."""
    is_done: bool = False
    _breathed: datetime | None = field(default=None, repr=False)

    def alive(self) -> None:
        """Give a sign of life, at most once a minute; call it between pieces of work.

        Raises:
            Conflict: the run was taken over meanwhile.
        """
        now = self.desk.now
        if self._breathed is not None and now - self._breathed < _BREATH:
            return
        self._breathed = now
        with self.desk.store.write() as session:
            job_runs.sign_of_life(session, self.id, self.runner, now)

    def progress(self, _done: int, _of: int) -> None:
        """Take the progress of a desk function as a sign of life."""
        self.alive()

    def done(self, session: Session, counts: Counts) -> None:
        """Enter the run as done, inside the transaction that ends its work."""
        at, by_id = self.desk.now, self.desk.by.id
        told = msgspec.json.encode(counts, enc_hook=str).decode()
        job_runs.finish(session, self.id, self.runner, at, told)
        answered = msgspec.json.encode({"answered_by": self.for_day}).decode()
        job_runs.answered(session, self.job, self.earlier, by_id=by_id, at=at, counts=answered)
        self.is_done = True


def work_of(job: str) -> Work:
    """Return what a job does; its libraries are loaded only now."""
    found: Work = importlib.import_module(_MODULES[job]).work
    return found
