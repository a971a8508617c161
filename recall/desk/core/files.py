"""Writing a file whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from recall.errors import ConfigError


def write_whole(path: Path, content: bytes) -> None:
    """Write a file beside its place, then put it there; a reader never sees half of it.

    Raises:
        ConfigError: the folder cannot be written.
    """
    beside = path.with_name(f"{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with beside.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise ConfigError(
            f"{path} cannot be written: {error.strerror or error}.",
            hint="Make room, close the file where it is open, or choose another folder.",
        ) from None
