"""The seal of a row as it is put in is the one that is read back of it afterwards."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from sqlalchemy import select

from recall.records.database.store import Store
from recall.records.journal import history, seals
from recall.records.tables import History, HistoryPayload
from tests.desk.files import PERSON, VISIT, desk_with, take_in

PEOPLE = (
    PERSON,
    {**PERSON, "reference": "P2", "given_name": "Zoë", "family_name": "Łaski", "phone": ""},
)
VISITS = (
    VISIT,
    {**VISIT, "reference": "V2", "person": "P2", "examiner": "A. Locum", "note": "“tinnitus” L"},
    {**VISIT, "reference": "V3", "right_drum_seen": "", "right_effusion": ""},
    {**VISIT, "reference": "V4", "left_drum_seen": "", "left_effusion": "", "examiner": ""},
)


def told_and_held(store: Store, entity: str) -> list[tuple[str, str]]:
    """What the lines about new rows of a table sealed, and what is read of them now."""
    with store.read() as session:
        lines = session.execute(
            select(History.entity_id, HistoryPayload.content)
            .join(HistoryPayload, HistoryPayload.history_id == History.id)
            .where(History.entity == entity, History.what == "added")
        ).all()
        held = seals.seals(session, [(entity, number) for number, _content in lines])
    return [(msgspec.json.decode(says or "")["row"], held[entity, n]) for n, says in lines]


@pytest.mark.parametrize(("entity", "count"), [("person", 2), ("visit", 4)])
def test_a_seal_worked_out_beforehand_is_the_one_read_back(
    entity: str, count: int, store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", *PEOPLE)
    take_in(desk, tmp_path, "visits", *VISITS)

    found = told_and_held(store, entity)

    assert [told for told, _held in found] == [held for _told, held in found]
    assert len({told for told, _held in found}) == count
    assert history.verify(store) == ()
