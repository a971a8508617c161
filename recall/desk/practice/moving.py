"""Moving a register to another database: copied whole, proven to be the same, told on both sides.

From a file to a server, back, or to another of its kind. The old register stays as it was; what
lies beside it says where the new one is.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import msgspec

from recall.clock import Clock
from recall.config import Config, Files
from recall.desk.core.rights import ROLE_WORDS, Right, has_right
from recall.desk.core.session import Desk, open_by_name
from recall.desk.worklists.day_list import on_list
from recall.desk.worklists.referral_list import referrals
from recall.errors import Refused, StorageError
from recall.records.database import alone, moved, moving, servers
from recall.records.database.store import is_blank
from recall.records.journal import head_file, history
from recall.records.journal.history import Change
from recall.server_address import part_address

MOVED = "moved"
"""What the line of the history says that is the first one after a move."""
SAMPLE = (-365, -91, -28, -7, -1, 0, 1, 7, 28, 91)
"""The days on which both are asked who is due for what, counted from today."""


@dataclass(frozen=True)
class Done:
    """What was copied, and what was found equal."""

    rows: dict[str, int]
    lines: int
    """Of the history, each verified in both."""
    asks: int
    """Open follow-ups and referrals compared, day by day."""
    old: str
    new: str


def files_at(files: Files, place: str, folder: Path) -> Files:
    """Return the same files with the register at another place, written as in the settings.

    Raises:
        ConfigError: it is no address that can be used.
    """
    said = {"database": place}
    part_address(said, "The place")
    path = folder / Path(said["database"]).expanduser()
    return msgspec.structs.replace(files, database=path, server=said.get("server", ""))


def move_to(config: Config, target: Files, by: str) -> Done:
    """Copy a register into an empty database, and prove it.

    Args:
        config: the practice's settings, with the register as it is.
        target: the same files, with the register where it is to go.
        by: who says so.

    Raises:
        Refused: they may not, somebody has it open, or something is there already.
        StorageError: the copy is not the register; nothing is left of it then.
    """
    clock = Clock(config.calendar.time_zone)
    servers.use(target.server, target.database)
    new = msgspec.structs.replace(config, files=target)
    _refuse_full(target)
    with _opened(config, by, clock) as desk:
        if not has_right(desk.by.role, Right.MOVE):
            raise Refused(f"{by} ({ROLE_WORDS[desk.by.role]}) may not {Right.MOVE}.")
    with _alone(config, by, clock) as desk, desk.store.write():
        with _or_nothing(target):
            done = _copied(desk, new, by)
        with desk.store.read() as session:
            number, digest = head_file.head(session)
        said = moved.Moved(done.new, desk.now.isoformat(), number, digest)
        moved.mark(config.files.database, said)
    return done


def _copied(desk: Desk, new: Config, by: str) -> Done:
    """Copy, prove and write the line that says so."""
    place, old = new.files.database, servers.shown(desk.store.path)
    rows = moving.copy(desk.store.engine, place)
    moved.path_of(place).unlink(missing_ok=True)  # of a move away from here, long ago
    head_file.begin_anew(place)
    with _opened(new, by, desk.clock) as there:
        lines, asks = _prove(desk, there, rows)
        now = {"from": old, "rows": sum(rows.values()), "head": lines}
        with there.store.write() as session:
            line = Change(MOVED, "register", 1, now=now)
            history.append_all(session, there.by.id, there.now, [line])
    return Done(rows, lines, asks, old, servers.shown(place))


def _prove(here: Desk, there: Desk, rows: dict[str, int]) -> tuple[int, int]:
    """Return the lines of the history and how many asks were found equal in both.

    Raises:
        StorageError: something differs.
    """
    _same("rows", rows, moving.counts(there.store.engine))
    _same("rows", moving.counts(here.store.engine), rows)
    _same("the history is whole", (), history.verify(there.store))
    heads = [_head(desk) for desk in (here, there)]
    _same("the end of the history", *heads)
    asks = 0
    for days in SAMPLE:
        each = [_open_on(desk, days) for desk in (here, there)]
        _same(f"who is due {days} days from today", *each)
        asks += len(each[0])
    return heads[0][0], asks


def _head(desk: Desk) -> tuple[int, str]:
    with desk.store.read() as session:
        return head_file.head(session)


def _open_on(desk: Desk, days: int) -> list[Any]:
    """Return how everything that is open stands on a day."""
    then = replace(desk, clock=desk.clock.acting_for(desk.today + timedelta(days=days)))
    with then.store.read() as session:
        followed = on_list(then, session, "open")
    return [*followed, *referrals(then, everything=True)]


def _same(what: str, here: object, there: object) -> None:
    if here != there:
        raise StorageError(
            f"The copy is not the register: {what} differ.",
            hint="Nothing is left of it, and the register is as it was; report this.",
        )


def _refuse_full(target: Files) -> None:
    """Refuse a place where something is."""
    path = target.database
    full = not is_blank(path) if target.server else path.exists()
    if full or not path.parent.is_dir():
        what = "is not empty" if full else "lies in no folder"
        raise Refused(
            f"{servers.shown(path)} {what}.",
            hint="Nothing was changed; name an empty database, or a new file in a folder.",
        )


@contextmanager
def _opened(config: Config, by: str, clock: Clock) -> Iterator[Desk]:
    desk = open_by_name(config, by, clock)
    try:
        yield desk
    finally:
        desk.close()


@contextmanager
def _alone(config: Config, by: str, clock: Clock) -> Iterator[Desk]:
    """Give the desk at a register that nobody else has open, whose every row can be read."""
    with _opened(config, by, clock) as desk:
        desk.store.engine.dispose()
        alone.refuse_open(desk.store.path)
        desk.store.look_through()
        if desk.store.left_out:
            raise Refused(
                f"Rows that cannot be read are not moved: {', '.join(desk.store.left_out)}.",
                hint="Nothing was changed; put them right from a backup first.",
            )
        yield desk


@contextmanager
def _or_nothing(target: Files) -> Iterator[None]:
    """Leave nothing of a copy that could not be finished or proven."""
    try:
        yield
    except BaseException:
        moving.take_away(target.database)
        head_file.begin_anew(target.database)
        raise
