"""What an action says and which rows it writes, as lines that a person can read and agree to.

A test tells a story of actions and compares all of it with a text in `told/`. After a wanted
change: `RECALL_TOLD=write pytest tests/desk`, then read the difference before committing it.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import msgspec
from sqlalchemy import select

from recall.clock import Clock
from recall.desk.core.session import Desk, staff_member
from recall.errors import RecallError
from recall.records import tables
from recall.records.database.store import Store

FOLDER = Path(__file__).parent / "told"
CHANCE = {"salt", "digest", "payload_digest", "previous", "recorded_at", "recorded_no"}
CHANCE |= {"file_digest", "mark"}
"""Columns that are made by chance, or are the same for all that is done on a day."""
TOGETHER = re.compile(r'(?<="together":")[0-9a-f]{16}(?=")')
"""What marks acts that were done in one go: drawn anew each time."""
LINK = re.compile(r"(History to line \d+), [0-9a-f]{64}")
"""The last link of the history, which holds what was drawn by chance."""
SEAL = re.compile(r',"row":"[0-9a-f]{32}"')
"""What a row said when a line of the history was written, as a digest."""
ROW = re.compile(
    r'(?<=["/])[0-9a-f]{12}(?=["\\])|(?<![0-9A-Za-z+])[0-9a-f]{32}(?:[0-9a-f]{32})?(?![0-9A-Za-z])'
)
"""What a file's row or one of its cells said, or a text, as a digest: it moves with each new
column, and nobody is told it."""
CELLS = re.compile(r"\{[^{}]*by digest[^{}]*\}")
"""The cells of a file's row, each as its digest."""
RULES = {"says", "says_aloud", "source", "known_by", "rule_version"}
"""What a rule says, left out of the rows: it may change and the desk does nothing otherwise."""
LONGEST = 900
"""Letters of a value that are told; the rest of a longer one is told by its length."""
LEFT_OUT = {"due": RULES, "protocol": {"content"}}
SAID = re.compile(rf'"(?:{"|".join(sorted(RULES))})":(?:"[^"]*"|\d+),?')
Rows = dict[tuple[str, str], dict[str, Any]]


def plainly(value: Any) -> str:
    """Return a value in one line."""
    if isinstance(value, Path):
        return value.name
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    text = TOGETHER.sub("by chance", SEAL.sub("", SAID.sub("", str(value))))
    text = CELLS.sub("{cells}", ROW.sub("by digest", LINK.sub(r"\1, by chance", text)))
    said = " ⏎ ".join(text.splitlines())
    return said if len(said) <= LONGEST else f"{said[:LONGEST]}… ({len(said)} letters)"


def parts(value: Any) -> Iterator[tuple[str, Any]] | None:
    """Yield the parts of a value that has any."""
    if is_dataclass(value) and not isinstance(value, type):
        return ((f.name, getattr(value, f.name)) for f in fields(value))
    if isinstance(value, msgspec.Struct):
        return ((name, getattr(value, name)) for name in value.__struct_fields__)
    if isinstance(value, Mapping):
        return ((plainly(k), v) for k, v in value.items())
    if isinstance(value, list | tuple):
        return ((str(n), v) for n, v in enumerate(value, 1))
    if isinstance(value, set | frozenset):
        return ((str(n), v) for n, v in enumerate(sorted(map(str, value)), 1))
    return None


def lines(value: Any, name: str = "") -> Iterator[str]:
    """Yield what a value holds, one line each; what is empty is left out."""
    inner = parts(value)
    if inner is None:
        if value not in (None, "", False):
            texts = value.splitlines() if isinstance(value, str) else [value]
            yield from (f"{name}: {plainly(text)}".removeprefix(": ") for text in texts)
        return
    for part, held in inner:
        yield from lines(held, f"{name}.{part}" if name else part)


