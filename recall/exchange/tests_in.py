"""Tests done elsewhere, from a file: hearing and tympanograms, of one person on one day a row."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import msgspec

from recall.care.case import ToldByOthers
from recall.care.dates import Before, resolve
from recall.care.ear import SIDES, Side
from recall.config import Import
from recall.exchange.cells import Cells
from recall.exchange.ear_columns import ear_columns, take_ears
from recall.exchange.people_in import REFERENCE
from recall.exchange.problem import Wrong
from recall.exchange.rows_in import HERE, Column, FileKind, Here, Reading, open_rows
from recall.exchange.visits_in import PERSON


class ElsewhereRow(msgspec.Struct, frozen=True, kw_only=True):
    """What was tested elsewhere as the file tells, ear by ear."""

    person: str
    on: date
    """The first day that it can mean."""
    told: tuple[ToldByOthers, ...]
    reference: str = ""

    @property
    def ears(self) -> tuple[Side, ...]:
        """Return the ears of which anything was told."""
        return tuple(each.ear for each in self.told)


def _documented(cells: Cells, cell: str) -> str:
    """Return a day or a month as it is kept, none ahead of today."""
    when = cells.when(cell)
    if isinstance(when, Before):
        raise Wrong("is no day", "a day, or a month as 2026-08")
    try:
        day = resolve(when, cells.today).on
    except ValueError:
        raise Wrong("is no month of the calendar", "a month as 2026-08") from None
    if day > cells.today:
        raise Wrong("is after today", f"a day up to {cells.today.isoformat()}")
    return when


def _tested(cells: Cells, cell: str) -> bool:
    """Return yes; a no would say that somebody was never tested, which nobody can know."""
    if not cells.yes_no(cell):
        raise Wrong("says no test", "yes, or leave the row out: only a test that was done counts")
    return True


_MEASURED = tuple(
    c
    for c in ear_columns()
    if c.name.partition("_")[2] == "tympanogram" or c.name.partition("_")[2].startswith("hearing_")
    if c.name.rpartition("_")[2].isdecimal() or c.name.endswith("_tympanogram")
)
"""The columns of hearing by frequency and of a tympanogram, as those of visits."""
COLUMNS: tuple[Column, ...] = (
    PERSON,
    Column("on", "day or month on which it was done", _documented, True),
    Column("where", "who did it, or where", Cells.text, True),
    Column("right_hearing_tested", "yes: tested, the levels are not known", _tested),
    Column("left_hearing_tested", "yes: tested, the levels are not known", _tested),
    Column("reference", "the practice's own reference of the test", REFERENCE.decode),
    *_MEASURED,
)


def _build(values: dict[str, Any]) -> ElsewhereRow:
    """Make the row from its values by column."""
    tested = {side: values.pop(f"{side}_hearing_tested", None) for side in SIDES}
    ears, when = take_ears(values), values["on"]
    told = []
    for side in SIDES:
        levels, trace = (getattr(ears[side], n, None) for n in ("hearing_dB", "tympanogram"))
        if tested[side] or levels or trace:
            known = None if levels else tested[side]
            told.append(
                ToldByOthers(
                    on=when,
                    ear=side,
                    source=values["where"],
                    hearing_dB=levels,
                    hearing_tested=known,
                    tympanogram=trace,
                )
            )
    if not told:
        right = "levels, a tympanogram, or yes under hearing_tested; else leave the row out"
        raise Wrong("tells of no test", right, "on")
    day = resolve(when, date.max).on
    reference = values.get("reference", "")
    return ElsewhereRow(person=values["person"], on=day, told=tuple(told), reference=reference)


TESTS: FileKind[ElsewhereRow] = FileKind(
    "tests", COLUMNS, _build, key=lambda row: row.reference, key_column="reference"
)


def read_tests(
    path: Path, imports: Import, *, today: date, here: Here = HERE
) -> Reading[ElsewhereRow]:
    """Return the tests of a file, good and bad rows, one by one."""
    return open_rows(path, TESTS, imports, today=today, here=here)
