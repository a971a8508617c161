"""A practice's own configuration and register in a folder, and jobs that only count."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec

from recall import config
from recall.clock import Clock
from recall.desk.practice.setting_up import set_up
from tests import registers
from tests.desk.practice import PRACTICE

ZONE = "Europe/London"


def practice_in(folder: Path, register: Path | None = None) -> config.Config:
    """The invented practice with all its files in a folder, set up."""
    files = config.Files(
        database=folder / "recall.db",
        letters=folder / "letters",
        backups=folder / "backups",
        reports=folder / "reports",
        papers=folder / "papers",
        sign_off=folder / "protocol.signed.toml",
    )
    if register is not None:
        registers.copy(register, files.database)
    made = msgspec.structs.replace(PRACTICE, files=files)
    set_up(made)
    return made


def clock_at(day: date, hour: int = 23, minute: int = 0) -> Clock:
    """The practice's clock, standing at a time of a day."""
    return Clock(ZONE, datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZoneInfo(ZONE)))
