"""A long run writes less at once where its writes take long; a person's rows stay together."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from recall.desk.core import portions
from recall.desk.core.portions import LEAST, LONG, Portion
from recall.desk.imports.importing import import_file
from recall.desk.imports.pages import Page
from recall.desk.imports.proposing import NEW_AT_ONCE, Proposal, propose
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import PERSON, VISIT, desk_with, take_in, write
from tests.desk.practice import history_is_whole, rows


def test_long_writes_halve_it_down_to_the_least_and_short_ones_bring_it_back() -> None:
    portion, seen = Portion(60), []
    for took in (LONG * 2,) * 5 + (LONG / 2,) + (0.0,) * 5:
        portion.fit(took)
        seen.append(portion.now)
    assert seen == [30, 15, 7, LEAST, LEAST, LEAST, 10, 20, 40, 60, 60]


def test_less_than_the_least_is_never_made_more() -> None:
    portion = Portion(2)
    portion.fit(LONG * 2)
    assert portion.now == 2


def test_what_is_new_alone_is_split_between_people(store: Store, tmp_path: Path) -> None:
    (page,) = proposed(store, tmp_path).pages
    first, rest = page.split(2)
    assert rest is not None
    assert [fresh.key for fresh in first.rows] == ["V0", "V1", "V2"], "all of one person"
    assert [*first.rows, *rest.rows] == [*page.rows]
    touching = Page(page.rows, touches=True)
    assert touching.split(2) == (touching, None)
    assert page.split(len(page.rows)) == (page, None)


def test_every_row_of_a_file_lands_that_is_split_further_still(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With every write taken for a long one, as on a machine that is busy elsewhere."""
    monkeypatch.setattr(portions, "LONG", -1.0)
    desk = desk_with(store, tmp_path)
    many = [
        PERSON | {"reference": f"P{n}", "family_name": f"Ash{n}"} for n in range(NEW_AT_ONCE + 9)
    ]
    path = write(tmp_path / "people.csv", *many)
    assert len(propose(desk, path, "people").pages) > 1
    assert import_file(desk, path, "people").added == len(rows(store, tables.Person)) == len(many)
    assert history_is_whole(store)


def proposed(store: Store, tmp_path: Path) -> Proposal[Any]:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON, PERSON | {"reference": "P2", "given_name": "Ivor"})
    seen = [
        VISIT | {"reference": f"V{n}", "person": "P1" if n < 3 else "P2", "on": f"2026-08-0{n + 1}"}
        for n in range(5)
    ]
    return propose(desk, write(tmp_path / "visits.csv", *seen), "visits")