def register(store: Store) -> Rows:
    """Return every row of the register as it is, by table and number."""
    found: Rows = {}
    with store.read() as session:
        for name, table in tables.Base.metadata.tables.items():
            keys = [str(column.name) for column in table.primary_key.columns]
            for row in session.execute(select(table)).mappings():
                held = {str(column): value for column, value in row.items()}
                found[name, ",".join(str(held[key]) for key in keys)] = held
    return found


def columns_told(name: str, row: Mapping[str, Any]) -> dict[str, str]:
    """Return the columns of a row that are told, in words."""
    left_out = CHANCE | LEFT_OUT.get(name, set())
    held = {c: v for c, v in row.items() if v not in (None, "", False, ()) and c not in left_out}
    return {c: plainly(v) for c, v in held.items()}


def written(before: Rows, after: Rows) -> Iterator[str]:
    """Yield what was written: new rows, changed columns, and rows that are gone."""
    for key, row in after.items():
        name, old = " ".join(map(str, key)), before.get(key)
        if old == row:
            continue
        now = columns_told(key[0], row)
        if old is None:
            yield f"  + {name}: " + "; ".join(f"{c}={v}" for c, v in now.items() if c != "id")
            continue
        was = columns_told(key[0], old)
        if names := [c for c in {**was, **now} if was.get(c) != now.get(c)]:
            yield f"  ~ {name}: " + "; ".join(f"{c}: {was.get(c)} → {now.get(c)}" for c in names)
    for key in before.keys() - after.keys():
        yield f"  - {' '.join(map(str, key))}"


def in_rows(value: Any) -> Iterator[str]:
    """Yield what a value holds, one line for each of several rows."""
    if isinstance(value, str):
        yield from map(plainly, value.splitlines())
        return
    for name, held in parts(value) or [("", value)]:
        if isinstance(held, list | tuple) and any(map(parts, held)):
            yield f"{name}:"
            yield from (f"  {'; '.join(lines(one))}" for one in held)
        elif said := "; ".join(lines(held)):
            yield said if name.isdigit() else f"{name}: {said}"


class Story:
    """Actions at a desk, one after another, and all that came of each."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self.told = desk, list[str]()
        self.before = register(desk.store)

    def at(self, on: date, by: str | None = None) -> Desk:
        """Go to a day, and to somebody's desk."""
        by = by or self.desk.by.handle
        member = staff_member(self.desk.store, by, on)
        self.desk = replace(self.desk, clock=Clock.at(on), by=member)
        self.told += ["", f"# {on} {by}"]
        return self.desk

    def __call__(self, what: str, act: Callable[..., Any], *given: Any, **more: Any) -> Any:
        """Do something, and keep what it said and wrote."""
        came: Any
        try:
            came = act(self.desk, *given, **more)
            said = list(lines(came))
        except RecallError as error:
            came, said = None, [f"{type(error).__name__}: {error.message} / {error.hint}"]
        after = register(self.desk.store)
        self.told += [f"## {what}", *said, *sorted(written(self.before, after))]
        self.before = after
        return came

    def agrees(self, name: str) -> None:
        """Compare what was told with the text that was read."""
        path, told = FOLDER / f"{name}.txt", "\n".join(self.told).lstrip() + "\n"
        if os.environ.get("RECALL_TOLD") == "write":
            path.parent.mkdir(exist_ok=True)
            path.write_text(told, "utf-8")
        assert told.splitlines() == path.read_text("utf-8").splitlines()


class Looks(Story):
    """What lists and pages say, one line for each row; nothing is written by looking."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self.told = desk, list[str]()

    def __call__(self, what: str, act: Callable[..., Any], *given: Any, **more: Any) -> Any:
        """Look at something, and keep what it said."""
        try:
            came = act(self.desk, *given, **more)
            said = list(in_rows(came))
        except RecallError as error:
            came, said = None, [f"{type(error).__name__}: {error.message} / {error.hint}"]
        self.told += [f"## {what}", *said]
        return came
