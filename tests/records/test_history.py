"""The chain of changes shows tampering, and survives a lawful erasure."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from recall.records.database.store import Store
from recall.records.journal import history
from tests.conftest import NOW


@pytest.fixture
def chained(store: Store) -> Store:
    with store.write() as session:
        for number in range(1, 6):
            history.append(session, 1, NOW, "added", "visit", number, now={"note": f"n{number}"})
    return store


def spoil(store: Store, statement: str) -> list[tuple[int, str]]:
    with store.write() as session:
        session.execute(text("PRAGMA defer_foreign_keys = ON"))
        session.execute(text(statement))
    return [(b.seq, b.because) for b in history.verify(store)]


def test_an_empty_history_is_whole(store: Store) -> None:
    assert history.verify(store) == ()


def test_an_untouched_history_is_whole(chained: Store) -> None:
    assert history.verify(chained) == ()


@pytest.mark.parametrize(
    ("statement", "found"),
    [
        ("UPDATE history SET what = 'closed' WHERE id = 2", [(2, "changed")]),
        ("UPDATE history SET by_id = 2 WHERE id = 3", [(3, "changed")]),
        ("UPDATE history SET at = '2020-01-01 00:00:00.000000' WHERE id = 3", [(3, "changed")]),
        (
            "UPDATE history_payload SET content = '{}' WHERE history_id = 4",
            [(4, "what changed was changed")],
        ),
        (
            "UPDATE history_payload SET content = NULL, salt = NULL WHERE history_id = 4",
            [(4, "blanked without a record of it")],
        ),
        (
            "DELETE FROM history_payload WHERE history_id = 4",
            [(4, "without what changed"), (4, "blanked without a record of it")],
        ),
    ],
)
def test_tampering_is_found(chained: Store, statement: str, found: list[tuple[int, str]]) -> None:
    assert spoil(chained, statement) == found


@pytest.mark.parametrize(
    ("gone", "found"),
    [(1, (1, "missing up to 1")), (3, (3, "missing up to 3")), (5, (5, "missing at the end"))],
)
def test_a_missing_row_is_found(chained: Store, gone: int, found: tuple[int, str]) -> None:
    with chained.write() as session:
        session.execute(text(f"DELETE FROM history_payload WHERE history_id = {gone}"))

    assert found in spoil(chained, f"DELETE FROM history WHERE id = {gone}")


def test_a_lawful_erasure_leaves_the_chain_whole_and_its_trace(chained: Store) -> None:
    with chained.write() as session:
        history.erase(session, 1, NOW, "asked to be forgotten", [2, 3])

    assert history.verify(chained) == ()
    with chained.read() as session:
        left = session.execute(
            text("SELECT content, salt, erased_why FROM history_payload WHERE history_id = 2")
        ).one()
    assert tuple(left) == (None, None, "asked to be forgotten")
