"""Files beside an encrypted register, sealed with its key: what letters said, and their pages.

AES-256 in Galois/Counter Mode (NIST SP 800-38D), a new 96-bit nonce for each file; a changed
byte is found when it is opened. What is not encrypted passes through as it is.
"""

from __future__ import annotations

import hashlib
import secrets
from pathlib import Path
from types import ModuleType

from recall import output
from recall.errors import StorageError
from recall.records.database import files, keys
from recall.records.database.key_places import EXTRA

MARK = b"ear-recall sealed 1\n"
ENDING = ".sealed"
_NONCE = 12


def seal(content: bytes) -> bytes:
    """Return content as it is kept: sealed, where this run's register is encrypted."""
    if not files.in_force():
        return content
    nonce = secrets.token_bytes(_NONCE)
    code = keys.codes()[0]
    return MARK + nonce + bytes(ciphers().AESGCM(_raw(code)).encrypt(nonce, content, MARK))


def unseal(content: bytes) -> bytes:
    """Return content as it was before it was sealed.

    Raises:
        StorageError: no key that is kept here opens it, or a byte of it was changed.
    """
    if not content.startswith(MARK):
        return content
    from cryptography.exceptions import InvalidTag

    body = content[len(MARK) :]
    nonce, rest = body[:_NONCE], body[_NONCE:]
    for code in keys.codes():
        try:
            return bytes(ciphers().AESGCM(_raw(code)).decrypt(nonce, rest, MARK))
        except (InvalidTag, ValueError):
            continue
    raise StorageError("A sealed file does not open with the register's key, or was changed.")


def seal_page(path: Path) -> bool:
    """Let a file be kept sealed, under its name and one ending more; return whether it is."""
    if not files.in_force() or path.suffix == ENDING or not path.is_file():
        return False
    output.write(path.with_name(path.name + ENDING), seal(path.read_bytes()), named_here=True)
    path.unlink()
    return True


def reseal(path: Path) -> None:
    """Seal a file with the key of now, whether it was sealed before or not."""
    output.write(path, seal(unseal(path.read_bytes())), named_here=True)


def _raw(code: str) -> bytes:
    """Return the key for files, which is not that of the register's pages."""
    return hashlib.sha256(b"ear-recall files 1\n" + keys.raw(code)).digest()


def ciphers() -> ModuleType:
    """Return the library that seals files.

    Raises:
        StorageError: it is not installed.
    """
    try:
        from cryptography.hazmat.primitives.ciphers import aead
    except ImportError:
        raise StorageError("What opens sealed files is not installed.", hint=EXTRA) from None
    return aead
