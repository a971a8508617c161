"""The night's backup: made, checked, once a month restored on trial; old ones thinned out.

Kept are the newest of each of the last `DAYS` days that have one, and the newest of each of
the last `MONTHS` months. Nothing is removed before a newer one has passed its checks.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path

from recall.desk.practice.job_runs import Counts, Run
from recall.records.database.backup import make_backup, rehearse

FOLDER = "nightly"
"""Below the backups' folder, so that those made by hand or by an upgrade are left alone."""
DAYS = 14
MONTHS = 24
_STAMPED = re.compile(r"-(\d{8}T\d{12})Z\.(db|part)$")


def work(run: Run) -> Counts:
    """Make the backup and thin out the older ones; two of one day come to one."""
    desk = run.desk
    folder = desk.config.files.backups / FOLDER
    had = {f"{stamp:%Y-%m}" for stamp in _stamps(folder).values()}
    made = make_backup(desk.store.path, folder, desk.now)
    run.alive()
    month_is_new = f"{desk.now:%Y-%m}" not in had
    if month_is_new:
        rehearse(made.path)
    gone = thin_out(folder, desk.now)
    return {
        "file": made.path.name,
        "rows": sum(made.rows.values()),
        "restored_on_trial": month_is_new,
        "removed": len(gone),
    }


def thin_out(folder: Path, now: datetime) -> list[Path]:
    """Remove what is not to be kept any more, and pieces of backups that were cut off."""
    stamps = _stamps(folder)
    newest_first = sorted(stamps, key=lambda path: stamps[path], reverse=True)
    by_day: dict[str, Path] = {}
    by_month: dict[str, Path] = {}
    for path in newest_first:
        by_day.setdefault(f"{stamps[path]:%Y-%m-%d}", path)
        by_month.setdefault(f"{stamps[path]:%Y-%m}", path)
    kept = {*list(by_day.values())[:DAYS], *list(by_month.values())[:MONTHS]}
    gone = [path for path in newest_first if path not in kept]
    gone += [path for path, at in _stamps(folder, "part").items() if now - at > timedelta(days=1)]
    for path in gone:
        path.unlink(missing_ok=True)
    return gone


def _stamps(folder: Path, kind: str = "db") -> dict[Path, datetime]:
    """Return the files of ours with the instant in their names."""
    found: dict[Path, datetime] = {}
    for path in folder.glob(f"*.{kind}"):
        told = _STAMPED.search(path.name)
        if told:
            found[path] = datetime.strptime(told[1] + "+0000", "%Y%m%dT%H%M%S%f%z")
    return found
