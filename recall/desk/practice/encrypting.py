"""Encrypting the register, its backups and what is kept of letters; another key; the key on paper.

The key is shown before anything is written with it: whoever loses it has lost the register. No
desk and no job may be open meanwhile. What is cut off half way goes on when it is repeated.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select

from recall.clock import Clock
from recall.config import Config
from recall.desk.core.rights import ROLE_WORDS, Right, has_right
from recall.desk.core.session import staff_member
from recall.desk.post.letter_keys import ENDING
from recall.desk.post.posted_pages import pages_of
from recall.errors import InputError, Refused
from recall.records import tables
from recall.records.database import encrypting, files, keys, sealed
from recall.records.database.kept import stamps
from recall.records.database.store import open_store
from recall.records.journal import history
from recall.records.journal.history import Change

BEGAN, CHANGED, SHOWN = "encryption_began", "key_changed", "key_shown"
"""What the lines of the history say."""


@dataclass(frozen=True)
class Gone:
    """What went over to a key."""

    register: bool
    """Whether there was a register: otherwise the next one is made with the key."""
    backups: int
    letters: int


def key_for(config: Config, by: str) -> str:
    """Return the key to show before `begin` or `change`: a new one, or that of a run cut off.

    Raises:
        Refused: nothing is set, or whoever asks may not.
        StorageError: the libraries for it are not installed.
    """
    _refuse_not_set()
    files.cipher()  # said before a key is shown and kept that nothing could use
    sealed.ciphers()
    if config.files.database.exists():
        _member(config, by)
    if keys.is_typed() or not keys.exist():
        return keys.new_code()
    unfinished = files.is_plain(config.files.database) or len(keys.codes()) > 1
    return keys.codes()[0] if unfinished else keys.new_code()


def begin(config: Config, by: str, code: str) -> Gone:
    """Encrypt a register with a key that was shown, or keep the key for one to be made.

    Raises:
        Refused: it is encrypted, somebody has it open, or whoever says so may not.
    """
    _refuse_not_set()
    database = config.files.database
    if database.exists() and not files.is_plain(database):
        raise Refused(
            "The register is encrypted already.",
            hint="recall encryption change gives it a new key.",
        )
    keys.put(keys.checked(code))
    if not database.exists():
        return Gone(False, 0, 0)
    return _over(config, by, code, BEGAN)


def change(config: Config, by: str, code: str) -> Gone:
    """Give the register, its backups and what is kept of letters a new key that was shown.

    Raises:
        Refused: it is not encrypted, somebody has it open, or whoever says so may not.
    """
    _refuse_not_encrypted(config)
    _member(config, by)
    before = keys.codes()[-1]  # of a change that was cut off: backups may still wait for it
    keys.put(keys.checked(code), before=before if before != code else "")
    done = _over(config, by, code, CHANGED)
    keys.put(code)
    return done


def show(config: Config, by: str) -> str:
    """Return the key, for paper that is locked away; that it was shown is kept.

    Raises:
        Refused: it is not encrypted, or whoever asks may not.
    """
    _refuse_not_encrypted(config)
    _note(config, by, SHOWN, {})
    return keys.codes()[0]


def enter(config: Config, typed: str) -> None:
    """Keep a key that comes from paper where the settings say.

    Raises:
        Refused: nothing is set, or it is typed each time.
        InputError: it is no key, or not this register's.
    """
    _refuse_not_set()
    if keys.is_typed():
        raise Refused(
            "The key is typed each time here: it is kept nowhere.",
            hint="Under [encryption] the settings can name a file or the keyring.",
        )
    code = keys.checked(typed)
    database = config.files.database
    if database.exists() and not encrypting.fits(database, code):
        raise InputError(
            "That key does not open the register.", hint="Nothing was changed; try the other paper."
        )
    keys.put(code)


def _over(config: Config, by: str, code: str, what: str) -> Gone:
    """Let everything go over to a key, the register first; note it in its history."""
    member_may = _member(config, by)
    try:
        encrypting.rewrite(config.files.database, code)
    except sqlite3.OperationalError as error:
        if "locked" not in str(error):
            raise
        raise Refused(
            "A desk or a job has the register open.", hint="Close them all, then repeat."
        ) from None
    backups = sum(encrypting.rewrite(path, code) for path in _copies(config))
    letters = _letters(config)
    _note(config, member_may, what, {"backups": backups, "letters": letters})
    return Gone(True, backups, letters)


def _copies(config: Config) -> Iterator[Path]:
    """Give every backup in the folders of the settings, and what a restore left beside."""
    place = config.files
    for folder in (place.backups, place.backups_elsewhere):
        if folder is not None and folder.is_dir():
            for each in (folder, *(one for one in folder.iterdir() if one.is_dir())):
                yield from stamps(each)
    yield from place.database.parent.glob(f"{place.database.stem}-before-restore-*")


def _letters(config: Config) -> int:
    """Seal what is kept of letters; return how many files."""
    folder, count = config.files.letters, 0
    for path in sorted((*folder.glob(f"*{ENDING}"), *folder.rglob(f"*{sealed.ENDING}"))):
        sealed.reseal(path)
        count += 1
    store = open_store(config.files.database)
    try:
        with store.read() as session:
            b = tables.Batch
            posted = session.scalars(select(b.file_name).where(b.posted_on.is_not(None))).all()
    finally:
        store.close()
    return count + sum(sealed.seal_page(p) for name in posted for p in pages_of(folder, name or ""))


def _member(config: Config, by: str) -> str:
    """Return who acts, if they may."""
    store = open_store(config.files.database)
    try:
        member = staff_member(store, by, Clock(config.calendar.time_zone).today())
    finally:
        store.close()
    if not has_right(member.role, Right.HOLD_KEY):
        raise Refused(f"{by} ({ROLE_WORDS[member.role]}) may not {Right.HOLD_KEY}.")
    return by


def _note(config: Config, by: str, what: str, now: dict[str, int]) -> None:
    _member(config, by)
    clock = Clock(config.calendar.time_zone)
    store = open_store(config.files.database)
    try:
        member = staff_member(store, by, clock.today())
        with store.write() as session:
            line = Change(what, "register", 1, now=now)
            history.append_all(session, member.id, clock.now(), [line])
    finally:
        store.close()


def _refuse_not_set() -> None:
    if not keys.is_set():
        raise Refused(
            "The settings do not say where a key is to be kept.",
            hint='Write key = "keyring", a file or "ask" under [encryption] in recall.toml.',
        )


def _refuse_not_encrypted(config: Config) -> None:
    _refuse_not_set()
    if not config.files.database.exists() or files.is_plain(config.files.database):
        raise Refused("The register is not encrypted.", hint="recall encryption begin does it.")
