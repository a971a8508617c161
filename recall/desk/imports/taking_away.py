"""What a file would take away: only by the columns that it has, and never unseen.

A column that is missing says nothing. What would go, vanish or become milder is counted while the
file lands, and the whole file stays out unless just that number was given.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from functools import cache, lru_cache
from typing import Any

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.catalogue import CATALOGUE
from recall.care.ear import EAR_FIELDS, SIDES, Ear, Side
from recall.desk.imports.file_digests import Batch, Digests, Loss, digest
from recall.desk.imports.people_items import OLDER
from recall.errors import Refused
from recall.exchange.ear_columns import findings_in
from recall.exchange.people_in import PEOPLE
from recall.records import tables
from recall.records.facts.cases import stands

SHOWN = 8
"""Lines of what would go that are shown one by one."""
SAFE_ONLY = "safe_only"
"""That somebody may be reached through one adult alone."""
NEVER_EMPTIED = ("deceased_on", "objected", "safe_contact", SAFE_ONLY)
"""What no file takes back: a death, an objection, what to know before anybody is contacted."""
_ADDRESS = ("address_1", "address_2", "address_3", "address_4", "postcode")
_ADULTS = tuple(c.name for c in PEOPLE.columns if c.name.startswith("adult_"))
TOLD_BY: dict[str, tuple[str, ...]] = {
    "gp": ("gp_name", "gp_practice"),
    "own_phones": ("phone", "phone_2"),
    "own_email": ("email",),
    "own_address": _ADDRESS,
    "adult": _ADULTS,
    "adults_contact": (*_ADULTS, *_ADDRESS),
    "risk": ("risks",),
    SAFE_ONLY: tuple(name for name in _ADULTS if name.endswith(SAFE_ONLY)),
    OLDER: ("phone", "phone_2", "email", *_ADDRESS, *_ADULTS),
}
"""What is told by other columns than one of its own name: a field, or a family of items."""


def refuse_unless(losses: Sequence[Loss], number: int | None) -> None:
    """Let a file land where nothing goes, or just as much as was said.

    Raises:
        Refused: something goes that was not said, with what and how much.
    """
    count = len(losses)
    if count == (number or 0):
        return
    if not count:
        raise Refused(
            "Nothing has landed: this file would take nothing away.",
            hint="Take it in without --takes-away.",
        )
    kinds, lines = counted(losses), named(losses)
    more = f"; and {count - SHOWN:,} more" if count > SHOWN else ""
    raise Refused(
        f"Nothing has landed. This file would take away {count:,}: {kinds}. "
        f"{'; '.join(lines[:SHOWN])}{more}.",
        hint=f"If that is right, take it in with --takes-away {count}.",
    )


def counted(losses: Sequence[Loss]) -> str:
    """Return how much of what would go, what presses most first."""
    found = Counter(each.what for each in losses)
    return ", ".join(f"{found[what]:,} × {what}" for what in sorted(found, key=_pressing))


def named(losses: Sequence[Loss]) -> list[str]:
    """Return what would go by name, what presses most first."""
    first = sorted(losses, key=lambda loss: _pressing(loss.what))
    return [f"{ref}: {what}{f' ({which})' if which else ''}" for ref, what, which in first]


def _pressing(what: str) -> tuple[int, str]:
    order = ("referral", "due", "finding")
    return next((n for n, word in enumerate(order) if what.startswith(word)), len(order)), what


def silent_names(batch: Batch) -> Callable[[str], bool]:
    """Return whether a file says too little of a field or an item: a column of it is missing.

    Missing is a column that earlier files had and this one has not.
    """
    missing = batch.ever - batch.columns

    @cache
    def silent(name: str) -> bool:
        return not missing.isdisjoint(TOLD_BY.get(name, (name,)))

    return lambda name: silent(name.partition("/")[0])


def columns_before(
    session: Session, kind: str, every: Iterable[str], *, but: int
) -> frozenset[str]:
    """Return the columns that earlier files of a kind had; all, where nobody wrote them down.

    `but` is the run that is taken in now.
    """
    c = tables.ImportRun
    wanted = select(c.counts).where(c.kind == kind, c.id != but, stands(c))
    said = [msgspec.json.decode(counts) for counts in session.scalars(wanted)]
    told = [one["columns"] for one in said if "columns" in one]
    if said and not told:
        return frozenset(every)
    return frozenset(name for names in told for name in names)


@lru_cache(1 << 12)
def ear_digests(side: str, encoded: str) -> Mapping[str, str]:
    """Return the digests of an ear, given as JSON, finding by finding.

    Made once of what many ears are: most are a few findings said over and over.
    """
    ear = msgspec.json.decode(encoded, type=Ear)
    said = ((name, getattr(ear, name)) for name in EAR_FIELDS)
    return {f"{side}/{name}": digest(value) for name, value in said if value is not None}


def said_before(before: Digests, now: Digests, columns: Collection[str]) -> Digests:
    """Return what was said of a visit before by columns that its file has not any more."""
    if not before:
        return {}
    read = {f"{side}/{name}" for side, name in findings_in(columns)}
    read |= {*columns, *SIDES}  # earlier versions kept one digest for a whole ear
    return {name: was for name, was in before.items() if name not in now and name not in read}


class Merged(msgspec.Struct, frozen=True):
    """An ear after a file: three ways, what the file changed and what the desk changed since."""

    ear: Ear | None
    gone: tuple[str, ...]
    """Findings that vanish or become milder."""
    held: tuple[str, ...]
    """Findings that both changed: the desk's stands."""


def merged(
    side: Side, stands: Ear | None, file: Ear | None, was: Mapping[str, str], changed: Iterable[str]
) -> Merged:
    """Return an ear with what the file changed, where the desk did not change it too."""
    values = {name: getattr(stands, name) for name in CATALOGUE} if stands else {}
    gone, held = [], []
    for key in sorted(changed):
        name = key.partition("/")[2]
        mine, new = values.get(name), getattr(file, name, None)
        if mine == new:
            continue
        if (digest(mine) if mine is not None else None) != was.get(key):
            held.append(name)
            continue
        values[name] = new
        if mine is not None and _less(name, mine, new):
            gone.append(name)
    ear = Ear(**{name: value for name, value in values.items() if value is not None})
    return Merged(ear if ear != Ear() else None, tuple(gone), tuple(held))


def _less(name: str, mine: Any, new: Any) -> bool:
    """Return whether a finding goes, or is not plainly worse than it was."""
    order: Sequence[Any] = CATALOGUE[name].values
    if new is None or mine not in order or new not in order:
        return True
    return order.index(new) < order.index(mine)
