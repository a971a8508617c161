"""What lies on a batch counts it; what is printed again is held against what was printed."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest
from pypdf import PdfReader
from sqlalchemy import select, update

from recall.desk.core.session import Desk
from recall.desk.people.deaths import record_death
from recall.desk.post.cover import LARGE, WINDOW
from recall.desk.post.posting import hold, mark_posted, pile_of
from recall.desk.post.printing import Printed, print_batch
from recall.errors import Conflict
from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal.head_file import told
from tests.desk.posting import child_with_fluid, letters, made, number, on
from tests.desk.practice import desk_at, later, with_files
from tests.desk.test_one_envelope import POST_DAY, adult, moved_to


@pytest.fixture
def then(store: Store, tmp_path: Path) -> Desk:
    """A post day: two siblings, somebody alone, two in large print with one reader."""
    desk = with_files(desk_at(store), letters=tmp_path / "letters")
    child_with_fluid(desk, "W1")
    child_with_fluid(desk, "W2")
    moved_to(desk, child_with_fluid(desk, "W3"), value="3 Sorrel Lane\nWrenfield")
    for ref in ("W4", "W5"):
        adult(desk, child_with_fluid(desk, ref), format="large")
    return on(desk, POST_DAY)


def reprinted(desk: Desk) -> Printed:
    return print_batch(desk, letters(desk)[0]["batch_id"])


def text_of(desk: Desk, name: str) -> str:
    (path,) = desk.config.files.letters.glob(f"{name}-*.pdf")
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def test_the_sheet_counts_letters_sheets_and_envelopes(then: Desk) -> None:
    """Counted by hand: five letters; two pairs share an envelope; large print takes two sheets."""
    made(then)
    text = text_of(then, "cover")
    lines = [" ".join(line.split()) for line in text.splitlines()]

    assert "5 letters on 7 sheets of paper, printed on one side." in lines
    assert f"{WINDOW} 2 3 3" in lines
    assert f"{LARGE} 1 2 4" in lines
    assert lines.count("All 5 7") == lines.count("All 3 5 7") == 1


def test_what_shares_an_envelope_and_what_is_held_back_is_named(then: Desk) -> None:
    made(then)
    *_rest, last = [number(row) for row in letters(then)]
    text = text_of(then, "cover")
    assert "1-0001 and 1-0002" in text and "1-0004 and 1-0005" in text

    hold(then, last, "rung instead")
    reprinted(then)

    text = text_of(then, "cover")
    assert f"{last}: rung instead" in text and "and 1-0005" not in text


def test_one_label_for_each_large_envelope(then: Desk) -> None:
    made(then)
    text = text_of(then, "labels")

    assert text.count("WR9 9ZX") == text.count("1-000") == 1


def test_no_labels_are_left_of_large_print_that_does_not_go(then: Desk) -> None:
    made(then)
    for row in letters(then, format="large"):
        hold(then, number(row), "rung instead")

    assert [path.name.partition("-")[0] for path in reprinted(then).beside] == ["cover"]
    assert not list(then.config.files.letters.glob("labels-*"))


def test_the_sheet_and_the_list_name_the_last_line_of_the_history(then: Desk) -> None:
    made(then)
    (path,) = then.config.files.letters.glob("*.csv")
    rows = list(csv.DictReader(path.read_text("utf-8-sig").splitlines()))
    (head,) = {row["history"] for row in rows}
    _words, _to, _line, numbered, digest = head.replace(",", "").split()

    with then.store.read() as session:
        entry = select(tables.History.digest).where(tables.History.id == int(numbered))
        assert session.scalar(entry) == digest
        assert told(session) != head  # that it was printed is a line behind it
    assert head in " ".join(text_of(then, "cover").split())


def test_printed_again_it_is_the_same(then: Desk) -> None:
    made(then)
    assert reprinted(later(then, 1)).differs == ()


def test_what_came_off_since_and_another_foot_are_said(then: Desk) -> None:
    made(then)
    record_death(then, "W2", then.today, "Rowan Thackwell")

    differs = reprinted(then).differs

    assert differs == (
        "1-0001: at its foot stood 1 of 2 in this envelope, and now nothing",
        "1-0002: was printed, and is not now: has died (15 September 2026)",
    )
    assert "Differs from what was printed first" in text_of(then, "cover")


def test_another_text_than_was_printed_is_said(then: Desk) -> None:
    """A row that was edited past the program; the failsafe tells so too, from its seal."""
    made(then)
    edited(then)
    assert reprinted(then).differs == ("1-0003: its text is another than was printed",)


def test_another_text_than_was_printed_first_is_said_every_time_and_before_posting(
    then: Desk,
) -> None:
    """Printing it does not make it what was printed; the pile is looked at before it leaves."""
    made(then)
    assert pile_of(then, 1).differs == ()
    edited(then)
    said = ("1-0003: its text is another than was printed",)

    assert pile_of(then, 1).differs == said
    assert reprinted(then).differs == said
    assert reprinted(later(then, 1)).differs == said
    assert pile_of(later(then, 1), 1).differs == said


def test_what_came_off_is_said_at_every_printing(then: Desk) -> None:
    made(then)
    record_death(then, "W2", then.today, "Rowan Thackwell")
    first = reprinted(then).differs

    assert reprinted(then).differs == first and len(first) == 2
    assert pile_of(then, 1).differs == ()  # it is named among what comes off


def test_a_text_that_is_put_right_again_is_what_was_printed(then: Desk) -> None:
    made(then)
    edited(then)
    reprinted(then)
    edited(then, "Hello", "Dear")

    assert reprinted(then).differs == pile_of(then, 1).differs == ()


def test_the_sheet_counts_paper_that_is_printed_on_both_sides(then: Desk) -> None:
    """Counted by hand: three letters of one page, two of two: five sheets with seven pages."""
    both = msgspec.structs.replace(then.config.letters, whole_sheets=True)
    made(replace(then, config=msgspec.structs.replace(then.config, letters=both)))
    lines = [" ".join(line.split()) for line in text_of(then, "cover").splitlines()]

    first = "5 letters on 5 sheets of paper, printed on both sides: 7 pages, each letter on sheets"
    assert first in " ".join(lines)
    assert f"{WINDOW} 2 3 3" in lines and f"{LARGE} 1 2 2" in lines
    assert not any("one side" in line for line in lines)


def test_without_the_file_beside_the_pages_the_text_as_a_whole_is_compared(then: Desk) -> None:
    made(then)
    gone = list(then.config.files.letters.glob("*.keys.json"))
    gone[0].unlink()
    assert reprinted(then).differs == ()

    gone[0].unlink()
    edited(then)
    (said,) = reprinted(then).differs
    assert said.startswith("The text as a whole is not what was printed")


def edited(desk: Desk, before: str = "Dear", after: str = "Hello") -> None:
    row = letters(desk)[2]
    table = tables.Letter.__table__
    body = row["body"].replace(before, after)
    assert body != row["body"]
    with desk.store.write() as session:
        session.execute(update(table).where(table.c.id == row["id"]).values(body=body))


def test_what_comes_off_is_told_before_anything_is_recorded(then: Desk) -> None:
    made(then)
    assert (pile_of(then, 1).letters, pile_of(then, 1).off) == (5, ())
    record_death(then, "W2", then.today, "Rowan Thackwell")

    found = pile_of(then, 1)

    assert found.letters == 4
    assert [(off.number, off.because) for off in found.off] == [
        ("1-0002", "has died (15 September 2026)")
    ]
    assert {row["posted_on"] for row in letters(then)} == {None}


def test_posting_is_refused_where_other_letters_come_off_than_were_shown(then: Desk) -> None:
    made(then)
    shown = len(pile_of(then, 1).off)
    record_death(then, "W2", then.today, "Rowan Thackwell")

    with pytest.raises(Conflict, match="1 letter must come off the pile, not 0"):
        mark_posted(then, 1, shown)

    assert {row["posted_on"] for row in letters(then)} == {None}
    mark_posted(then, 1, 1)
    assert [row["posted_on"] for row in letters(then)].count(then.today) == 4
