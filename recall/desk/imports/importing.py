"""Files in: people, visits, contacts, bookings. Good rows land together, bad ones go back.

A file is a proposal: it is read without any lock, what it would do is worked out, and then it
lands. It overwrites only what the file itself changed since it was last taken in. Planning what
is new is a phase of its own afterwards (`replanning`), which can be stopped and goes on where it
was.
"""

from __future__ import annotations

from pathlib import Path

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.imports.importers import IMPORTERS, Kind
from recall.desk.imports.landing import ImportSummary, land
from recall.desk.imports.proposing import propose
from recall.desk.imports.reading import Progress
from recall.errors import InputError
from recall.records.database.bulk import seldom_collected


@needs(Right.TAKE_IN_FILES)
def import_file(
    desk: Desk,
    path: Path,
    kind: Kind,
    progress: Progress | None = None,
    *,
    rejects_path: Path | None = None,
    takes_away: int | None = None,
) -> ImportSummary:
    """Take in a file of a kind at once; what it takes away needs the number of it.

    Raises:
        Refused: it would take away something that was not said; nothing has landed.
        InputError: the file as a whole cannot be read.
        StorageError: the register cannot be written.
    """
    with seldom_collected():
        proposal = propose(desk, path, kind, progress)
        return land(desk, proposal, takes_away, progress, rejects_path=rejects_path)


def kind_of(path: Path, desk: Desk) -> Kind:
    """Return the kind of a file, by its name or else by its headings.

    Raises:
        InputError: neither tells.
    """
    named: list[Kind] = [kind for kind in IMPORTERS if kind in path.stem.casefold()]
    if len(named) == 1:
        return named[0]
    unread: dict[Kind, int] = {}
    for kind, importer in IMPORTERS.items():
        try:
            reading = importer.read(path, desk.config.imports, today=desk.today)
        except InputError as error:
            if not path.is_file():
                raise error from None
            continue
        unread[kind] = len(reading.ignored) + len(reading.absent)
    fits = [kind for kind, count in unread.items() if count == min(unread.values())]
    if len(fits) == 1:
        return fits[0]
    kinds = ", ".join(IMPORTERS)
    raise InputError(
        f"{path.name} does not show what it holds.",
        hint=f"Say it: recall import KIND {path.name}, where KIND is one of {kinds}.",
    )


__all__ = ["IMPORTERS", "ImportSummary", "Kind", "import_file", "kind_of"]
