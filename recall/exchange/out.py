"""Lists for other programs: the same rows as CSV (RFC 4180) and as JSON."""

from __future__ import annotations

import csv
import dataclasses
import io
from collections.abc import Iterable
from datetime import date, datetime, time
from enum import Enum
from pathlib import Path
from typing import Any

import msgspec

from recall import output
from recall.exchange.spreadsheet import escape, for_spreadsheets


def field_names(kind: type[Any]) -> tuple[str, ...]:
    """Return the columns of a kind of row: a frozen dataclass or a msgspec Struct."""
    if dataclasses.is_dataclass(kind):
        return tuple(f.name for f in dataclasses.fields(kind))
    return tuple(f.encode_name for f in msgspec.structs.fields(kind))


def to_csv(kind: type[Any], rows: Iterable[Any]) -> str:
    """Return rows as CSV with a heading line, which is there without any row, too."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\r\n")
    names = field_names(kind)
    writer.writerow(names)
    for row in rows:
        plain = msgspec.to_builtins(row)
        writer.writerow([escape(as_cell(plain.get(name))) for name in names])
    return file.getvalue()


def to_json(rows: Iterable[Any]) -> str:
    """Return rows as a JSON list of objects, one row a line."""
    lines = [msgspec.json.encode(row).decode() for row in rows]
    return "[\n" + ",\n".join(lines) + "\n]\n" if lines else "[]\n"


def write_csv(
    path: Path, kind: type[Any], rows: Iterable[Any], *, named_here: bool = False
) -> None:
    """Write rows as a CSV file that spreadsheets read as UTF-8."""
    output.write(path, for_spreadsheets(to_csv(kind, rows)), named_here=named_here)


def as_cell(value: Any) -> str:
    """Return one value as text: yes and no, days as YYYY-MM-DD, lists apart by semicolons.

    >>> as_cell(("right", "left")), as_cell(None), as_cell(True)
    ('right; left', '', 'yes')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return as_cell(value.value)
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    if isinstance(value, list | tuple | dict):
        return _several(value)
    return str(value)


def _several(value: list[Any] | tuple[Any, ...] | dict[Any, Any]) -> str:
    """Return a flat list apart by semicolons, and anything deeper as JSON."""
    if isinstance(value, dict) or any(isinstance(v, dict | list | tuple) for v in value):
        return msgspec.json.encode(value).decode()
    return "; ".join(as_cell(part) for part in value)
