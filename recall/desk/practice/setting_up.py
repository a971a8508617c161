"""Setting the register up, and bringing it to this program's version."""

from __future__ import annotations

from recall.clock import Clock, is_invented
from recall.config import Config
from recall.desk.core.opening import open_register, refuse_gone
from recall.desk.practice.staff import ensure_jobs
from recall.errors import ConfigError
from recall.exchange.holidays_source import public_holidays
from recall.records.database.store import mark_invented
from recall.records.database.upgrade import Upgraded, upgrade
from recall.records.people.finding import rekey_all


def set_up(config: Config) -> Upgraded:
    """Make the folders and the database, or bring an older one up; nothing else is changed.

    Raises:
        ConfigError: a folder cannot be made, or no holidays are known for the country.
        StorageError: locked, damaged, or newer than this program.
    """
    files, place, clock = config.files, config.calendar, Clock(config.calendar.time_zone)
    refuse_gone(files)
    public_holidays(place.country, place.subdivision, clock.today().year, clock.today().year)
    for folder in (files.database.parent, files.letters, files.backups, files.reports):
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise ConfigError(
                f"The folder {folder} cannot be made: {error.strerror or error}.",
                hint="Choose another in [files], or ask for the rights to it.",
            ) from None
    done = upgrade(config.files.database, config.files.backups, at=clock.now())
    if done.was is None and is_invented():
        mark_invented(config.files.database)
    store = open_register(config.files)
    try:
        ensure_jobs(store)
        if done.was is not None and done.was != done.now:
            with store.write() as session:
                rekey_all(session)
    finally:
        store.close()
    return done
