"""What lies beside the register of somebody's letters, taken away with what is held on them.

A page of one cannot be cut out of a batch's PDF: the pages of each batch that holds a letter of
theirs go, and its list where it is sealed. The text of everybody else's letters stays in the
register.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall import output
from recall.desk.post.letter_keys import ENDING, keep_without
from recall.desk.post.letter_list import number_of
from recall.exchange.spreadsheet import for_spreadsheets
from recall.records import tables
from recall.records.database import sealed
from recall.records.tables.statements import whole


def letters_in_batches(session: Session, person_id: int) -> dict[str, set[str]]:
    """Return the numbers of somebody's letters by the name of the files of their batch."""
    p, b = tables.Letter, tables.Batch
    wanted = select(whole(p), b.file_name).join_from(p, b, b.id == p.batch_id)
    found: dict[str, set[str]] = {}
    for row, name in session.execute(wanted.where(p.person_id == person_id)):
        if name:
            found.setdefault(name, set()).add(number_of(row))
    return found


def take_away(folder: Path, batches: dict[str, set[str]]) -> int:
    """Take somebody's letters out of the files of their batches; return how many files changed."""
    return sum(_one_batch(folder, name, numbers) for name, numbers in batches.items())


def _one_batch(folder: Path, name: str, numbers: set[str]) -> int:
    labels = name.replace("letters-", "labels-", 1)
    gone = [*folder.glob(f"{name}.pdf*"), *folder.glob(f"{name}-part-*.pdf*")]
    gone += [*folder.glob(f"{labels}.pdf*"), *folder.glob(f"{name}.csv{sealed.ENDING}")]
    gone += [p for n in numbers for p in (folder / f"{name}-by-email").glob(f"{n}.txt*")]
    for path in gone:
        path.unlink()
    listed = folder / f"{name}.csv"
    if listed.is_file():
        _without_lines(listed, numbers)
    keep_without(folder / f"{name}{ENDING}", numbers)
    return len(gone) + listed.is_file()


def _without_lines(path: Path, numbers: Iterable[str]) -> None:
    rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline="")))
    file = io.StringIO(newline="")
    kept = (row for row in rows if not row or row[0] not in numbers)
    csv.writer(file, lineterminator="\r\n").writerows(kept)
    output.write(path, for_spreadsheets(file.getvalue()), named_here=True)
