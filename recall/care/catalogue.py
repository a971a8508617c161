"""The catalogue of findings, read: each entry with what its type says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import msgspec
from msgspec import inspect

from recall.care.dates import Before
from recall.care.ear import Ear
from recall.care.findings.entry import Finding, Holds, Values
from recall.care.measured import Tympanogram


def _leaves(kind: Any) -> Iterator[Any]:
    """Yield the types that a type stands for, in its own order: unions and notes taken apart."""
    origin = get_origin(kind)
    if origin is Annotated and get_args(kind)[0] is int:
        yield kind
    elif origin is Annotated:
        yield from _leaves(get_args(kind)[0])
    elif origin in (Union, UnionType):
        for each in get_args(kind):
            yield from _leaves(each)
    elif kind is not NoneType:
        yield kind


def _held(kind: Any, finding: Finding) -> tuple[Holds, Values]:
    """Return what a field holds, and every value that it can have where these can be counted."""
    leaves = list(_leaves(kind))
    first, origin = leaves[0], get_origin(leaves[0])
    if first is bool:
        return "words", (False, True)
    if origin is Literal:
        return "words", get_args(first)
    if origin is Annotated:
        bounds = inspect.type_info(first)
        assert isinstance(bounds, inspect.IntType) and bounds.ge is not None
        assert bounds.le is not None
        numbers = tuple(range(bounds.ge, bounds.le + 1))
        return ("words" if finding.kind else "count"), numbers
    if origin is dict:
        return "levels", ()
    if first is Tympanogram or Before in leaves:
        return ("trace" if first is Tympanogram else "when"), ()
    raise TypeError(f"an entry of the catalogue holds something unknown: {kind}")


def _read(struct: type[msgspec.Struct]) -> Iterator[Finding]:
    for field in msgspec.structs.fields(struct):
        finding = next((a for a in get_args(field.type)[1:] if isinstance(a, Finding)), None)
        if finding is None:
            raise TypeError(f"the field {field.name} has no entry")
        holds, values = _held(field.type, finding)
        yield replace(finding, name=field.name, holds=holds, values=values)


CATALOGUE: Mapping[str, Finding] = {finding.name: finding for finding in _read(Ear)}
"""Every finding by its field, in the order of the case file."""


def holding(holds: Holds) -> tuple[str, ...]:
    """Return the findings that hold one sort of thing.

    >>> holding("levels")
    ('hearing_dB', 'bone_dB')
    """
    return tuple(name for name, finding in CATALOGUE.items() if finding.holds == holds)
