"""The one writer of every file that the program makes, beside its database and the copies of it.

A file appears whole or not at all, for its owner alone. It takes the place of nothing but what
the program made before: a register, a configuration, what somebody else made, a device and
whatever lies behind a link stay as they are.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import IO

from recall.errors import InputError

PDF_MARK = b"% made by ear-recall\n"
"""The last line of every PDF that the program makes: a comment, by the format's own rules."""
_LOOK = 4096


def write(path: Path, content: bytes, *, named_here: bool = False) -> None:
    """Write a whole file; `named_here` where the program chose the name, in a folder of its own.

    Raises:
        InputError: it must not, or cannot, be written there. Nothing was changed.
    """
    if content.startswith(b"%PDF-") and not content.endswith(PDF_MARK):
        content = content.rstrip(b"\n") + b"\n" + PDF_MARK
    part, file = begin(path, content, named_here=named_here)
    try:
        with file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise _cannot(path, error) from None


def begin(path: Path, content: bytes, *, named_here: bool = False) -> tuple[Path, IO[bytes]]:
    """Return a new file beside a place, still to be put there, whose first bytes are known.

    Raises:
        InputError: it must not, or cannot, be written there. Nothing was changed.
    """
    if because := why_not(path, content, named_here=named_here):
        raise InputError(
            f"{path} is left as it is: {because}.",
            hint="Choose another name for what is to be written.",
        )
    part = path.with_name(f".{path.name}.part")
    try:
        if named_here:  # a folder that somebody mistyped is said, not made
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not part.is_dir():
            part.unlink(missing_ok=True)  # of a run that was stopped; a link, not what it points to
        return part, os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")
    except OSError as error:
        raise _cannot(path, error) from None


def why_not(path: Path, content: bytes, *, named_here: bool = False) -> str:
    """Return why content must not be written to a place, or nothing."""
    if path.is_symlink():
        return "it is a link to somewhere else"
    if not os.path.lexists(path):
        return ""
    if not path.is_file():
        return "there is something there that is no file"
    try:
        before, ending = _ends(path)
    except OSError as error:
        return f"what is there cannot be read ({error.strerror or error})"
    if before.startswith(b"SQLite format 3\0"):
        return "it is a database"
    ours = not before or _made_here(before, ending, content, named_here)
    return "" if ours else "this program did not make what is there"


def _ends(path: Path) -> tuple[bytes, bytes]:
    """Return how a file begins, and its last bytes."""
    with path.open("rb") as file:
        before = file.read(_LOOK)
        file.seek(max(0, path.stat().st_size - len(PDF_MARK)))
        return before, file.read()


def _made_here(before: bytes, ending: bytes, content: bytes, named_here: bool) -> bool:
    """Return whether a file looks like an earlier one of the same kind."""
    if content.startswith(b"%PDF-"):
        return before.startswith(b"%PDF-") and (named_here or ending == PDF_MARK)
    return named_here or _first_line(before) == _first_line(content)


def _first_line(content: bytes) -> bytes:
    """Return the line that tells the kind of a file: its headings, or its first key."""
    line = content.partition(b"\n")[0].rstrip(b"\r")
    return line.partition(b" = ")[0]


def _cannot(path: Path, error: OSError) -> InputError:
    return InputError(
        f"{path} cannot be written: {error.strerror or error}.",
        hint="Make room, close the file where it is open, or choose another folder.",
    )
