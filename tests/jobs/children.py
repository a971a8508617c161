"""Runners in processes of their own, which can be made to die at a commit as by a power cut."""

from __future__ import annotations

import multiprocessing
import os
import signal
from datetime import date
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event
from sqlalchemy.orm import Session

from recall.config import load
from recall.jobs.running import run_due
from tests.jobs.making import clock_at

_METHODS = multiprocessing.get_all_start_methods()
PROCESSES: Any = multiprocessing.get_context("fork" if "fork" in _METHODS else "spawn")


def start(file: Path, day: date, die: tuple[str, int] | None = None) -> tuple[BaseProcess, Any]:
    """Start a runner; return it, and what gives the runs it did."""
    told = PROCESSES.SimpleQueue()
    process = PROCESSES.Process(target=_run, args=(file, day, die, told))
    process.start()
    return process, told


def _run(file: Path, day: date, die: tuple[str, int] | None, told: Any) -> None:
    if die is not None:
        _die_at(*die)
    done = run_due(load(file), clock_at(day))
    told.put([(ran.job, ran.for_day, ran.state) for ran in done])


def _die_at(when: str, count: int) -> None:
    """Arrange the end just before or after a commit; what only reads is rolled back."""
    seen = 0

    def die(*_: object) -> None:
        nonlocal seen
        seen += 1
        if seen == count:
            os.kill(os.getpid(), signal.SIGKILL)

    if when == "before":
        event.listen(Engine, "commit", die)
    else:
        event.listen(Session, "after_commit", die)
