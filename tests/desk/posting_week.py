"""A practice with its own folders around a test's register, and its weekly post."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from recall.config import Config, Files
from recall.desk.core.session import Desk
from recall.desk.post.batches import prepare
from recall.desk.post.posting import mark_posted
from recall.desk.post.printing import print_batch
from recall.records.database.store import Store
from tests.desk.practice import DAY, PRACTICE, desk_at

INVITED = DAY + timedelta(days=14)


def settings_around(store: Store, folder: Path) -> Config:
    """Return a practice's settings around this test's register."""
    files = Files(
        database=store.path,
        letters=folder / "letters",
        backups=folder / "backups",
        reports=folder / "reports",
        sign_off=folder / "signed.toml",
    )
    return Config(practice=PRACTICE.practice, files=files)


def at_desk(store: Store, config: Config, on: date = DAY, by: str = "clara") -> Desk:
    """A desk that prints into the practice's folder."""
    return replace(desk_at(store, on, by), config=config)


def weekly_post(desk: Desk) -> int:
    """Write, print and post the week's letters; return how many were printed."""
    made = prepare(desk)
    if made.batch_id is None or not made.written:
        return 0
    printed = print_batch(desk, made.batch_id)
    mark_posted(desk, printed.number)
    return printed.letters
