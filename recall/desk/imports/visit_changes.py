"""A visit that a file says otherwise: three ways, with what it had said and what the desk has."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, NamedTuple

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.ear import SIDES, Ear
from recall.desk.imports.desk_first import told
from recall.desk.imports.file_digests import (
    Batch,
    Digests,
    Fresh,
    Loss,
    changed_fields,
    field_digests,
    pairs,
)
from recall.desk.imports.taking_away import ear_digests, merged, said_before
from recall.exchange.problem import Problem
from recall.exchange.visits_in import VisitRow
from recall.records import tables


def visit_fields(row: VisitRow) -> dict[str, Any]:
    """Return what a file says of a visit, field by field."""
    visit = row.visit
    return {
        "person": row.person,
        "on": visit.on,
        "examiner": visit.examiner,
        "reported": visit.reported,
        "category": row.category,
        "note": row.note,
        **{side: getattr(visit, side) for side in SIDES},
    }


class EarTexts:
    """Ears as JSON, each made once: rows of a page share what stands in their cells alike."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[Ear, str]] = {}

    def of(self, ear: Ear) -> str:
        """Return an ear as JSON."""
        found = self._known.get(id(ear))
        if found is None:
            found = self._known[id(ear)] = ear, msgspec.json.encode(ear).decode()
        return found[1]


class Changes(NamedTuple):
    """What a file changed of a visit, and what it had said of it."""

    names: set[str]
    before: Digests


def said(
    fields: Mapping[str, Any], before: Digests, columns: Collection[str], texts: EarTexts
) -> Digests:
    """Return what the file says, finding by finding, and what it had said where it is silent."""
    now = field_digests({name: value for name, value in fields.items() if name not in SIDES})
    for side in SIDES:
        if fields[side] is not None:
            now.update(ear_digests(side, texts.of(fields[side])))
    return now | said_before(before, now, columns) if before else now


def changes_of(before: Digests, now: Digests) -> Changes:
    """Return what the file changed; of a visit that no file brought, everything it says."""
    whole_ears = [side for side in SIDES if side in before]  # as earlier versions kept it
    before = {name: was for name, was in before.items() if name not in whole_ears}
    return Changes(changed_fields(before, now), before)


def merge(
    session: Session, batch: Batch, fresh: Fresh[VisitRow], old: tables.Visit, changes: Changes
) -> dict[str, Any] | None:
    """Return the visit as it stands with what the file changed put in; None where it stays."""
    fields = visit_fields(fresh.row)
    wanted = select(tables.Findings.ear, tables.Findings.content).where(
        tables.Findings.visit_id == old.id
    )
    held = pairs(session, wanted)
    ears: dict[str, Ear | None] = {
        side: msgspec.json.decode(held[side], type=Ear) if side in held else None for side in SIDES
    }
    stands: dict[str, Any] = {
        "on": old.on,
        "examiner": old.examiner,
        "category": old.category,
        "note": old.note,
        "reported": msgspec.Raw(old.reported.encode()),
        **ears,
    }
    kept = {name: value for name, value in stands.items() if name not in changes.names}
    if "examiner" not in changes.names and old.examiner_id is not None:
        kept["examiner_id"] = old.examiner_id
    for side in SIDES:
        mine = {name for name in changes.names if name.startswith(f"{side}/")}
        came = merged(side, ears[side], getattr(fresh.row.visit, side), changes.before, mine)
        kept[side] = came.ear
        batch.lost += [Loss(fresh.key, "finding", f"{side} {name}") for name in came.gone]
        batch.kept += [_held_back(fresh, side, name) for name in came.held]
    batch.lost += _moved(fresh, old, changes.names)
    plain = {name for name in changes.names if "/" not in name}
    return {**fields, **kept} if plain or any(kept[s] != ears[s] for s in SIDES) else None


def _moved(fresh: Fresh[VisitRow], old: tables.Visit, changed: set[str]) -> list[Loss]:
    """Return what a visit loses where it moves to another day or person, or says less."""
    lost = []
    if "on" in changed and fresh.row.visit.on != old.on:
        lost.append(Loss(fresh.key, "day of a visit", f"{old.on}, now {fresh.row.visit.on}"))
    if "person" in changed:
        lost.append(Loss(fresh.key, "person of a visit", f"now {fresh.row.person}"))
    if "reported" in changed and old.reported != "[]":
        lost.append(Loss(fresh.key, "what was reported"))
    return lost


def _held_back(fresh: Fresh[VisitRow], side: str, name: str) -> Problem:
    wrong = f"changed for visit {fresh.key}, and the desk changed it since: the desk's stands"
    right = "correct the visit at the desk if the file is right"
    return told(fresh, f"{side}_{name}", wrong, right)
