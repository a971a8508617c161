"""The batches of the sites that are shown: those that hold a letter to one of their people."""

from __future__ import annotations

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session, aliased

from recall.records.facts.candidates import of_sites
from recall.records.tables import Batch, Letter


def of_shown(session: Session) -> tuple[ColumnElement[bool], ...]:
    """Return the condition that a batch holds a letter to somebody who is not left out."""
    one = aliased(Letter)
    shown = of_sites(session, one.person_id)
    mine = select(one.id).where(one.batch_id == Batch.id, *shown)
    return (mine.exists(),) if shown else ()
