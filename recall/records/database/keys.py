"""The key of an encrypted register: where it is kept, taken once by each run of the program.

A key is a code of 36 letters and digits that the program makes: 160 bits from the system's own
source of chance, and four more that show a slip of the hand. While everything goes over to a new
key the old one stays beside it, so that a run that is cut off leaves nothing that none opens.
"""

from __future__ import annotations

import base64
import hashlib
import sys
from dataclasses import dataclass, field
from getpass import getpass
from pathlib import Path

from recall.config import ASKED
from recall.errors import InputError, StorageError
from recall.records.database import key_places

_BYTES, _GROUP, _CHECK = 20, 4, 4


@dataclass
class _Taken:
    """What this run knows of keys."""

    source: str = ""
    database: Path = Path()
    codes: list[str] = field(default_factory=list)


_taken = _Taken()


def use(source: str, database: Path) -> None:
    """Say where the key of this run's register is; "" where it is not encrypted."""
    if (source, database) != (_taken.source, _taken.database):
        _taken.source, _taken.database = source, database
        _taken.codes.clear()


def is_set() -> bool:
    """Return whether the settings ask for encryption."""
    return bool(_taken.source)


def is_typed() -> bool:
    """Return whether a person types the key each time."""
    return _taken.source == ASKED


def database() -> Path:
    """Return this run's register."""
    return _taken.database


def new_code() -> str:
    """Return a new key, in groups of four."""
    import secrets  # only here: a desk that starts does not wait for it

    return _grouped(base64.b32encode(secrets.token_bytes(_BYTES)).decode())


def checked(typed: str) -> str:
    """Return a typed key as it is kept.

    Raises:
        InputError: it is not one, or mistyped.
    """
    plain = "".join(c for c in typed.upper() if c.isalnum())
    plain = plain.translate(str.maketrans("018", "OIB"))
    body = plain[:-_CHECK]
    if len(body) != _BYTES * 8 // 5 or _grouped(body).replace("-", "") != plain:
        raise InputError(
            "That is no key of a register, or a letter of it is wrong.",
            hint="It has nine groups of four letters and digits; look at the paper again.",
        )
    return _grouped(body)


def raw(code: str) -> bytes:
    """Return the 32 bytes that a key stands for."""
    return hashlib.sha256(b"ear-recall register key 1\n" + code.encode()).digest()


def codes() -> tuple[str, ...]:
    """Return the keys to try, that of now first; kept for the rest of the run.

    Raises:
        StorageError: there is none, it may be read by others, or nobody can be asked.
    """
    if not _taken.codes:
        _taken.codes.extend(_fetched())
    return tuple(_taken.codes)


def exist() -> bool:
    """Return whether there is a key where the settings say; one that is typed is believed to be."""
    return _taken.source == ASKED or bool(
        _taken.codes or key_places.kept(_taken.source, _taken.database, "")
    )


def put(code: str, *, before: str = "") -> None:
    """Keep a key where the settings say, and the one before it until everything has gone over.

    Raises:
        StorageError: it cannot be kept there.
    """
    if _taken.source != ASKED:
        key_places.keep(_taken.source, _taken.database, ".before", before)
        key_places.keep(_taken.source, _taken.database, "", code)
    _taken.codes[:] = [code, before] if before else [code]


def _grouped(body: str) -> str:
    proof = base64.b32encode(hashlib.sha256(body.encode()).digest()).decode()[:_CHECK]
    whole = body + proof
    return "-".join(whole[n : n + _GROUP] for n in range(0, len(whole), _GROUP))


def _fetched() -> list[str]:
    if _taken.source == ASKED:
        return [_typed()]
    now = key_places.kept(_taken.source, _taken.database, "")
    if not now:
        raise StorageError(
            f"There is no key of the register in {key_places.said(_taken.source)}.",
            hint="recall encryption begin makes one; recall encryption enter takes it from paper.",
        )
    before = key_places.kept(_taken.source, _taken.database, ".before")
    return [checked(each) for each in (now, before) if each]


def _typed() -> str:
    if not sys.stdin.isatty():
        raise StorageError(
            "The register's key is typed by a person each time, and nobody is there to type it.",
            hint="For jobs and scripts keep it in a file: see recall manual data-and-backup.",
        )
    return checked(getpass("Key of the register: "))
