"""What is kept beside a register that was moved: nobody goes on with the old one by mistake."""

from __future__ import annotations

from pathlib import Path

import msgspec

from recall import output
from recall.errors import StorageError

ENDING = ".moved"


class Moved(msgspec.Struct, frozen=True):
    """What the file says: where the register is now, since when, and its last line then."""

    to: str
    at: str
    number: int
    digest: str


def mark(database: Path, said: Moved) -> None:
    """Leave beside a register that it was moved.

    Raises:
        InputError: it cannot be written.
    """
    output.write(path_of(database), msgspec.json.encode(said) + b"\n", named_here=True)


def path_of(database: Path) -> Path:
    """Return where it is kept that a register was moved."""
    return database.with_name(database.name + ENDING)


def refuse_moved(database: Path) -> None:
    """Refuse to open a register that was moved away.

    Raises:
        StorageError: with where it is now.
    """
    path = path_of(database)
    if not path.exists():
        return
    try:
        said = msgspec.json.decode(path.read_bytes(), type=Moved)
        where = f"to {said.to} on {said.at[:10]}"
    except (OSError, msgspec.DecodeError):
        where = "elsewhere"
    raise StorageError(
        f"The register was moved {where}: this is the old one.",
        hint=f"Name the new place as `database` in recall.toml; to go back, take {path} away.",
    )
