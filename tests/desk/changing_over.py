"""A practice with history from a file, and the day on which it went live."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import msgspec

from recall import config
from recall.desk.core.session import Desk
from recall.desk.plans.passing_time import settle
from recall.records.database.store import Store
from tests.desk.files import PERSON, VISIT, desk_with, take_in

LIVE = date(2026, 9, 7)
"""A Monday: the day on which the practice went live, and the desk's day."""
OLD = "2024-03-27"
WORN = {"right_attic_grade": "3", "right_keratin": "yes", "right_scutum_erosion": "yes"}
SEEN = {"right_drum_seen": "full", "right_attic_seen": "yes", "left_drum_seen": "full"}


def live_desk(
    store: Store, folder: Path, on: date = LIVE, by: str = "rob", live: date | None = LIVE
) -> Desk:
    """The desk of a practice that went live on a day."""
    return went_live(desk_with(store, folder, on, by), live)


def went_live(desk: Desk, live: date | None) -> Desk:
    """The same desk, of a practice that went live on another day."""
    changeover = config.Changeover(went_live=live)
    settings = msgspec.structs.replace(desk.config, changeover=changeover)
    used = desk.protocol.used_with(desk.protocol.capabilities, live)
    return replace(desk, config=settings, protocol=used)


def seen_on(day: str, number: str = "V1", **found: str) -> dict[str, str]:
    """A visit row, right ear with fluid and left clear where nothing else is found."""
    row = {**VISIT, "reference": number, "on": day}
    return {**row, **found}


def history(desk: Desk, folder: Path, *days: str, **found: str) -> None:
    """One person for each day, with one visit on it, from files."""
    people = [{**PERSON, "reference": f"P{n}", "phone": f"01632 9603{n:02}"} for n in numbers(days)]
    visits = [
        {**seen_on(day, f"V{n}", **found), "person": f"P{n}"}
        for n, day in zip(numbers(days), days, strict=True)
    ]
    take_in(desk, folder, "people", *people)
    take_in(desk, folder, "visits", *visits)
    settle(desk)


def numbers(days: tuple[str, ...]) -> range:
    """Numbers from 1 on."""
    return range(1, len(days) + 1)
