"""Parts of a row that many rows share, made once: most ears are a few findings said over and over.

What is remembered is what the cells alone say; a part of which anything is wrong is never kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Generic, NamedTuple, Protocol, TypeVar

from recall.exchange.kinds import Column, Part
from recall.exchange.mapping import several_in
from recall.exchange.problem import Problem, Wrong
from recall.exchange.tables_in import Record

_REMEMBERED = 20_000


class Placed(Protocol):
    """A column found in the file."""

    @property
    def index(self) -> int:
        """Where it stands."""

    @property
    def column(self) -> Column:
        """Which it is."""

    @property
    def values(self) -> Mapping[str, str]:
        """The practice's words for ours."""


Place = TypeVar("Place", bound=Placed)


class Made(NamedTuple):
    """What a part's cells were made into."""

    value: Any


@dataclass(frozen=True, slots=True)
class PartIn(Generic[Place]):
    """Where a part stands in the file, and what its cells were made into before."""

    part: Part
    places: Sequence[Place]
    indices: tuple[int, ...]
    known: dict[tuple[str, ...], Made] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """Return under which name it is handed on."""
        return self.part.name

    def made(
        self,
        record: Record,
        decode: Callable[[Record, Sequence[Place]], tuple[dict[str, Any], list[Problem]]],
    ) -> Made | None:
        """Return what a row's cells are made into; None where anything is wrong with them."""
        cells = record.cells
        mine = tuple([cells[index] for index in self.indices])
        found = self.known.get(mine)
        if found is None:
            values, problems = decode(record, self.places)
            try:
                found = None if problems else Made(self.part.make(values))
            except Wrong:
                return None
            if found is not None:
                if len(self.known) >= _REMEMBERED:
                    self.known.clear()
                self.known[mine] = found
        return found


def parts_in(parts: Sequence[Part], places: Sequence[Place]) -> tuple[PartIn[Place], ...]:
    """Return where the parts stand; none, where a practice's word may set another column too."""
    if any(several_in(word) for place in places for word in place.values.values()):
        return ()
    return tuple(
        PartIn(part, mine, tuple(place.index for place in mine))
        for part in parts
        if (mine := [place for place in places if place.column.name in part.columns])
    )
