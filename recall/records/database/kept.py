"""Which backups there are: the files of ours, by the instant and the link in their names."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

_STAMPED = re.compile(r"-(\d{8}T\d{12})Z(?:-\d+-[0-9a-f]{12})?\.(db|part)$")


def stamps(folder: Path, kind: str = "db") -> dict[Path, datetime]:
    """Return the files of ours in a folder, with the instant in their names."""
    found: dict[Path, datetime] = {}
    for path in folder.glob(f"*.{kind}"):
        told = _STAMPED.search(path.name)
        if told:
            found[path] = datetime.strptime(told[1] + "+0000", "%Y%m%dT%H%M%S%f%z")
    return found


def newest(folders: Iterable[Path | None]) -> Path | None:
    """Return the newest backup in some folders and in those right below."""
    found: dict[Path, datetime] = {}
    for folder in folders:
        if folder is not None and folder.is_dir():
            for place in (folder, *(each for each in folder.iterdir() if each.is_dir())):
                found |= stamps(place)
    return max(found, key=lambda path: found[path], default=None)
