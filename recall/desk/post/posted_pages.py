"""The pages of a batch that was posted: sealed where the register is encrypted, opened on demand.

Pages that wait for the printer are paper already, for their owner alone: they are sealed on the
day on which their batch is posted.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import select

from recall import output
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import NotFound
from recall.records import tables
from recall.records.database import sealed
from recall.records.facts.cases import stands


def pages_of(folder: Path, name: str) -> list[Path]:
    """Return the files of a batch as they lie in a folder: pages, list, labels, by e-mail."""
    if not name:
        return []
    label, cover = (name.replace("letters-", f"{kind}-", 1) for kind in ("labels", "cover"))
    found = [*folder.glob(f"{name}.pdf*"), *folder.glob(f"{name}-part-*.pdf*")]
    found += [*folder.glob(f"{name}.csv*"), *folder.glob(f"{label}.pdf*")]
    found += [*folder.glob(f"{cover}.pdf*"), *folder.glob(f"{name}-by-email/*.txt*")]
    return sorted(path for path in found if not path.name.endswith(".part"))


def seal_posted(folder: Path, name: str) -> int:
    """Seal the files of a batch that was posted; return how many. Plain registers keep theirs."""
    return sum(sealed.seal_page(path) for path in pages_of(folder, name))


@needs(Right.SEND_POST)
def open_pages(desk: Desk, batch_number: int, into: Path) -> list[Path]:
    """Write the pages of a batch that was posted where somebody can read them; return where.

    Raises:
        NotFound: no sealed page is kept of it.
        StorageError: the key does not open them.
        InputError: they cannot be written there.
    """
    b = tables.Batch
    with desk.store.read() as session:
        wanted = select(b.file_name).where(b.number == batch_number, stands(b))
        name = session.scalars(wanted).one_or_none() or ""
    kept = [p for p in pages_of(desk.config.files.letters, name) if p.suffix == sealed.ENDING]
    if not kept:
        raise NotFound(
            f"No sealed pages of batch {batch_number} are kept.",
            hint="Pages that are not sealed lie in the folder of the letters, as they are.",
        )
    for path in kept:
        output.write(into / path.stem, sealed.unseal(path.read_bytes()))
    return [into / path.stem for path in kept]
