"""The rows of a file, decoded one by one: what lands, what does not, and why.

A bad row never lands and never stops the file. Values that are optional
identifiers (phone, postcode …) never keep a row from landing: they are kept as
written, with their problem.
"""

from __future__ import annotations

import difflib
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, Generic, NamedTuple, TypeVar

from recall.config import FileMap, Import
from recall.errors import ConfigError, InputError
from recall.exchange.cells import Cells
from recall.exchange.identifiers import Identifier
from recall.exchange.kinds import Column, FileKind
from recall.exchange.mapping import (
    SIDED,
    absent_headings,
    mapped_words,
    refuse_misspelt,
    refuse_unknown_words,
    several_in,
    words_of,
)
from recall.exchange.parts_in import PartIn, parts_in
from recall.exchange.phone_cells import PhoneCell
from recall.exchange.place_in import Place
from recall.exchange.problem import Problem, Wrong
from recall.exchange.tables_in import Record, Table, fold, open_table
from recall.exchange.understood import in_words

__all__ = ["HERE", "REJECT_COLUMNS", "Column", "FileKind", "Here", "Read", "Reading", "open_rows"]
Row = TypeVar("Row")
_MAY_BE_WRONG = (Identifier, PhoneCell)
_PLAIN = frozenset({str, int, bool, date})
"""What has nothing wrong once it is read."""
REJECT_COLUMNS = ("reject_line", "reject_column", "reject_wrong", "reject_right")
"""What a rejects file adds; never read back."""


