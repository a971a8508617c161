"""A usual visit in a few words: both ears clear as far as they were seen, what was not left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec

from recall.care.case import Visit
from recall.care.clear_ear import Hears, Seen, Wax, clear_ear, normal_values
from recall.care.ear import SIDES, Ear, Side
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import InputError
from recall.records.facts.cases import case_for


@dataclass(frozen=True, slots=True)
class Clear:
    """What was found, what was seen, and how they hear now."""

    wax: Wax
    saw: Seen
    hears: Hears | None = None
    """None where it was not asked, or is not alike in both ears."""
    ears: Sequence[Side] = SIDES


@dataclass(frozen=True, slots=True)
class Cleared:
    """The visit as it is written, and what is left to be looked at."""

    visit: Visit
    left_open: tuple[tuple[Side, str], ...]
    """Findings that were not normal when they were last recorded; they are not written."""


@needs(Right.LOOK)
def clear_visit(desk: Desk, person: str, visit: Visit, clear: Clear) -> Cleared:
    """Return a visit with ears written as clear beside what is recorded; nothing is stored.

    Raises:
        NotFound: no such person.
        InputError: nothing was taken out, and it is said how they hear after it.
    """
    if clear.wax == "none" and clear.hears is not None:
        raise InputError(
            "Nothing was taken out, so there is no hearing after it.",
            hint="Leave --hears out, or say what wax was found.",
        )
    with desk.store.read() as session:
        case = case_for(session, person_row(session, person).id)
    before = msgspec.structs.replace(case, visits=tuple(v for v in case.visits if v.on <= visit.on))
    normal = normal_values(clear.wax, clear.saw, clear.hears)
    left: list[tuple[Side, str]] = []
    for side in SIDES:
        if side in clear.ears:
            ear, doubtful = clear_ear(_ear(visit, side), side, before, normal)
            visit = msgspec.structs.replace(visit, **{side: ear})
            left += [(side, name) for name in sorted(doubtful)]
    return Cleared(visit, tuple(left))


def _ear(visit: Visit, side: Side) -> Ear:
    return (visit.right if side == "right" else visit.left) or Ear()
