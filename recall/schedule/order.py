"""The visits of a person in the order in which they are gone through."""

from __future__ import annotations

from datetime import date
from itertools import groupby, pairwise

import msgspec

from recall.care.case import Case, Visit
from recall.care.ear import Ear

NO_EAR = Ear()


def has_findings(visit: Visit) -> bool:
    """Return whether anything at all was recorded at a visit."""
    nothing = (None, NO_EAR)
    return bool(visit.reported) or visit.right not in nothing or visit.left not in nothing


def visits_in_order(case: Case, on: date) -> list[Visit]:
    """Return the visits up to a day; several on one day in an order of their own."""
    visits = [v for v in case.visits if v.on <= on]
    if all(v.on < later.on for v, later in pairwise(visits)):
        return visits
    visits.sort(key=lambda v: v.on)
    ordered: list[Visit] = []
    for _, group in groupby(visits, key=lambda v: v.on):
        same = list(group)
        ordered += same if len(same) == 1 else sorted(same, key=msgspec.json.encode)
    return ordered
