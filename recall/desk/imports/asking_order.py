"""A file whose dates fit both ways is asked about, with what the register knows already."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from sqlalchemy.orm import Session

from recall.desk.imports.file_digests import Fresh, Importer
from recall.errors import Refused
from recall.exchange.day_order import DayOrder, both_ways, order_of, swapped
from recall.records.facts.cases import pages

Row = TypeVar("Row")


class WhichOrder(Refused):
    """A file's dates fit both ways: somebody has to say whether day or month comes first."""


def ask_for_order(
    session: Session,
    importer: Importer[Row],
    name: str,
    days: DayOrder,
    fresh: Sequence[Fresh[Row]],
) -> None:
    """Ask which order the dates have, unless what the register knows says that it is as set.

    Raises:
        WhichOrder: with what the register knows of the same people or visits.
    """
    as_set, other = _evidence(session, importer, days, fresh)
    if (as_set and not other) or days.open is None:
        return
    line, heading, cell = days.open
    one, two = both_ways(cell, days.date_format) or (None, None)
    first, second = order_of(days.date_format), order_of(swapped(days.date_format))
    raise WhichOrder(
        f"Nothing has landed: the dates of {name} fit both ways. Line {line}, {heading}: {cell} "
        f"is {one} with the {first} first, and {two} with the {second} first. "
        f"Of what the register knows, {as_set:,} fit the first way and {other:,} the second.",
        hint=f"Say which: --{first}-first or --{second}-first.",
    )


def _evidence(
    session: Session, importer: Importer[Row], days: DayOrder, fresh: Sequence[Fresh[Row]]
) -> tuple[int, int]:
    """Return how many known days are as the file has them in the set order, and in the other."""
    as_set = other = 0
    for some in pages(fresh):
        known = importer.known_days(session, [each.key for each in some])
        for each in some:
            day = known.get(each.key)
            both = both_ways(each.read.cells[days.dated_at], days.date_format) if day else None
            if both is None or both[0] == both[1]:
                continue
            as_set += day == both[0]
            other += day == both[1]
    return as_set, other
