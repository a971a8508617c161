"""What goes wrong with a database server, in words (PostgreSQL: "PostgreSQL Error Codes").

Whoever was writing as the connection broke off cannot know whether it was kept: the answer to the
commit is what was lost. So nothing is said of that; whoever reads it is asked to look.
"""

from __future__ import annotations

from sqlalchemy.exc import DBAPIError, OperationalError

from recall.errors import StorageError
from recall.records.database.where import BACKUP_COMMAND, UPGRADE_COMMAND

_LOOK = "Once it runs again, look whether the last thing that you did is there, then go on."
_LOCKED = (
    "The database is locked by another desk or job.",
    "Nothing was changed; try again in a moment.",
)
_NO_TABLES = (
    "The database does not have the tables that this program needs.",
    f"Run `{UPGRADE_COMMAND}`; it makes a backup first.",
)
_STARTS = ("The database server is starting or stopping.", "Try again in a moment.")
_IS_FULL = (
    "The database server has no room for another desk.",
    "Nothing was changed; close a desk, or let the server take more connections.",
)
_UNSAFE = (
    "The connection to the database server would not be a safe one.",
    "See to its certificate, and to `sslmode` in `database` in recall.toml.",
)
_STATES: tuple[tuple[str, str, str], ...] = (
    ("55P03", *_LOCKED),
    ("40", *_LOCKED),
    (
        "53100",
        "The disk of the database server is full.",
        "Nothing was changed; free some space there and try again.",
    ),
    ("53", *_IS_FULL),
    (
        "25006",
        "The database may not be written.",
        "Nothing was changed; it is a copy that is read only, or the server was set so.",
    ),
    (
        "25P03",
        "The database server let go of this desk, which had not answered for long.",
        "Nothing was changed; try again.",
    ),
    (
        "42501",
        "The database may not be used by this account.",
        "Give the account that the address names the rights to its tables.",
    ),
    (
        "XX",
        "The database on the server is damaged.",
        f"Stop all desks and put the last good backup into an empty database ({BACKUP_COMMAND} "
        "--help).",
    ),
    (
        "57014",
        "The database server broke off what took too long.",
        "Nothing was changed; let whoever looks after it take its limit away for this account.",
    ),
    ("57P03", *_STARTS),
    ("57", "The database server was stopped meanwhile.", _LOOK),
    ("08", "The connection to the database server broke off.", _LOOK),
    ("42P01", *_NO_TABLES),
    ("42703", *_NO_TABLES),
)
"""How the server's codes begin."""
_ADDRESS = "Check `database` in recall.toml."
_SAID: tuple[tuple[str, str, str], ...] = (
    ("the database system is", *_STARTS),
    ("connection slots", *_IS_FULL),
    ("too many connections", *_IS_FULL),
    (
        "password authentication failed",
        "The database server does not take this name and password.",
        "Check the name in `database` in recall.toml, and the password in ~/.pgpass.",
    ),
    (
        "no password supplied",
        "The database server asks for a password, and none is known.",
        "Put it into ~/.pgpass of the account that runs this program.",
    ),
    ("no pg_hba.conf entry", "The database server does not let this machine or name in.", _ADDRESS),
    ("role ", "The database server does not know this name.", _ADDRESS),
    ("database ", "There is no database of this name on the server.", _ADDRESS),
    ("SSL", *_UNSAFE),
    ("certificate", *_UNSAFE),
)
"""What a server says at the door, where a connection has no code yet; in English, as most do."""
_BROKEN = (
    "server closed the connection",
    "connection is lost",
    "the connection is closed",
    "consuming input failed",
    "SSL SYSCALL",
    "terminating connection",
)


def storage_error(error: DBAPIError) -> StorageError | None:
    """Return the error in words for whoever runs the machine, or None for a mistake in code."""
    state = getattr(error.orig, "sqlstate", None) or ""
    for start, message, hint in _STATES:
        if state.startswith(start):
            return StorageError(message, hint=hint)
    said = str(error.orig)
    if any(each in said for each in _BROKEN):
        return StorageError("The connection to the database server broke off.", hint=_LOOK)
    if state.startswith(("28", "3D")) or (isinstance(error, OperationalError) and not state):
        return _at_the_door(said)
    return None


def _at_the_door(said: str) -> StorageError:
    """Return in words why there was no connection."""
    lines = [line.rpartition("failed: ")[2].rpartition("FATAL:")[2] for line in said.splitlines()]
    why = lines[0].strip() if lines else ""
    for start, message, hint in _SAID:
        if start in why:
            return StorageError(message, hint=hint)
    return StorageError(
        f"The database server cannot be reached: {why.rstrip('.?')}.",
        hint="Check `database` in recall.toml, that the server runs, and the network.",
    )
