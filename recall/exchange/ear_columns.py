"""The flat columns of one ear's findings, made from the case file's own type.

A field of the case file becomes `right_<field>` and `left_<field>`; hearing by
frequency becomes `right_hearing_500`, bone conduction `right_bone_1000`. A field
that the case file gains is a column at once.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, get_args

import msgspec
from msgspec import inspect

from recall.care.dates import Before
from recall.care.ear import EAR_FIELDS, SIDES, Ear, Hz, Level, Tympanogram, TympanogramType
from recall.exchange.cells import Cells, choice
from recall.exchange.problem import Wrong
from recall.exchange.rows_in import Column

_LEVELS = {"hearing": "hearing_dB", "bone": "bone_dB"}
_PLACES: dict[str, tuple[str, str, str]] = {
    **{f"{side}_{f}": (side, f, "") for side in SIDES for f in EAR_FIELDS},
    **{
        f"{side}_{what}_{hz}": (side, field, hz)
        for side in SIDES
        for what, field in _LEVELS.items()
        for hz in get_args(Hz)
    },
}
"""Column → ear, field of the case file, and frequency where it is one of a test."""
_TYPES = {t.casefold(): t for t in get_args(TympanogramType)}
_TRACE_RIGHT = 'a type (A, As, Ad, B, C1, C2), "flat", "flat/1.1" or "-120/0.4/1.1"'
_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?")


def ear_columns() -> tuple[Column, ...]:
    """Return the columns of both ears, right first."""
    return tuple(column for side in SIDES for column in _columns(side))


def take_ears(values: dict[str, Any]) -> dict[str, Ear | None]:
    """Take the values of both ears out of `values`; None for an ear without any."""
    given: dict[str, dict[str, Any]] = {side: {} for side in SIDES}
    for name in [n for n in values if n in _PLACES]:
        side, field, hz = _PLACES[name]
        if hz:
            given[side].setdefault(field, {})[hz] = values.pop(name)
        else:
            given[side][field] = values.pop(name)
    return {side: Ear(**found) if found else None for side, found in given.items()}


def _columns(side: str) -> tuple[Column, ...]:
    """Return the columns of one ear."""
    fields = (f for f in msgspec.structs.fields(Ear) if f.name not in _LEVELS.values())
    plain = (
        Column(f"{side}_{f.name}", f"{side} ear: {f.name}", _decoder(f.name, f.type))
        for f in fields
    )
    levels = (
        Column(f"{side}_{what}_{hz}", f"{side} ear: {what} level at {hz} Hz, dB HL or nr", _level)
        for what in _LEVELS
        for hz in get_args(Hz)
    )
    return (*plain, *levels)


def _decoder(name: str, kind: Any) -> Callable[[Cells, str], Any]:
    """Return how a field is read, by its type in the case file."""
    leaves = list(_leaves(inspect.type_info(kind)))
    if any(isinstance(leaf, inspect.BoolType) for leaf in leaves):
        return Cells.yes_no
    for leaf in leaves:
        if isinstance(leaf, inspect.LiteralType):
            return choice(str(v) for v in leaf.values)
        if isinstance(leaf, inspect.IntType):
            return _whole(kind)
        if isinstance(leaf, inspect.StructType):
            if leaf.cls is Tympanogram:
                return tympanogram
            if leaf.cls is Before:
                return Cells.when
    raise TypeError(f"no column can be made for {name}")


def _leaves(node: Any) -> Any:
    """Yield the types in a union."""
    if isinstance(node, inspect.UnionType):
        for each in node.types:
            yield from _leaves(each)
    elif isinstance(node, inspect.Metadata):
        yield from _leaves(node.type)
    else:
        yield node


def _whole(kind: Any) -> Callable[[Cells, str], int]:
    """Return a decoder of whole numbers within the type's bounds."""

    def decode(cells: Cells, cell: str) -> int:
        """Return the number."""
        return _within(cells.whole(cell), kind)  # type: ignore[no-any-return]

    return decode


def _level(_cells: Cells, cell: str) -> Any:
    """Return a hearing level, or "nr" for no response."""
    if cell.strip().casefold() in ("nr", "n/r", "no response"):
        return "nr"
    return _within(_number(cell, "a level in dB HL, or nr for no response"), Level)


def tympanogram(_cells: Cells, cell: str) -> Tympanogram:
    """Return a trace written as a type, as flat, or as pressure/compliance/volume."""
    first, *others = [part.strip() for part in cell.split("/")]
    numbers = [_number(part, _TRACE_RIGHT) for part in others]
    said: dict[str, Any] = {}
    if first.casefold() == "flat":
        said["flat"] = True
    elif first.casefold() in _TYPES:
        said["type"] = _TYPES[first.casefold()]
    else:
        said["peak_daPa"] = _number(first, _TRACE_RIGHT)
        if not numbers:
            raise Wrong("has a pressure without its compliance", _TRACE_RIGHT)
        said["compliance_ml"] = numbers.pop(0)
    if numbers:
        said["volume_ml"] = numbers.pop(0)
    if numbers:
        raise Wrong("has too many parts", _TRACE_RIGHT)
    trace: Tympanogram = _within(said, Tympanogram)
    return trace


def _number(text: str, right: str) -> float:
    """Return a number; a decimal comma counts as a point."""
    if _NUMBER.fullmatch(text.strip()):
        return float(text.strip().replace(",", "."))
    raise Wrong("is not a number", right)


def _within(value: Any, kind: Any) -> Any:
    """Return the value if the case file's type allows it."""
    try:
        return msgspec.convert(value, kind)
    except msgspec.ValidationError as error:
        what = str(error).split(" - at ")[0]
        bound = re.search(r"([<>]=) (-?[0-9.]+)", what)
        if bound is None:
            raise Wrong("cannot be", what[:1].lower() + what[1:]) from None
        side = "at most" if bound[1] == "<=" else "at least"
        raise Wrong("is out of bounds", f"{side} {bound[2].removesuffix('.0')}") from None
