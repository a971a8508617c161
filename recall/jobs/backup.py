"""The night's backup: made, checked, copied elsewhere, once a month restored on trial.

Kept are the newest of each of the last `DAYS` days that have one, of each of the last `WEEKS`
weeks and of each of the last `MONTHS` months. Nothing is removed before a newer one has passed
its checks.
"""

from __future__ import annotations

import tempfile
from datetime import datetime, timedelta
from pathlib import Path

from recall.desk.practice.erasing import spread_lists
from recall.desk.practice.job_runs import Counts, Run
from recall.records.database.backup import copy_elsewhere, make_backup
from recall.records.database.kept import stamps
from recall.records.database.restoring import aside

FOLDER = "nightly"
"""Below the backups' folder, so that those made by hand or by an upgrade are left alone."""
DAYS = 14
WEEKS = 9
MONTHS = 24


def work(run: Run) -> Counts:
    """Make the backup and thin out the older ones; two of one day come to one."""
    desk = run.desk
    folder = desk.config.files.backups / FOLDER
    had = {f"{stamp:%Y-%m}" for stamp in stamps(folder).values()}
    made = make_backup(desk.store.path, folder, desk.now)
    run.alive()
    month_is_new = f"{desk.now:%Y-%m}" not in had
    if month_is_new:
        with tempfile.TemporaryDirectory() as scratch, aside(made.path, Path(scratch) / "trial.db"):
            run.alive()
    gone = thin_out(folder, desk.now)
    elsewhere = desk.config.files.backups_elsewhere
    if elsewhere is not None:
        copy_elsewhere(made.path, elsewhere, desk.store.path)
        gone += thin_out(elsewhere, desk.now)
    spread_lists(desk)
    return {
        "file": made.path.name,
        "rows": sum(made.rows.values()),
        "restored_on_trial": month_is_new,
        "removed": len(gone),
        "elsewhere": elsewhere is not None,
    }


def thin_out(folder: Path, now: datetime) -> list[Path]:
    """Remove what is not to be kept any more, and pieces of backups that were cut off."""
    stamped = stamps(folder)
    newest_first = sorted(stamped, key=lambda path: stamped[path], reverse=True)
    by_day: dict[str, Path] = {}
    by_week: dict[tuple[int, int], Path] = {}
    by_month: dict[str, Path] = {}
    for path in newest_first:
        by_day.setdefault(f"{stamped[path]:%Y-%m-%d}", path)
        by_week.setdefault(stamped[path].isocalendar()[:2], path)
        by_month.setdefault(f"{stamped[path]:%Y-%m}", path)
    kept = {*list(by_day.values())[:DAYS], *list(by_week.values())[:WEEKS]}
    kept |= set(list(by_month.values())[:MONTHS])
    gone = [path for path in newest_first if path not in kept]
    gone += [path for path, at in stamps(folder, "part").items() if now - at > timedelta(days=1)]
    for path in gone:
        path.unlink(missing_ok=True)
    return gone
