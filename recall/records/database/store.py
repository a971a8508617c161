"""The open register: one engine, a way to read and a way to write.

A session belongs to one piece of work in one thread: open it there, close it there, and let
only frozen row views leave.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session, sessionmaker
from sqlalchemy.orm.exc import StaleDataError

from recall.errors import Conflict, Refused, StorageError
from recall.records.database import servers, turns, where
from recall.records.database.engine import desk_engine, number_on, storage_error, writing
from recall.records.database.odd import OddRow, Unreadable, is_odd

ASIDE = "aside"
"""Under which a session that writes knows whose rows it must not read."""
_INVENTED = text("SELECT invented FROM register")


@dataclass(frozen=True)
class Store:
    """The register, open for reading and, unless a newer program made it, for writing."""

    engine: Engine
    path: Path
    is_newer: bool = False
    invented: bool = False
    """Whether it was begun with a made-up time, for an invented practice."""
    ahead: str = ""
    """The day that is looked at, where it has not come yet: nothing is written for it."""

    aside: dict[int, OddRow] = field(default_factory=dict)
    """Whose record cannot be read, and which row: found when it was to be read."""

    @cached_property
    def _reading(self) -> sessionmaker[Session]:
        """What makes sessions that read: made once, for it costs more than a small question."""
        return _sessions(self.engine)

    @contextmanager
    def read(self) -> Iterator[Session]:
        """Give a session that reads one state of the register; nothing it changes is kept.

        Raises:
            Unreadable: somebody's row cannot be read: the next session leaves them out.
        """
        with in_words(), self._reading() as session:
            if self.aside:
                from recall.records.database import set_aside

                set_aside.leave_out(session.connection(), self.aside)
            try:
                yield session
            except Exception as error:
                if is_odd(error):
                    self._set_aside(error, known=self.aside)
                raise

    def look_through(self) -> None:
        """Read every row of everybody, and set aside those whose rows cannot be read.

        A list, a count or a comparison in the database may pass by such a row without a word.
        """
        from recall.records.database import set_aside

        with in_words(), self.engine.connect() as connection:
            self.aside.update(set_aside.unreadable(connection))

    @property
    def left_out(self) -> tuple[str, ...]:
        """Return whose record cannot be read, each with the row."""
        return tuple(map(str, self.aside.values()))

    def not_found(self, asked: Iterable[object]) -> Unreadable | None:
        """Return what is to be said where one of those asked about by reference was set aside."""
        named = {str(each).upper() for each in asked if isinstance(each, str)}
        found = [row for row in self.aside.values() if row.reference.upper() in named]
        return _unreadable(found) if found else None

    def _set_aside(self, error: Exception, known: Collection[int] = ()) -> None:
        """Find whose rows cannot be read, if that is what went wrong; not of those left out."""
        from recall.records.database import set_aside

        with self.engine.connect() as connection:
            found = set_aside.unreadable(connection)
            rest = "" if found else set_aside.odd_elsewhere(connection)
        if rest:
            raise StorageError(
                f"The register is damaged: {rest} cannot be read.",
                hint="Put it right from a backup: recall restore --help.",
            ) from error
        if found.keys() <= set(known):
            return
        self.aside.update(found)
        raise _unreadable(found.values()) from error

    def let_others_in(self) -> None:
        """Wait between two writes of a long run until every desk that waits has had its turn."""
        turns.let_pass(self.path.parent)

    @contextmanager
    def write(self) -> Iterator[Session]:
        """Give a session that holds the write lock; commits at the end, or nothing is kept."""
        if self.is_newer:
            raise StorageError(
                "A newer version of this program has changed the database.",
                hint="Install that version here before anything is written.",
            )
        if self.ahead:
            raise Refused(
                f"{self.ahead} has not come: it may be looked at, and nothing is written for it.",
                hint="Leave the day out, or give today or an earlier one.",
            )
        engine = writing(self.engine)
        with self._taken_back_whole(), in_words(), _sessions(engine).begin() as session:
            with turns.waiting(self.path.parent):
                session.connection()  # a session begins at its first statement otherwise
            session.info[ASIDE] = sorted(self.aside)
            try:
                yield session
            except Exception as error:
                if is_odd(error):
                    session.rollback()
                    self._set_aside(error)
                raise

    @contextmanager
    def _taken_back_whole(self) -> Iterator[None]:
        """Where a write came to nothing, let its numbers come to nothing as well."""
        try:
            yield
        except StorageError:
            raise  # there is no asking a server that is gone
        except Exception:
            with suppress(StorageError), in_words(), writing(self.engine).begin() as connection:
                number_on(connection)
            raise

    @contextmanager
    def rehearse(self) -> Iterator[Session]:
        """Give a session that writes as `write` does, and of which nothing is kept."""
        try:
            with self.write() as session:
                yield session
                raise _Rehearsed
        except _Rehearsed:
            return

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()


def _unreadable(rows: Iterable[OddRow]) -> Unreadable:
    return Unreadable(
        f"The record of {' and of '.join(map(str, rows))} cannot be read.",
        hint="Put it right from a backup: recall restore --help.",
    )


class _Rehearsed(Exception):
    """Ends a rehearsal: what it wrote is taken back."""


def _sessions(engine: Engine) -> sessionmaker[Session]:
    return sessionmaker(engine, expire_on_commit=False)


@contextmanager
def in_words() -> Iterator[None]:
    """Turn what the database says into an error that a person can act on."""
    try:
        yield
    except StaleDataError as error:
        raise Conflict(
            "Somebody else changed this meanwhile.", hint="Look at it again, then repeat."
        ) from error
    except DBAPIError as error:
        told = storage_error(error)
        if told is None:
            raise
        raise told from error


def revision(connection: Connection) -> str | None:
    """Return the revision of a database, or None where it has no tables of ours."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return found


