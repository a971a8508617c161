"""References that are nearly another's: by case, zeros in front, marks, signs that nobody sees."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.imports.file_digests import Fresh, Loss
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.search_keys import ref_key, ref_spellings

_MOST = 50
"""References of a page that are looked up so; a wrong file has thousands."""
NEARLY = "reference nearly like another's"
_PARTS = re.compile(r"\d+|[^\W\d_]+")


@dataclass
class Near:
    """The references of the register, by what they have in common with others."""

    known: frozenset[str] = frozenset()
    alike: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))

    def add(self, refs: Iterable[str]) -> None:
        """Add references."""
        for ref in refs:
            self.alike[bare(ref)].add(ref)

    def losses(self, rows: Sequence[Fresh[Any]]) -> list[Loss]:
        """Return whose references are new, and nearly those of others: it is asked who they are."""
        found = []
        for ref in (fresh.key for fresh in rows if fresh.key not in self.known):
            others = sorted(self.alike[bare(ref)] - {ref})
            if others and not (ref < others[0] and self.known.isdisjoint(others)):
                found.append(Loss(ref, NEARLY, ", ".join(others)))
        return found


@lru_cache(1 << 16)
def bare(ref: str) -> str:
    """Return a reference without what gets lost on the way through other programs.

    >>> bare("p-007") == bare("P7"), bare("1 2") == bare("12")
    (True, False)
    """
    parts = _PARTS.findall(ref_key(ref))
    return " ".join(part.lstrip("0") or "0" if part.isdigit() else part for part in parts)


def near_references(session: Session) -> Near:
    """Return the references of everybody in the register."""
    c = tables.Person
    known = frozenset(session.scalars(select(c.ref).where(stands(c))))
    near = Near(known)
    near.add(known)
    return near


def nearly(session: Session, refs: Iterable[str]) -> dict[str, str]:
    """Return references of the register that are nearly some that nobody has."""
    found: dict[str, str] = {}
    c, p = tables.PersonKey, tables.Person
    for ref in sorted(refs)[:_MOST]:
        wanted = select(p.ref).join(c, c.person_id == p.id).order_by(p.ref)
        alike = wanted.where(c.kind == "ref", c.key.in_(ref_spellings(ref)), stands(p)).limit(1)
        if (near := session.scalar(alike)) is not None:
            found[ref] = near
    return found
