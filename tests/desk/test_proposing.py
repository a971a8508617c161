"""What a file would do is shown before anything lands, and counted again while it lands."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest

from recall.desk.core.session import Desk
from recall.desk.imports import proposing
from recall.desk.imports.difference_words import does
from recall.desk.imports.importing import import_file
from recall.desk.imports.landing import land
from recall.desk.imports.proposing import propose
from recall.desk.imports.runs import UNFINISHED
from recall.errors import Conflict, InputError, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.bare import content
from tests.desk.files import PERSON, VISIT, counts, desk_with, take_in, to_plan, write
from tests.desk.practice import history_is_whole, rows

LATER = VISIT | {"reference": "V2", "on": "2026-09-05", "right_effusion": "absent"}


def held_by(store: Store) -> bytes:
    store.close()
    return content(store.path)


def seen(store: Store, folder: Path, **more: str) -> Desk:
    """The desk once the child and a visit with fluid are known."""
    desk = desk_with(store, folder)
    take_in(desk, folder, "people", PERSON)
    take_in(desk, folder, "visits", VISIT | more)
    return desk


def test_a_proposal_leaves_nothing_in_the_register(store: Store, tmp_path: Path) -> None:
    desk = seen(store, tmp_path)
    before = held_by(store)
    changed = VISIT | {"right_effusion": "absent"}
    proposal = propose(desk, write(tmp_path / "visits.csv", changed, LATER), "visits")
    assert held_by(store) == before
    assert (proposal.added, proposal.changed) == (1, 1)
    assert proposal.taken_away == {"due that would close": 1, "finding": 1}


def test_what_a_newer_visit_answers_lands_on_the_word(store: Store, tmp_path: Path) -> None:
    desk = seen(store, tmp_path)
    proposal = propose(desk, write(tmp_path / "visits.csv", VISIT, LATER), "visits")
    assert (proposal.answered, proposal.losses) == (1, [])
    assert counts(land(desk, proposal)) == (1, 0, 1, 0)
    assert rows(store, tables.Due, is_open=True) == []


def test_a_visit_put_in_behind_another_needs_the_number_of_what_it_closes(
    store: Store, tmp_path: Path
) -> None:
    """An older visit with fluid makes that of today the second: what it asked for is later."""
    desk = seen(store, tmp_path)
    behind = VISIT | {"reference": "V0", "on": "2026-06-01", "right_effusion": "present"}
    proposal = propose(desk, write(tmp_path / "visits.csv", VISIT, behind), "visits")
    was = {(d["track"], d["latest"]) for d in rows(store, tables.Due, is_open=True)}
    gone = len(proposal.losses)
    land(desk, proposal, gone or None)
    now = {(d["track"], d["latest"]) for d in rows(store, tables.Due, is_open=True)}
    late = [was_on for track, was_on in was if all(t != track or on > was_on for t, on in now)]
    assert len(late) == gone


def test_another_number_by_now_lands_nothing(store: Store, tmp_path: Path) -> None:
    desk = seen(store, tmp_path)
    path = write(tmp_path / "visits.csv", VISIT | {"right_effusion": "absent"})
    proposal = propose(desk, path, "visits")
    before = rows(store, tables.Findings)
    with store.write() as session:  # what would go was put right at the desk meanwhile
        session.query(tables.Findings).filter_by(ear="right").update({"content": "{}"})
    with pytest.raises(Conflict, match="0 rows have landed"):
        land(desk, proposal, len(proposal.losses))
    assert len(rows(store, tables.Visit)) == 1
    assert len(before) == len(rows(store, tables.Findings))


def test_it_is_shown_how_the_file_looks(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    people = [
        PERSON | {"reference": f"P{n}", "given_name": name, "born": f"201{n}-03-02"}
        for n, name in enumerate(("Siân", "Zoë", "Rowan", "Łukasz", "Ó Briain"))
    ]
    path = write(tmp_path / "people.csv", *people)
    seen: list[tuple[int, int]] = []
    looks = propose(desk, path, "people", lambda *how_far: seen.append(how_far)).looks
    assert seen[-1] == (5, 5)
    assert (looks.encoding, looks.accents) == ("UTF-8", ["Siân", "Zoë", "Łukasz"])
    assert (looks.first_day, looks.last_day) == (date(2010, 3, 2), date(2014, 3, 2))
    first, second = looks.first_rows
    assert first.startswith("line 2: reference P0, given_name Siân, ")
    assert second.startswith("line 3: reference P1, ")


def test_it_is_shown_why_rows_would_go_back(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    wrong = [VISIT | {"reference": f"W{n}", "right_drum_seen": "heaps"} for n in range(1_000)]
    path = write(tmp_path / "visits.csv", VISIT, *wrong, VISIT | {"on": "2027-01-01"})
    told = list(does(propose(desk, path, "visits")))
    assert told == [
        "It would add 1, change 0, leave 0 as they are and send 1,001 back.",
        "  1,000 × right_drum_seen: is not a known word (heaps)",
        "  1 × on: is after today (2027-01-01)",
    ]


def many(count: int) -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    """People, each with two visits, in a file that is not in the order of people."""
    people = [PERSON | {"reference": f"P{n}"} for n in range(count)]
    visits = [
        VISIT | {"reference": f"V{v}-{n}", "person": f"P{n}", "on": f"2026-08-0{v}"}
        for v in (1, 2)
        for n in range(count)
    ]
    return people, visits


def stopped_after(pages: int, landing: list[int]) -> Any:
    """Progress that stops the run once some pages have landed."""

    def progress(done: int, total: int) -> None:
        landing.append(done)
        if len(landing) == pages:
            raise KeyboardInterrupt

    return progress


def test_a_long_file_lands_in_pages_of_whole_people_and_goes_on_where_it_was_stopped(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(proposing, "AT_ONCE", 4)
    monkeypatch.setattr(proposing, "NEW_AT_ONCE", 4)
    monkeypatch.setattr(proposing, "PAGE", 4)
    desk = desk_with(store, tmp_path)
    people, visits = many(7)
    import_file(desk, write(tmp_path / "people.csv", *people), "people")
    path = write(tmp_path / "visits.csv", *visits)
    landing: list[int] = []
    with pytest.raises(KeyboardInterrupt):
        land(desk, propose(desk, path, "visits"), progress=stopped_after(2, landing))
    held = [row["person_id"] for row in rows(store, tables.Visit)]
    assert landing == [4, 8] and sorted(held) == [1, 1, 2, 2, 3, 3, 4, 4]
    assert to_plan(store) == []  # nothing of it is chased until it is done
    summary = import_file(desk, path, "visits")
    assert counts(summary) == (6, 0, 8, 0)
    assert summary.run == 2 and len(rows(store, tables.ImportRun)) == 2
    assert to_plan(store) == [1, 2, 3, 4, 5, 6, 7]
    assert history_is_whole(store)


def test_whoever_a_stopped_run_brought_is_planned_with_the_next_that_is_done(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(proposing, "AT_ONCE", 4)
    monkeypatch.setattr(proposing, "NEW_AT_ONCE", 4)
    monkeypatch.setattr(proposing, "PAGE", 4)
    desk = desk_with(store, tmp_path)
    people, visits = many(4)
    import_file(desk, write(tmp_path / "people.csv", *people), "people")
    path = write(tmp_path / "visits.csv", *visits)
    with pytest.raises(KeyboardInterrupt):
        land(desk, propose(desk, path, "visits"), progress=stopped_after(1, []))
    corrected = write(tmp_path / "visits.csv", *visits[:5], visits[5] | {"note": "Corrected."})
    done = import_file(desk, corrected, "visits")
    assert to_plan(store)[:2] == [1, 2]
    (stopped,) = rows(store, tables.ImportRun, kind="visits", id=2)
    assert msgspec.json.decode(stopped["counts"]) == {UNFINISHED: False, "done_by": done.run}


def test_rows_sent_back_are_written_first_and_over_nothing(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    bad = PERSON | {"reference": "P9", "born": "never"}
    first = take_in(desk, tmp_path, "people", PERSON, bad).rejects_path
    second = take_in(desk, tmp_path, "people", PERSON, bad).rejects_path
    assert first is not None and second is not None and first != second
    assert first.read_bytes() == second.read_bytes()


def test_where_rows_sent_back_cannot_be_written_nothing_lands(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    full = Path("/dev/full")
    path = write(tmp_path / "people.csv", PERSON, PERSON | {"reference": "P9", "born": "never"})
    with pytest.raises(InputError, match=r"left as it is|could not be written"):
        import_file(desk, path, "people", rejects_path=full)
    assert rows(store, tables.Person) == []


def test_a_finding_in_a_visit_to_come_is_no_finding(store: Store, tmp_path: Path) -> None:
    desk = seen(store, tmp_path)
    tomorrow = (desk.today + timedelta(days=1)).isoformat()
    with pytest.raises(Refused, match="take away"):
        import_file(desk, write(tmp_path / "visits.csv", VISIT | {"left_effusion": ""}), "visits")
    assert counts(take_in(desk, tmp_path, "visits", LATER | {"on": tomorrow}))[3] == 1
