"""Backups are checked, restored on trial once a month, and thinned out by day and month."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from recall.clock import INVENTED
from recall.config import Config
from recall.desk.core.session import open_desk
from recall.desk.oversight.notices import announcements
from recall.jobs.backup import DAYS, FOLDER, MONTHS, WEEKS, thin_out
from recall.jobs.running import run_on
from recall.records.database.backup import check
from recall.records.database.store import mark_invented
from tests.jobs.making import practice_in

DAY = date(2026, 9, 1)


@pytest.fixture
def practice(empty_register: Path, tmp_path: Path) -> Config:
    return practice_in(tmp_path, empty_register)


def stamped(folder: Path, at: datetime, kind: str = "db") -> Path:
    path = folder / f"recall-{at:%Y%m%dT%H%M%S%f}Z.{kind}"
    path.touch()
    return path


def test_a_backup_is_made_checked_and_restored_on_trial_once_a_month(
    practice: Config, monkeypatch: pytest.MonkeyPatch
) -> None:
    mark_invented(practice.files.database)
    monkeypatch.setenv(INVENTED, f"{DAY}T21:00")
    first = run_on(practice, "backup")
    monkeypatch.setenv(INVENTED, f"{DAY + timedelta(days=1)}T21:00")
    second = run_on(practice, "backup")

    assert (first.state, first.counts["restored_on_trial"]) == ("done", True)
    assert second.counts["restored_on_trial"] is False
    files = sorted((practice.files.backups / FOLDER).iterdir())
    assert len(files) == 2
    assert check(files[0])["staff"] >= 4


def test_a_second_place_that_is_none_is_an_alarm_at_once(practice: Config) -> None:
    same = practice.files.backups.parent / "same"
    same.mkdir()
    files = replace(practice.files, backups_elsewhere=same)
    settings = replace(practice, files=files)

    ran = run_on(settings, "backup")

    assert (ran.state, "on the disk of the database itself" in ran.error) == ("failed", True)
    assert len(list((practice.files.backups / FOLDER).iterdir())) == 1
    desk = open_desk(settings, by="mina")
    said = announcements(desk)
    desk.close()
    assert any("failed: The second place" in one for one in said)


def test_old_ones_are_thinned_out_to_days_and_months(tmp_path: Path) -> None:
    start = datetime(2023, 1, 1, 21, tzinfo=UTC)
    for n in range(748):
        stamped(tmp_path, start + timedelta(days=n))
        if n % 7 == 5:  # the last day is one of these
            thin_out(tmp_path, start + timedelta(days=n))

    left = sorted(path.name for path in tmp_path.iterdir())
    last = start + timedelta(days=747)
    assert DAYS < len(left) <= DAYS + WEEKS + MONTHS
    for n in range(DAYS):
        assert any(f"{last - timedelta(days=n):%Y%m%d}" in name for name in left)
    for n in range(WEEKS):
        sunday = last - timedelta(days=last.weekday() + 1 + 7 * n)
        assert any(f"{sunday:%Y%m%d}" in name for name in left) or n == WEEKS - 1
    months = {name[7:13] for name in left}
    assert len(months) == MONTHS


def test_two_of_one_day_come_to_the_newer(tmp_path: Path) -> None:
    at = datetime(2026, 9, 1, 21, tzinfo=UTC)
    old, new = stamped(tmp_path, at), stamped(tmp_path, at + timedelta(minutes=20))
    assert thin_out(tmp_path, at + timedelta(minutes=20)) == [old]
    assert new.exists()


def test_only_our_own_files_are_removed_and_cut_off_pieces_only_when_old(tmp_path: Path) -> None:
    at = datetime(2026, 9, 1, 21, tzinfo=UTC)
    other = tmp_path / "by-hand.db"
    other.touch()
    old, fresh = stamped(tmp_path, at - timedelta(days=2), "part"), stamped(tmp_path, at, "part")

    assert thin_out(tmp_path, at) == [old]
    assert other.exists() and fresh.exists()
