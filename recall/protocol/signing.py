"""The sign-off of a protocol: a small file that names who signed which exact content."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path

import msgspec

from recall import output
from recall.errors import ProtocolError
from recall.reading import content_at


class SignOff(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Who signed which content, and when."""

    digest: str
    by: str
    on: date
    name: str
    version: str


def read_sign_off(path: Path | None) -> SignOff | None:
    """Return the sign-off in a file, or None where there is none."""
    if path is None or not path.exists():
        return None
    try:
        return msgspec.convert(tomllib.loads(content_at(path).decode("utf-8")), SignOff)
    except (OSError, tomllib.TOMLDecodeError, msgspec.ValidationError, UnicodeDecodeError):
        raise ProtocolError(
            f"The sign-off {path.name} cannot be read.",
            hint="Sign the protocol off again with `recall protocol sign`.",
        ) from None


def beside(path: Path | None) -> Path | None:
    """Return where a protocol's sign-off lies when nothing else is said: beside the file."""
    return path.with_suffix(".signed.toml") if path else None


def sign_off_of(digest: str, *paths: Path | None) -> SignOff | None:
    """Return the sign-off of this exact content, from whichever file holds it, or None."""
    found = (read_sign_off(path) for path in paths)
    return next((each for each in found if each is not None and each.digest == digest), None)


def write_sign_off(path: Path, sign_off: SignOff) -> None:
    """Write the sign-off file."""
    values = msgspec.to_builtins(sign_off)
    lines = [f"{key} = {msgspec.json.encode(str(value)).decode()}" for key, value in values.items()]
    body = "\n".join(lines).replace(f'on = "{sign_off.on}"', f"on = {sign_off.on}")
    output.write(path, (body + "\n").encode())
