"""One adult alone may be reached: a file may say so later, and never takes it back."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.desk.imports.importing import import_file
from recall.desk.imports.proposing import propose
from recall.desk.imports.taking_back import take_back
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import PERSON, counts, desk_with, take_in, write
from tests.desk.practice import rows

BEFORE = PERSON | {"adult_1_phone": "07700 900813", "adult_1_safe_only": ""}
SAFE = BEFORE | {"adult_1_safe_only": "yes"}


def ways(store: Store) -> list[tuple[str, str, bool]]:
    """The numbers and addresses that stand: how each may be used, and whether it is an adult's."""
    held = rows(store, tables.ContactPoint)
    return sorted((w["raw"][:7], w["safe"], w["adult_id"] is not None) for w in held)


OPEN = [
    ("01632 9", "yes", False),
    ("07700 9", "yes", True),
    ("7 Tease", "yes", False),
    ("7 Tease", "yes", True),
]
CLOSED = [
    ("01632 9", "no", False),
    ("07700 9", "only_this", True),
    ("7 Tease", "no", False),
    ("7 Tease", "only_this", True),
]


def test_a_later_file_that_says_so_is_heeded_and_can_be_taken_back(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", BEFORE)
    assert ways(store) == OPEN
    summary = take_in(desk, tmp_path, "people", SAFE)
    assert (counts(summary), ways(store)) == ((0, 1, 0, 0), CLOSED)
    assert summary.run is not None
    take_back(desk, summary.run)
    assert ways(store) == OPEN


@pytest.mark.parametrize("gone", ["empty", "column"])
def test_what_a_file_no_longer_says_of_it_stands_also_for_a_new_number(
    store: Store, tmp_path: Path, gone: str
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", SAFE)
    said = BEFORE | {"phone": "01632 960322"}
    if gone == "column":
        said = {name: cell for name, cell in said.items() if name != "adult_1_safe_only"}
    path = write(tmp_path / "people.csv", said)
    losses = propose(desk, path, "people").losses
    import_file(desk, path, "people", takes_away=len(losses))
    own = [way for way in ways(store) if not way[2]]
    assert own == [way for way in CLOSED if not way[2]]
