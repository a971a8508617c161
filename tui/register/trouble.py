"""What goes wrong, in words: the one place where the desk turns any error into a sentence."""

from __future__ import annotations

import os
import tempfile
import traceback
from pathlib import Path

from recall.clock import Clock
from recall.errors import RecallError

LOG = "recall-errors.log"


def in_words(error: BaseException, folder: Path | None) -> RecallError:
    """Return an error that a person can act on; what was not expected goes whole into the log.

    The log stays beside the database, readable for its owner only: it may hold names, and the
    screen must not show them to whoever stands at the desk.
    """
    if isinstance(error, RecallError):
        return error
    where = write_log(error, folder)
    return RecallError(
        f"Something unexpected went wrong ({type(error).__name__}). Nothing was changed by it.",
        hint=f"Try again; if it comes back, show {where} to whoever looks after the program.",
    )


def write_log(error: BaseException, folder: Path | None) -> str:
    """Write the whole story down and return where it is."""
    told = "".join(traceback.format_exception(error))
    flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT
    for place in (folder, Path(tempfile.gettempdir())):
        if place is None:
            continue
        try:
            with os.fdopen(os.open(place / LOG, flags, 0o600), "a", encoding="utf-8") as log:
                log.write(f"{Clock().now().isoformat(timespec='seconds')} desk\n{told}\n")
        except OSError:
            continue
        return str(place / LOG)
    return "this message"