class Read(NamedTuple, Generic[Row]):
    """One row as it was read."""

    line: int
    cells: tuple[str, ...]
    """As the file has them, under its headings."""
    row: Row | None
    """None where it must not land."""
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class Reading(Generic[Row]):
    """A file ready to be read; iterating yields each row once, in the file's order."""

    kind: FileKind[Row]
    table: Table
    places: tuple[Place, ...]
    cells: Cells
    ignored: tuple[str, ...]
    """Headings that nothing is read from."""
    defaults: dict[str, Any] = field(default_factory=dict)
    """What is read where the file has no column for it."""
    notes: tuple[int, ...] = ()
    """Where free text stands that is kept as the note."""
    absent: tuple[str, ...] = ()
    """Headings that the settings map and the file does not hold: nothing of theirs is changed."""
    parts: tuple[PartIn[Place], ...] = ()
    plain: tuple[Place, ...] = ()
    """The columns of no part."""

    @property
    def headings(self) -> tuple[str, ...]:
        """Return the headings as the file has them."""
        return self.table.headings

    def __iter__(self) -> Iterator[Read[Row]]:
        """Yield every row, good or bad."""
        seen: dict[str, int] = {}
        for record in self.table:
            read = self._read(record)
            if read.row is not None and (key := self.kind.key(read.row)):
                first = seen.setdefault(key, read.line)
                if first != read.line:
                    read = self._second(read, first)
            yield read

    def refuse(self, read: Read[Row], wrong: Wrong) -> Read[Row]:
        """Return the row as refused, for what only the register can know.

        `wrong.column` is our own name of the column.
        """
        problem = self._across(Record(read.line, list(read.cells)), wrong)
        return Read(read.line, read.cells, None, (*read.problems, problem))

    def understood(self, read: Read[Row]) -> str:
        """Return a row in words, column by column, as it was understood."""
        told = []
        for place in self.places:
            cell = place.mapped(read.cells[place.index].strip())
            value = place.known.get(cell) if cell else None
            if value is not None:
                told.append(f"{place.column.name} {in_words(value)}")
        return ", ".join(told)

    def _read(self, record: Record) -> Read[Row]:
        """Decode one record."""
        cells = tuple(record.cells)
        if wrong := record.wrong or self._ragged(cells):
            right = "a quotation mark inside a cell is doubled, and a cell with commas is quoted"
            problem = Problem(line=record.line, column="", value="", wrong=wrong, right=right)
            return Read(record.line, cells, None, (problem,))
        values, problems = self._values(record)
        if problems and any(not p.kept for p in problems):
            return Read(record.line, cells, None, tuple(problems))
        try:
            row = self.kind.build(values)
        except Wrong as error:
            problems.append(self._across(record, error))
            return Read(record.line, cells, None, tuple(problems))
        return Read(record.line, cells, row, tuple(problems))

    def _ragged(self, cells: tuple[str, ...]) -> str:
        """Return why the number of cells does not fit; empty cells at the end do not count."""
        wanted = len(self.table.headings)
        if len(cells) != wanted and (len(cells) < wanted or any(map(str.strip, cells[wanted:]))):
            return f"has {len(cells)} cells where the headings have {wanted}"
        return ""

    def _values(self, record: Record) -> tuple[dict[str, Any], list[Problem]]:
        """Return the values by column name, and what is wrong with any of them."""
        made = self._made(record)
        values, problems = self._decode(record, self.places if made is None else self.plain)
        if made or self.defaults:
            values = {**self.defaults, **(made or {}), **values}
        if self.notes:
            self._add_notes(record, values)
        return values, problems

    def _made(self, record: Record) -> dict[str, Any] | None:
        """Return the parts of a row, made; None where anything is wrong within one."""
        made: dict[str, Any] = {}
        for part in self.parts:
            found = part.made(record, self._decode)
            if found is None:
                return None
            made[part.name] = found.value
        return made

    def _decode(
        self, record: Record, places: Sequence[Place]
    ) -> tuple[dict[str, Any], list[Problem]]:
        """Return the values of some columns by name, and what is wrong with any of them."""
        values: dict[str, Any] = {}
        problems: list[Problem] = []
        for place in places:
            cell = record.cells[place.index].strip()
            if place.values:
                cell = place.mapped(cell)
            elif type(known := place.known.get(cell)) in _PLAIN:
                values[place.name] = known
                continue
            if cell:
                self._decode_one(record, place, cell, values, problems)
            elif place.column.needed:
                problems.append(_problem(record, place, Wrong("is empty", "it is needed")))
        return values, problems

    def _decode_one(
        self,
        record: Record,
        place: Place,
        cell: str,
        values: dict[str, Any],
        problems: list[Problem],
    ) -> None:
        """Add the value of a cell, in our words, and what is wrong with it."""
        value = place.known.get(cell)
        if value is None:
            try:
                if place.values and (several := several_in(cell)):
                    values |= self._several(place, several)
                    return
                value = place.value(cell, self.cells)
            except Wrong as error:
                problems.append(_problem(record, place, error))
                return
        values[place.name] = value
        if isinstance(value, _MAY_BE_WRONG) and value.wrong:
            kept = Wrong(value.wrong, value.right)
            problems.append(_problem(record, place, kept, kept=True))

    def _add_notes(self, record: Record, values: dict[str, Any]) -> None:
        """Keep free text of other columns as the note, each with its heading."""
        found = [values["note"]] if values.get("note") else []
        for index in self.notes:
            if text := self.cells.note(record.cells[index]):
                found.append(f"{self.table.headings[index]}: {text}")
        if found:
            values["note"] = "\n".join(found)

    def _several(self, place: Place, several: dict[str, str]) -> dict[str, Any]:
        """Return the values of a word that says several things of one ear."""
        side = place.column.name.partition("_")[0]
        found: dict[str, Any] = {}
        for name, word in several.items():
            column = self.kind.column(name) or self.kind.column(f"{side}_{name}")
            if column is None:
                raise Wrong(f"is mapped to {name}, which is no column", "correct the mapping")
            found[column.name] = column.decode(self.cells, word)
        return found

    def _across(self, record: Record, error: Wrong) -> Problem:
        """Return a problem between columns, told with the file's own heading."""
        place = next((p for p in self.places if p.column.name == error.column), None)
        if place is not None:
            return _problem(record, place, error)
        return Problem(
            line=record.line,
            column=error.column,
            value=error.value,
            wrong=error.wrong,
            right=error.right,
        )

    def _second(self, read: Read[Row], first: int) -> Read[Row]:
        """Refuse a row whose key was on an earlier line."""
        wrong = f"is on line {first} already"
        return self.refuse(read, Wrong(wrong, "each only once in a file", self.kind.key_column))


@dataclass(frozen=True)
class Here:
    """Where the practice is: by its country numbers are read, by its zone times."""

    country: str = "GB"
    zone: str = "Europe/London"


HERE = Here()


