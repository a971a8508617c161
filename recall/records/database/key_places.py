"""Where a register's key is kept: in a file of its owner alone, or by the system's keyring."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

from recall import output
from recall.config import KEYRING
from recall.errors import StorageError

EXTRA = "In the folder of the program's checkout: pip install '.[encrypted]'"
_SERVICE = "ear-recall"
_FIRST_LINE = "key of an ear-recall register\n"
"""By it the program knows a file of its own; one without it is read as well."""


def said(source: str) -> str:
    """Return the place in words."""
    return "the keyring" if source == KEYRING else source


def kept(source: str, database: Path, which: str) -> str:
    """Return a key as it is kept; "" where there is none. `which` tells two of them apart.

    Raises:
        StorageError: it cannot be read, or others can read it too.
    """
    if source == KEYRING:
        with _keyring() as keyring:
            return keyring.get_password(_SERVICE, f"{database}{which}") or ""
    path = Path(source + which)
    try:
        mode = path.stat().st_mode
        if os.name == "posix" and stat.S_IMODE(mode) & 0o077:
            raise StorageError(
                f"The key in {path} may be read by others.",
                hint=f"Nothing was opened. Make it its owner's alone: chmod 600 {path}",
            )
        return path.read_text("ascii").removeprefix(_FIRST_LINE).strip()
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as error:
        because = error.strerror if isinstance(error, OSError) else "it is no text"
        raise StorageError(f"The key in {path} cannot be read: {because}.") from None


def keep(source: str, database: Path, which: str, code: str) -> None:
    """Keep a key, or where it is "" take it away.

    Raises:
        StorageError: it cannot be kept there.
    """
    if source == KEYRING:
        _keep_in_keyring(f"{database}{which}", code)
        return
    path = Path(source + which)
    try:
        if code:
            output.write(path, (_FIRST_LINE + code + "\n").encode())
        else:
            path.unlink(missing_ok=True)
    except OSError as error:
        raise StorageError(
            f"The key cannot be kept in {path}: {error.strerror}.",
            hint="Choose another place under [encryption].",
        ) from None


def _keep_in_keyring(name: str, code: str) -> None:
    with _keyring() as keyring:
        if code:
            keyring.set_password(_SERVICE, name, code)
        elif keyring.get_password(_SERVICE, name):
            keyring.delete_password(_SERVICE, name)


@contextmanager
def _keyring() -> Iterator[ModuleType]:
    """Give the library of the system's keyring; what goes wrong there is put in words."""
    try:
        import keyring
        from keyring.errors import KeyringError
    except ImportError:
        raise StorageError(
            "What talks to the system's keyring is not installed.", hint=EXTRA
        ) from None
    try:
        yield keyring
    except KeyringError as error:
        raise StorageError(
            f"The system's keyring does not answer: {error}.",
            hint="Unlock it, or keep the key in a file: see recall manual data-and-backup.",
        ) from None
