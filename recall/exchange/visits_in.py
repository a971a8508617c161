"""Visits from a file: flat columns per ear, or the case file's own findings as JSON."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any, get_args

import msgspec

from recall.care.case import Category, Visit
from recall.care.contradictions import contradictions
from recall.care.ear import SIDES, Ear
from recall.care.refusals import refusal
from recall.config import Import
from recall.exchange import word_lists
from recall.exchange.cells import Cells, choice
from recall.exchange.ear_columns import ear_columns, ear_parts, take_ears
from recall.exchange.people_in import REFERENCE
from recall.exchange.problem import Wrong
from recall.exchange.rows_in import HERE, Column, FileKind, Here, Reading, open_rows


class VisitRow(msgspec.Struct, frozen=True, kw_only=True):
    """One visit as the file tells."""

    reference: str
    """The practice's own reference of the visit."""
    person: str
    """The practice's own reference of the person."""
    visit: Visit
    category: Category | None = None
    note: str = ""


class Findings(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What the `findings` column holds: both ears as in a case file."""

    right: Ear | None = None
    left: Ear | None = None


_FINDINGS = msgspec.json.Decoder(Findings)


def _findings(_cells: Cells, cell: str) -> Findings:
    """Return the findings of a JSON cell."""
    data = cell.encode("utf-8", "replace")
    try:
        return _FINDINGS.decode(data)
    except (msgspec.DecodeError, RecursionError) as error:
        said = refusal(error, Findings, data)
        right = said.hint or 'both ears as in a case file, {"right": {…}, "left": {…}}'
        raise Wrong(said.message.replace("The case file", "the cell"), right) from None


PERSON = Column("person", "the practice's own reference of the person", REFERENCE.decode, True)
COLUMNS: tuple[Column, ...] = (
    Column("reference", "the practice's own reference of the visit", REFERENCE.decode, True),
    PERSON,
    Column("on", "day of the visit", Cells.past_day, True),
    Column("examiner", "who looked", Cells.text),
    Column("category", "follow-up category set at the visit", choice(get_args(Category))),
    Column(
        "reported",
        "what was reported, by semicolons or commas",
        word_lists.reports,
        is_list=True,
    ),
    Column("note", "note", Cells.note),
    Column("findings", "findings of both ears as JSON, instead of the columns below", _findings),
    *ear_columns(),
)


def _build(values: dict[str, Any]) -> VisitRow:
    """Make the row from its values: each ear as one, or by its columns."""
    ears, made = _ears(values)
    findings: Findings | None = values.pop("findings", None)
    if findings is not None:
        if any(ears.values()):
            right = "the findings either as JSON or in the columns of each ear"
            raise Wrong("is given beside the columns of an ear", right, "findings")
        ears, made = {"right": findings.right, "left": findings.left}, False
    for side, ear in ears.items():
        if ear is not None and not made:
            _refuse_contradictions(side, ear, in_json=findings is not None)
    visit = Visit(
        on=values.pop("on"),
        examiner=values.pop("examiner", None),
        reported=values.pop("reported", ()),
        **ears,
    )
    return VisitRow(visit=visit, **values)


def _ears(values: dict[str, Any]) -> tuple[dict[str, Ear | None], bool]:
    """Take both ears out of the values; whether they were made, and so checked, before."""
    if "right" in values or "left" in values:
        return {side: values.pop(side, None) for side in SIDES}, True
    return take_ears(values), False


def _refuse_contradictions(side: str, ear: Ear, *, in_json: bool = False) -> None:
    """Refuse findings that cannot be true together."""
    for found in contradictions(ear):
        column = "findings" if in_json else f"{side}_{found.row.other}"
        where = f"{side} {found.row.other}: " if in_json else ""
        raise Wrong(where + found.says, found.row.instead, column)


VISITS: FileKind[VisitRow] = FileKind(
    "visits",
    COLUMNS,
    _build,
    key=lambda row: row.reference,
    key_column="reference",
    parts=ear_parts(_refuse_contradictions),
)


def read_visits(
    path: Path, imports: Import, *, today: date, here: Here = HERE
) -> Reading[VisitRow]:
    """Return the visits of a file, good and bad rows, one by one.

    What needs the person (days before birth) is for the register to check.
    """
    return open_rows(path, VISITS, imports, today=today, here=here)