def open_rows(
    path: Path, kind: FileKind[Row], imports: Import, *, today: date, here: Here = HERE
) -> Reading[Row]:
    """Return the rows of a file of this kind.

    Raises:
        InputError: the file as a whole cannot be read, or lacks a needed heading; or one that is
            mapped seems to be misspelt in it.
        ConfigError: the configuration maps a column that this kind does not have.
    """
    given: FileMap = getattr(imports, kind.name)
    _check_names(kind, given)
    names = {fold(c.name): c for c in kind.columns}
    mapped: dict[str, list[Column]] = defaultdict(list)
    for name, heading in given.headings.items():
        mapped[fold(heading)].append(names[fold(name)])
    table = open_table(
        path,
        names.keys() | mapped.keys(),
        encoding=given.encoding or imports.encoding,
        delimiter=given.delimiter or imports.delimiter,
    )
    places = _places(table, names, mapped, given)
    read = {place.heading for place in places} | {"", *REJECT_COLUMNS}
    ignored = tuple(heading for heading in table.headings if heading not in read)
    date_format = given.date_format or imports.date_format
    cells = Cells(date_format, here.country, today, here.zone)
    refuse_unknown_words(kind, given, cells)
    refuse_misspelt(table, kind, ignored)
    absent = absent_headings(table, kind, {p.column.name for p in places}, ignored, given)
    notes = _notes(table, kind, given)
    kept = {table.headings[index] for index in notes}
    ignored = tuple(heading for heading in ignored if heading not in kept)
    defaults = _defaults(kind, given, cells, {p.column.name for p in places})
    parts = parts_in(kind.parts, places)
    within = {index for part in parts for index in part.indices}
    plain = tuple(place for place in places if place.index not in within)
    return Reading(kind, table, places, cells, ignored, defaults, notes, absent, parts, plain)


def _problem(record: Record, place: Place, error: Wrong, kept: bool = False) -> Problem:
    """Return what is wrong with one cell."""
    return Problem(
        line=record.line,
        column=place.heading,
        value=record.cells[place.index],
        wrong=error.wrong,
        right=error.right,
        kept=kept,
    )


def _check_names(kind: FileKind[Row], given: FileMap) -> None:
    """Refuse a mapping for a column that does not exist."""
    names = [c.name for c in kind.columns]
    bare = {fold(n.partition("_")[2]) for n in names if n.startswith(SIDED)}
    known = {fold(n) for n in names}
    sections = ("headings", given.headings), ("values", given.values), ("defaults", given.defaults)
    for section, table in sections:
        for name in table:
            if fold(name) in known or (section == "values" and fold(name) in bare):
                continue
            near = difflib.get_close_matches(name, names, 1, 0.6)
            hint = f"Did you mean {near[0]}?" if near else f"Columns: {', '.join(names[:12])} …"
            where = f"import.{kind.name}.{section}.{name}"
            raise ConfigError(f"{where}: there is no such column.", hint=hint)


def _notes(table: Table, kind: FileKind[Row], given: FileMap) -> tuple[int, ...]:
    """Return where the free text stands that is kept as the note."""
    wanted = {fold(heading) for heading in given.notes}
    if wanted and kind.column("note") is None:
        raise ConfigError(
            f"import.{kind.name}.notes: {kind.name} have no note.", hint="Leave it out."
        )
    return tuple(i for i, heading in enumerate(table.headings) if fold(heading) in wanted)


def _defaults(
    kind: FileKind[Row], given: FileMap, cells: Cells, there: Collection[str]
) -> dict[str, Any]:
    """Return what is read where the file has no such column; a finding is never made up."""
    found: dict[str, Any] = {}
    for name, word in given.defaults.items():
        column = next(c for c in kind.columns if fold(c.name) == fold(name))
        where = f"import.{kind.name}.defaults.{name}"
        if column.name.startswith((*SIDED, "findings", "reported")):
            raise ConfigError(f"{where}: a finding is never made up.", hint="Leave it out.")
        try:
            value = column.decode(cells, word)
        except Wrong as error:
            raise ConfigError(f"{where}: {word!r} {error.wrong}.", hint=error.right) from None
        if column.name not in there:
            found[column.name] = value
    return found


def _places(
    table: Table, names: dict[str, Column], mapped: Mapping[str, list[Column]], given: FileMap
) -> tuple[Place, ...]:
    """Return where each column stands; a mapped heading goes before our own name.

    One heading may be several of our columns: a day with its time in one cell.
    """
    values = mapped_words(given)
    there = {fold(heading) for heading in table.headings}
    by_mapping = {c.name for h, some in mapped.items() if h in there for c in some}
    found: dict[str, Place] = {}
    for index, heading in enumerate(table.headings):
        own = names.get(fold(heading))
        alone = [own] if own and own.name not in by_mapping else []
        for column in mapped.get(fold(heading), alone):
            if column.name in found:
                raise InputError(
                    f"{table.path.name}: the heading {heading!r} is there twice.",
                    hint="Remove one of the two columns, or name the one that counts differently.",
                )
            words = words_of(column, values, given)
            found[column.name] = Place(index, column, heading, words, column.name)
    return tuple(found.values())
