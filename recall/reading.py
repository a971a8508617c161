"""The one reader of files that people name: a file or a pipe, never a device without an end."""

from __future__ import annotations

import errno
import stat
from pathlib import Path


def content_at(path: Path) -> bytes:
    """Return what a file or a pipe holds.

    Raises:
        OSError: it cannot be read, or is a folder or a device; `strerror` says why.
    """
    kind = path.stat().st_mode
    if not (stat.S_ISREG(kind) or stat.S_ISFIFO(kind)):
        raise OSError(errno.EINVAL, "it is no file but a folder or a device")
    return path.read_bytes()
