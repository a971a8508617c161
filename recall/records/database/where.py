"""Where the migrations lie, in a checkout and in an installed copy; which revisions exist.

The wheel carries `migrations/` as `recall/_migrations`. The list of revisions is kept here so
that opening a database does not import Alembic.
"""

from __future__ import annotations

from pathlib import Path

import recall
from recall.errors import StorageError

REVISIONS = (
    *("0001", "0002", "0003", "0004", "0005", "0006", "0007", "0008", "0009", "0010"),
    *("0012", "0013", "0014", "0015", "0016", "0017", "0018", "0019", "0020", "0021"),
    "0022",
    "0023",
    "0024",
)
"""All revisions, oldest first; the last one is what this program reads and writes."""
HEAD = REVISIONS[-1]
UPGRADE_COMMAND = "recall upgrade"
BACKUP_COMMAND = "recall backup"


def migrations() -> Path:
    """Return the folder of the migrations."""
    package = Path(recall.__file__).resolve().parent
    for folder in (package / "_migrations", package.parent / "migrations"):
        if (folder / "env.py").is_file():
            return folder
    raise StorageError(
        "The migrations are missing from this installation.", hint="Install the program again."
    )
