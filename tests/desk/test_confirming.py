"""Imported plans wait for a named clinician, who confirms one by one or what was counted."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.desk.imports.importing import import_file
from recall.desk.plans.confirming import confirm, confirm_all, confirm_people, plans, waiting
from recall.desk.post.batches import prepare
from recall.desk.worklists.queue_lines import queue_lines
from recall.errors import Conflict, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import PERSON, VISIT, desk_with, take_in, write
from tests.desk.practice import history_is_whole, later, rows


@pytest.fixture
def two_people(store: Store, tmp_path: Path) -> None:
    """Two children, each with one imported visit."""
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON, {**PERSON, "reference": "P2", "given_name": "Wren"})
    take_in(desk, tmp_path, "visits", VISIT, {**VISIT, "reference": "V2", "person": "P2"})


@pytest.mark.usefixtures("two_people")
def test_counts_and_samples_come_first(store: Store, tmp_path: Path) -> None:
    found = waiting(desk_with(store, tmp_path))
    assert (found.visits, found.people, found.to_plan) == (2, 2, 0)
    (group,) = found.groups
    assert (group.category, group.asks, group.late) == ("fluid_recheck", 2, 0)
    assert group.samples == ("P1", "P2")
    (first, second) = plans(desk_with(store, tmp_path))
    assert (first.reference, second.reference) == ("P1", "P2")
    assert first.asks[0].rule == "fluid-child-look"


@pytest.mark.usefixtures("two_people")
def test_only_somebody_who_may_decide_confirms(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path, by="rob")
    for confirms in (lambda: confirm(desk, [1]), lambda: confirm_all(desk, 2)):
        with pytest.raises(Refused, match=r"rob \(reception\) may not"):
            confirms()
    assert waiting(desk).visits == 2


@pytest.mark.usefixtures("two_people")
def test_one_by_one_and_each_once(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path, by="clara")
    assert confirm_people(desk, ["P1"]) == 1
    assert confirm(desk, [1, 2]) == 1
    assert [v["confirmed_by_id"] for v in rows(store, tables.Visit)] == [1, 1]
    assert waiting(desk).visits == 0
    assert history_is_whole(store)
    with pytest.raises(NotFound):
        confirm_people(desk, ["P1", "P9"])
    with pytest.raises(NotFound):
        confirm(desk, [99])


@pytest.mark.usefixtures("two_people")
def test_all_at_once_only_where_it_is_what_was_seen(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path, by="clara")
    with pytest.raises(Conflict, match="2 visits wait, not 1"):
        confirm_all(desk, 1)
    assert waiting(desk).visits == 2
    assert confirm_all(desk, 2) == 2


@pytest.mark.usefixtures("two_people")
def test_nothing_is_confirmed_before_it_is_planned(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path, by="clara")
    more = {**VISIT, "reference": "V3", "on": "2026-09-03"}
    import_file(desk, write(tmp_path / "visits.csv", more), "visits")
    with pytest.raises(Refused, match="not worked out yet"):
        confirm_all(desk, 3)


@pytest.mark.usefixtures("two_people")
def test_no_letter_before_a_plan_is_confirmed(store: Store, tmp_path: Path) -> None:
    weeks_later = later(desk_with(store, tmp_path, by="clara"), 14)
    before = prepare(weeks_later)
    assert (before.written, before.unconfirmed) == (0, 2)
    assert rows(store, tables.Letter) == []
    confirm_people(weeks_later, ["P1"])
    after = prepare(weeks_later)
    assert (after.written, after.unconfirmed) == (1, 1)


@pytest.mark.usefixtures("two_people")
def test_the_queue_says_that_a_plan_is_not_confirmed(store: Store, tmp_path: Path) -> None:
    months_later = later(desk_with(store, tmp_path), 90)
    lines = queue_lines(months_later, letters=True)
    assert {line.reference for line in lines} == {"P1", "P2"}
    assert all("not confirmed" in " ".join(line.warnings) for line in lines)


def test_notes_with_words_of_alarm_are_not_confirmed_by_the_count_of_visits_alone(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path, by="clara")
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", {**VISIT, "note": "Face weak on the right since Sunday."})
    assert waiting(desk).alarms == ("P1",)
    for said in (0, 2):
        with pytest.raises(Refused, match="Words of alarm in the notes of 1 of these people"):
            confirm_all(desk, 1, said)
    assert waiting(desk).visits == 1
    assert confirm_all(desk, 1, 1) == 1