def is_blank(path: Path) -> bool:
    """Return whether a database is there and has no tables at all.

    Raises:
        StorageError: it cannot be asked.
    """
    engine = desk_engine(path)
    try:
        with in_words(), engine.connect() as connection:
            return not inspect(connection).get_table_names()
    finally:
        engine.dispose()


def something_else(path: Path) -> StorageError:
    """Return the error of a database that is there and is no register."""
    return StorageError(
        f"What lies at {servers.shown(path)} is a database of something else.",
        hint="Nothing was changed; check the path in the configuration.",
    )


def open_store(path: Path) -> Store:
    """Open the register at `path` after checking that this program fits it.

    Raises:
        StorageError: missing, not ours, damaged, or older than this program.
    """
    if not servers.address_of(path) and not path.is_file():
        raise StorageError(
            f"There is no database at {path}.",
            hint=f"Check the configured path, or run `{where.UPGRADE_COMMAND}` to make one.",
        )
    engine = desk_engine(path)
    try:
        with in_words(), engine.connect() as connection:
            found = revision(connection)
            invented = found == where.HEAD and bool(connection.scalar(_INVENTED))
            foreign = found is None and bool(inspect(connection).get_table_names())
        if foreign:
            raise something_else(path)
        if found is None or (found in where.REVISIONS and found != where.HEAD):
            raise StorageError(
                f"The database is at revision {found or 'none'}; this program needs {where.HEAD}.",
                hint=f"Close all desks and run `{where.UPGRADE_COMMAND}`; it makes a backup first.",
            )
    except StorageError:
        engine.dispose()
        raise
    return Store(engine, path, found not in where.REVISIONS, invented)


def mark_invented(path: Path) -> None:
    """Mark a register that was just made as an invented practice's."""
    store = open_store(path)
    try:
        with store.write() as session:
            session.execute(text("UPDATE register SET invented = true"))
    finally:
        store.close()
