"""Registers that lie on a database server: a path stands for each, and its own files lie there.

All else of the program names a register by a path. Where the settings give an address in the
place of a file, the path is of no file: the end of the history, the list of who was erased and
the runner's lock are kept beside it.
"""

from __future__ import annotations

import re
from pathlib import Path

EXTRA = "pip install 'ear-recall[postgres]' brings it, in the environment of this program."
_SECRET = re.compile(r"(?<=:)[^:@/]*(?=@)|(?<=password=)[^&]*")
_known: dict[Path, str] = {}


def use(address: str, stands_for: Path) -> None:
    """Say at which address the register lies for which a path stands; "" where it is a file."""
    if address:
        _known[stands_for] = address
    else:
        _known.pop(stands_for, None)


def address_of(path: Path) -> str:
    """Return the address of a register on a server; empty for a file."""
    return _known.get(path, "")


def shown(path: Path) -> str:
    """Return where a register is, as it may be shown: without a password."""
    address = address_of(path)
    return _SECRET.sub("...", address) if address else str(path)
