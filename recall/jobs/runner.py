"""The runner: wakes up at the times of the jobs, and does what the ledger says is due.

It remembers nothing. Waking up at any time does everything that is due, so a machine that was
switched off, a missed wake-up or a restart lose nothing, and two runners double nothing.
"""

from __future__ import annotations

import signal
import sys
import threading
import traceback
from collections.abc import Callable
from types import FrameType

from apscheduler.events import EVENT_JOB_ERROR, JobExecutionEvent
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.blocking import BlockingScheduler
from apscheduler.triggers.base import BaseTrigger
from apscheduler.triggers.combining import OrTrigger
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger

from recall.clock import Clock
from recall.config import WEEKDAYS, Config
from recall.desk.practice.timetable import JOBS, When
from recall.jobs.guard import only_runner
from recall.jobs.running import Ran, run_due
from recall.records.database.servers import shown

LOOK_AGAIN_MINUTES = 10
"""Between the times of the jobs too: what failed is tried again, what went silent taken over."""
Say = Callable[[str], None]


def trigger(when: When, zone: str) -> BaseTrigger:
    """Return what wakes the runner up for a job, in the practice's own time."""
    return CronTrigger(
        day=when.month_day,
        day_of_week=None if when.weekday is None else WEEKDAYS[when.weekday],
        hour=when.at.hour,
        minute=when.at.minute,
        second=0,
        timezone=zone,
    )


def wake_ups(config: Config) -> BaseTrigger:
    """Return every moment at which the runner looks at what is due."""
    zone = config.calendar.time_zone
    looks = IntervalTrigger(minutes=LOOK_AGAIN_MINUTES, timezone=zone)
    return OrTrigger([looks, *(trigger(job.when(config.jobs), zone) for job in JOBS.values())])


class Runner:
    """Does what is due whenever it is woken up; told to stop, it finishes the run in hand."""

    def __init__(self, config: Config, say: Say, clock: Clock | None = None) -> None:
        self.config = config
        self.say = say
        self.clock = clock
        self._stop = threading.Event()

    def stop(self) -> None:
        """Begin nothing more."""
        self._stop.set()

    def wake(self) -> None:
        """Do what is due, and say what came of it."""
        for ran in run_due(self.config, self.clock, stop=self._stop.is_set):
            self.say(said(ran))
            if ran.cause is not None:
                self.say("".join(traceback.format_exception(ran.cause)))


def said(ran: Ran) -> str:
    """Return what came of a run in one line."""
    words = {
        "done": "done",
        "failed": f"FAILED: {ran.error}",
        "with_another": "another runner has it",
        "done_before": "was done before",
    }
    known = {name: _in_words(count) for name, count in ran.counts.items()}
    counts = ", ".join(f"{name.replace('_', ' ')} {said}" for name, said in known.items() if said)
    also = f"; answers for {len(ran.answered)} missed day(s) too" if ran.answered else ""
    told = f" ({counts})" if counts else ""
    return f"{ran.job} for {ran.for_day}: {words[ran.state]}{told}{also}"


def _in_words(count: object) -> str:
    """Return a count as people read it; nothing where there is nothing to tell.

    >>> _in_words(True), _in_words(0), _in_words([]), _in_words(["W1", "W2"])
    ('yes', '0', '', 'W1; W2')
    """
    if isinstance(count, bool):
        return "yes" if count else "no"
    return "; ".join(map(str, count)) if isinstance(count, (list, tuple)) else str(count)


def serve(config: Config, say: Say) -> None:
    """Serve until told to stop by SIGTERM or an interrupt; the run in hand is finished.

    Raises:
        Conflict: another runner serves this register.
    """
    with only_runner(config.files.database):
        runner = Runner(config, say)
        scheduler = _scheduler(config, runner, say)
        signal.signal(signal.SIGTERM, _stopping(runner, scheduler))
        signal.signal(signal.SIGINT, _stopping(runner, scheduler))
        place = shown(config.files.database)
        say(f"Serving {place}. Stop with Ctrl-C; the run in hand is finished.")
        scheduler.start()
    say("Stopped.")


def _scheduler(config: Config, runner: Runner, say: Say) -> BlockingScheduler:
    """Return a scheduler that keeps nothing, and calls the runner one wake-up at a time."""
    scheduler = BlockingScheduler(
        timezone=config.calendar.time_zone,
        executors={"default": ThreadPoolExecutor(1)},
        job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
    )
    at_once = Clock(config.calendar.time_zone).now()
    scheduler.add_job(runner.wake, wake_ups(config), id="wake", next_run_time=at_once)
    scheduler.add_listener(lambda event: _trouble(event, say), EVENT_JOB_ERROR)
    return scheduler


def _trouble(event: JobExecutionEvent, say: Say) -> None:
    """Say what stopped a whole wake-up: the register itself cannot be opened, for one."""
    say(f"The jobs could not be looked at: {event.exception}")


def _stopping(
    runner: Runner, scheduler: BlockingScheduler
) -> Callable[[int, FrameType | None], None]:
    """Return the handler of a signal: stop beginning anything, then let the scheduler end."""

    def handle(_signal: int, _frame: FrameType | None) -> None:
        runner.stop()
        # Ending waits for the run in hand, which a handler of a signal must not do itself.
        threading.Thread(target=scheduler.shutdown, name="stopping").start()

    return handle


def to_stderr(text: str) -> None:
    """Say something on standard error at once; a service's log shows it."""
    print(text, file=sys.stderr, flush=True)
