"""Names that lost letters on their way here: a question mark stands where an accented one was."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from recall.desk.imports.file_digests import Fresh, Loss
from recall.exchange.people_in import PersonRow

LOST = "name with “?” for a letter"
_LOST = re.compile(r"\?(?=[^\W\d_])")


def names_of(row: PersonRow) -> str:
    """Return the names in which letters can be missed: the person's and the adults'."""
    return ", ".join([f"{row.given_name} {row.family_name}".strip(), *(a.name for a in row.adults)])


def has_lost(names: str) -> bool:
    """Return whether letters of a name are lost.

    >>> has_lost("Zieli?ska"), has_lost("?aski"), has_lost("Ann (?)"), has_lost("Ann Marsh?")
    (True, True, False, False)
    """
    return bool(_LOST.search(names))


def lost_letters(rows: Sequence[Fresh[PersonRow]], known: Collection[str]) -> list[Loss]:
    """Return whose names would come without their letters, of people who are not known yet."""
    names = ((fresh.key, names_of(fresh.row)) for fresh in rows if fresh.key not in known)
    return [Loss(ref, LOST, said) for ref, said in names if has_lost(said)]
