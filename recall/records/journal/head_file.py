"""The head of the history, kept in a file of its own beside the database.

A history that was built anew, or an older copy in the register's place, is whole by itself; this
file tells that it is not the one that was there. It names a link of the chain: one that the chain
has is brought up to the last, one that it lacks is an alarm until somebody looks into it.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import msgspec
from sqlalchemy import Integer, String, column, select, table
from sqlalchemy.orm import Session

from recall import output
from recall.errors import InputError

REGISTER = table("register", column("mark", String))
HISTORY = table("history", column("id", Integer), column("digest", String))
HEAD = table("history_head", column("seq", Integer), column("digest", String))
"""By bare names: whoever opens the register does not wait for the mapped tables. A test holds the
names against those."""

ENDING = ".head"


class Written(msgspec.Struct, frozen=True):
    """What the file says: which register, and one link of its history."""

    register: str
    number: int
    digest: str


def path_of(database: Path) -> Path:
    """Return where the head of a database's history is kept."""
    return database.with_name(database.name + ENDING)


def compare(session: Session, database: Path) -> str:
    """Return what is wrong with the history beside the file, or nothing; the file stays."""
    written = _read(path_of(database))
    if written is None:
        return ""
    mark = session.scalar(select(REGISTER.c.mark))
    if mark != written.register:
        return "It is another register than the one that was here."
    last = session.scalar(select(HEAD.c.seq)) or 0
    if last < written.number:
        return (
            f"Its history ends at {last}, and went to {written.number}: it is an older copy, or "
            "lines were taken away."
        )
    link = session.scalar(select(HISTORY.c.digest).where(HISTORY.c.id == written.number))
    if written.number and link != written.digest:
        return f"Its history is another one from line {written.number} on, or before: built anew."
    return ""


def bring_up(session: Session, database: Path) -> None:
    """Write the last link into the file; where it may not be written, the older one stays."""
    head = session.execute(select(HEAD.c.seq, HEAD.c.digest)).one_or_none()
    mark = session.scalar(select(REGISTER.c.mark))
    if head is None or mark is None:
        return
    now = Written(mark, head.seq, head.digest)
    path = path_of(database)
    if _read(path) == now:
        return
    with suppress(InputError):
        output.write(path, msgspec.json.encode(now) + b"\n", named_here=True)


def head(session: Session) -> tuple[int, str]:
    """Return the number of the history's last line and its digest; 0 and nothing without one."""
    found = session.execute(select(HEAD.c.seq, HEAD.c.digest)).one_or_none()
    return (found.seq, found.digest) if found else (0, "")


def in_words(number: int, digest: str) -> str:
    """Return the last link in words, for what is printed and kept outside the register."""
    return f"History to line {number}, {digest}" if number else "No history yet"


def told(session: Session) -> str:
    """Return the last link in words."""
    return in_words(*head(session))


def begin_anew(database: Path) -> None:
    """Forget the link, for a register that was restored: its own history says so."""
    path_of(database).unlink(missing_ok=True)


def _read(path: Path) -> Written | None:
    try:
        return msgspec.json.decode(path.read_bytes(), type=Written)
    except (OSError, msgspec.DecodeError):
        return None
