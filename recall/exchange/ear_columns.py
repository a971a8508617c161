"""The flat columns of one ear's findings, made from the catalogue.

A finding becomes `right_<field>` and `left_<field>`; hearing by frequency becomes
`right_hearing_500`, bone conduction `right_bone_1000`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from functools import partial
from typing import Any, get_args

import msgspec

from recall.care.catalogue import CATALOGUE, holding
from recall.care.ear import EAR_FIELDS, SIDES, Ear
from recall.care.findings.entry import Finding
from recall.care.measured import Hz, Level, Tympanogram, TympanogramType
from recall.exchange.cells import Cells, choice
from recall.exchange.kinds import Column, Part
from recall.exchange.problem import Wrong

_LEVELS = {CATALOGUE[name].column: name for name in holding("levels")}
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


def ear_parts(check: Callable[[str, Ear], None]) -> tuple[Part, ...]:
    """Return the columns of each ear as one part, made into its findings or None.

    `check` raises `Wrong` for what cannot be true together.
    """

    def made(side: str, values: dict[str, Any]) -> Ear | None:
        ear = take_ears(dict(values))[side]
        if ear is not None:
            check(side, ear)
        return ear

    return tuple(
        Part(
            side,
            frozenset(n for n, place in _PLACES.items() if place[0] == side),
            partial(made, side),
        )
        for side in SIDES
    )


def findings_in(columns: Collection[str]) -> frozenset[tuple[str, str]]:
    """Return which findings, as ear and field, a file with such columns says anything of."""
    if "findings" in columns:
        return frozenset((side, name) for side in SIDES for name in EAR_FIELDS)
    return frozenset(_PLACES[name][:2] for name in columns if name in _PLACES)


def _columns(side: str) -> tuple[Column, ...]:
    """Return the columns of one ear."""
    kinds = msgspec.structs.fields(Ear)
    plain = (
        Column(f"{side}_{f.name}", f"{side} ear: {f.name}", _decoder(CATALOGUE[f.name], f.type))
        for f in kinds
        if CATALOGUE[f.name].holds != "levels"
    )
    levels = (
        Column(f"{side}_{what}_{hz}", f"{side} ear: {what} level at {hz} Hz, dB HL or nr", _level)
        for what in _LEVELS
        for hz in get_args(Hz)
    )
    return (*plain, *levels)


def _decoder(finding: Finding, kind: Any) -> Callable[[Cells, str], Any]:
    """Return how a finding is read."""
    if finding.holds == "trace":
        return tympanogram
    if finding.holds == "when":
        return Cells.when
    if finding.is_flag:
        return Cells.yes_no
    if finding.holds == "count" or isinstance(finding.values[0], int):
        return _whole(kind)
    return choice(finding.values)


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
