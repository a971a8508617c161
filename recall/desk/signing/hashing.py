"""Passwords as they are kept: argon2id, with the parameters that its standard recommends.

RFC 9106, section 4, second recommended option: 3 passes, 64 MiB, 4 lanes, a salt of 128 bits
and a tag of 256. What is kept carries its parameters, so that later ones can take their place.
"""

from __future__ import annotations

import hashlib
import hmac
import unicodedata
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from argon2.profiles import RFC_9106_LOW_MEMORY

_HASHER = PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)


def normal(password: str) -> str:
    """Return a password as it is hashed, whichever way a keyboard composed its letters.

    NIST SP 800-63B (2017), section 5.1.1.2: normalised by NFKC or NFKD before hashing.

    >>> normal("e\\u0301") == normal("\\u00e9")
    True
    """
    return unicodedata.normalize("NFKC", password)


def hashed(password: str) -> str:
    """Return what is kept of a password."""
    return _HASHER.hash(normal(password))


def fits(kept: str | None, password: str) -> bool:
    """Return whether a password is the one that is kept; as slow where none is."""
    try:
        return _HASHER.verify(kept or _nobodys(), normal(password)) and kept is not None
    except (VerificationError, InvalidHashError):
        return False


def is_outdated(kept: str) -> bool:
    """Return whether it was hashed with other parameters than those of now."""
    return _HASHER.check_needs_rehash(kept)


def digest(secret: str) -> str:
    """Return what is kept of a long random secret, which nobody can guess."""
    return hashlib.sha256(secret.encode()).hexdigest()


def is_digest_of(kept: str | None, secret: str) -> bool:
    """Return whether a digest is that of a secret, in the same time whatever differs."""
    return kept is not None and hmac.compare_digest(kept, digest(secret))


@cache
def _nobodys() -> str:
    """Return the hash that the password of an unknown handle is held against."""
    return _HASHER.hash("")
