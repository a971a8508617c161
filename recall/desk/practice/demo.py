"""The invented practice, set up in a folder that is thrown away afterwards.

Nobody in it is real. It goes through the very functions that a real practice's files go
through, so that what one sees is what the program does.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

from recall.clock import Clock
from recall.config import FILE_NAME, load
from recall.desk.core.replanning import replan
from recall.desk.core.rights import Role
from recall.desk.core.session import JOBS, StaffRow, open_desk
from recall.desk.imports.importing import IMPORTERS, import_file
from recall.desk.plans.passing_time import settle
from recall.desk.practice.demo_files import WRITTEN_FOR, lay_out_for_today
from recall.desk.practice.setting_up import set_up
from recall.desk.practice.staff import add_staff
from recall.records.database.store import mark_invented

ON = WRITTEN_FOR
"""The day on which it is set where nobody says otherwise."""
STAFF = (
    StaffRow(0, "quill", "A. Quill", Role.CLINICAL_LEAD, "Ear care practitioner"),
    StaffRow(0, "osei", "M. Osei", Role.PRACTITIONER, "Ear care practitioner"),
    StaffRow(0, "thackray", "R. Thackray", Role.RECEPTION),
    StaffRow(0, "lund", "I. Lund", Role.MANAGER),
)
WHO = "thackray"
Say = Callable[[str], None]
Progress = Callable[[int, int], None]


def make(
    folder: Path, today: date, say: Say, progress: Progress | None = None
) -> tuple[Path, date]:
    """Set the practice up in an empty folder; return its configuration file and its day."""
    on = lay_out_for_today(folder, today)
    path = folder / FILE_NAME
    fill(path, say, progress, on)
    return path, on


def fill(path: Path, say: Say, progress: Progress | None = None, on: date = ON) -> None:
    """Make the register of a configuration file, from the files that lie beside it.

    What is made is made at the beginning of the day, so that nothing lies ahead of a first look.
    """
    clock = Clock.at(on, hour=0)
    config = load(path)
    set_up(config)
    mark_invented(config.files.database)
    _take_on_staff(path, clock)
    desk = open_desk(config, by=WHO, clock=clock)
    try:
        for kind in IMPORTERS:
            file = path.with_name(f"{kind}.csv")
            if not file.is_file():
                continue
            say(f"Taking in {kind}")
            import_file(desk, file, kind, progress)
        say("Working out who is due")
        replan(desk, progress)
        settle(desk)
    finally:
        desk.close()
    _confirm(path, clock, say)


def _take_on_staff(path: Path, clock: Clock) -> None:
    desk = open_desk(load(path), by=JOBS, clock=clock)
    try:
        by = None
        for member in STAFF:
            add_staff(desk.store, clock, member, by=by)
            by = by or member.handle
    finally:
        desk.close()


def _confirm(path: Path, clock: Clock, say: Say) -> None:
    """Let the clinician confirm what the files planned."""
    from recall.desk.plans.confirming import confirm_all, waiting

    say("Confirming the plans")
    desk = open_desk(load(path), by=STAFF[0].handle, clock=clock)
    try:
        found = waiting(desk)
        confirm_all(desk, found.visits, len(found.alarms))
    finally:
        desk.close()
