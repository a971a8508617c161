"""The invented practice, set up in a folder that is thrown away afterwards.

Nobody in it is real. It goes through the very functions that a real practice's files go
through, so that what one sees is what the program does.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import recall
from recall.clock import Clock
from recall.config import FILE_NAME, load
from recall.desk.core.replanning import replan
from recall.desk.core.rights import Role
from recall.desk.core.session import JOBS, StaffRow, open_desk
from recall.desk.imports.importing import IMPORTERS, import_file
from recall.desk.plans.passing_time import settle
from recall.desk.practice.setting_up import set_up
from recall.desk.practice.staff import add_staff
from recall.errors import StorageError
from recall.records.database.store import mark_invented

ON = date(2026, 9, 7)
"""The day on which it is set: the last one that its files know."""
STAFF = (
    StaffRow(0, "quill", "A. Quill", Role.CLINICAL_LEAD, "Ear care practitioner"),
    StaffRow(0, "osei", "M. Osei", Role.PRACTITIONER, "Ear care practitioner"),
    StaffRow(0, "thackray", "R. Thackray", Role.RECEPTION),
    StaffRow(0, "lund", "I. Lund", Role.MANAGER),
)
WHO = "thackray"
Say = Callable[[str], None]
Progress = Callable[[int, int], None]


def source() -> Path:
    """Return the folder of the invented practice's files, in a checkout or installed."""
    package = Path(recall.__file__).resolve().parent
    for folder in (package / "_demo", package.parent / "demo" / "practice"):
        if (folder / FILE_NAME).is_file():
            return folder
    raise StorageError(
        "The invented practice is missing from this installation.",
        hint="Install the program again.",
    )


def make(folder: Path, say: Say, progress: Progress | None = None) -> Path:
    """Set the practice up in an empty folder and return its configuration file."""
    path = lay_out(folder)
    fill(path, say, progress)
    return path


def lay_out(folder: Path) -> Path:
    """Copy the practice's files into a folder and return the configuration file."""
    for file in source().iterdir():
        if file.suffix in (".csv", ".toml"):
            shutil.copyfile(file, folder / file.name)
    return folder / FILE_NAME


def fill(path: Path, say: Say, progress: Progress | None = None) -> None:
    """Make the register of a configuration file, from the files that lie beside it."""
    config = load(path)
    set_up(config)
    mark_invented(config.files.database)
    _take_on_staff(path)
    desk = open_desk(config, by=WHO, clock=Clock.at(ON))
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
    _confirm(path, say)


def _take_on_staff(path: Path) -> None:
    desk = open_desk(load(path), by=JOBS, clock=Clock.at(ON))
    try:
        by = None
        for member in STAFF:
            add_staff(desk.store, Clock.at(ON), member, by=by)
            by = by or member.handle
    finally:
        desk.close()


def _confirm(path: Path, say: Say) -> None:
    """Let the clinician confirm what the files planned."""
    from recall.desk.plans.confirming import confirm_all, waiting

    say("Confirming the plans")
    desk = open_desk(load(path), by=STAFF[0].handle, clock=Clock.at(ON))
    try:
        confirm_all(desk, waiting(desk).visits)
    finally:
        desk.close()
