"""A visit that a file says otherwise: three ways, with what it had said and what the desk has."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import partial
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
    as_kept,
    changed_fields,
    digest,
    field_digests,
    pairs,
)
from recall.desk.imports.taking_away import ear_digests, merged, said_before
from recall.exchange.problem import Problem
from recall.exchange.visits_in import VisitRow
from recall.records import tables
from recall.records.tables.remembered import Remembered


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
        self._known: dict[str, dict[int, tuple[Ear, str, str]]] = {side: {} for side in SIDES}

    def of(self, side: str, ear: Ear) -> str:
        """Return an ear as JSON."""
        return self._of(side, ear)[1]

    def said(self, side: str, ear: Ear | None) -> str:
        """Return the digests of an ear's findings, as they stand among what a file said."""
        return "" if ear is None else self._of(side, ear)[2]

    def _of(self, side: str, ear: Ear) -> tuple[Ear, str, str]:
        known, number = self._known[side], id(ear)
        found = known.get(number)
        if found is None:
            text = msgspec.json.encode(ear).decode()
            found = known[number] = ear, text, as_kept(ear_digests(side, text))[1:-1]
        return found


class Said:
    """What a file says of visits that are new: as it is kept, and what many say made once."""

    def __init__(self, texts: EarTexts) -> None:
        self._texts = texts
        plain = ("category", "examiner", "note", "on", "person", "reported")
        self._of = {name: Remembered(partial(_one_said, name)) for name in plain}

    def of(self, row: VisitRow) -> str:
        """Return the digests of a row, finding by finding, in the order of their names."""
        visit, texts, of = row.visit, self._texts, self._of
        every: tuple[str, ...] = (
            of["category"][row.category] if row.category else "",
            of["examiner"][visit.examiner] if visit.examiner else "",
            texts.said("left", visit.left),
            of["note"][row.note] if row.note else "",
            of["on"][visit.on],
            of["person"][row.person],
            of["reported"][visit.reported] if visit.reported else "",
            texts.said("right", visit.right),
        )
        return f"{{{','.join(filter(None, every))}}}"


def _one_said(name: str, value: object) -> str:
    return as_kept({name: digest(value)})[1:-1]


class Changes(NamedTuple):
    """What a file changed of a visit, and what it had said of it."""

    names: set[str]
    before: Digests


def said(fields: Mapping[str, Any], before: Digests, columns: Collection[str]) -> Digests:
    """Return what the file says, finding by finding, and what it had said where it is silent."""
    now = field_digests({name: value for name, value in fields.items() if name not in SIDES})
    for side in SIDES:
        if fields[side] is not None:
            now.update(ear_digests(side, msgspec.json.encode(fields[side]).decode()))
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
