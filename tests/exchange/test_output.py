"""Files that the program makes: whole, for their owner alone, never over what it did not make."""

from __future__ import annotations

import os
import sqlite3
import stat
from pathlib import Path

import pytest

from recall.errors import InputError
from recall.output import PDF_MARK, write

CSV = b"reference,name\r\nW1,Ida\r\n"
PDF = b"%PDF-1.7\n1 0 obj\n%%EOF\n"


def test_a_file_is_for_its_owner_alone_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    write(tmp_path / "kept" / "list.csv", CSV, named_here=True)
    assert (tmp_path / "kept" / "list.csv").read_bytes() == CSV
    assert stat.S_IMODE((tmp_path / "kept" / "list.csv").stat().st_mode) == 0o600
    assert stat.S_IMODE((tmp_path / "kept").stat().st_mode) == 0o700
    assert os.listdir(tmp_path / "kept") == ["list.csv"]


def test_a_pdf_ends_with_who_made_it_and_is_made_again(tmp_path: Path) -> None:
    """A comment may follow the end: PDF Reference 1.7 (2006), appendix H, note 18, from memory."""
    place = tmp_path / "letters.pdf"
    write(place, PDF)
    write(place, PDF + b"more\n")
    assert place.read_bytes() == PDF + b"more\n" + PDF_MARK


def test_what_the_program_made_is_replaced_also_where_fewer_rows_are_left(tmp_path: Path) -> None:
    place = tmp_path / "list.csv"
    write(place, CSV)
    write(place, b"reference,name\r\n")
    assert place.read_bytes() == b"reference,name\r\n"


def database(place: Path) -> None:
    with sqlite3.connect(place) as connection:
        connection.execute("CREATE TABLE person (id INTEGER PRIMARY KEY)")
    connection.close()


def link(place: Path) -> None:
    (place.parent / "elsewhere.csv").write_bytes(CSV)
    place.symlink_to(place.parent / "elsewhere.csv")


def dangling(place: Path) -> None:
    place.symlink_to(place.parent / "nowhere.csv")


STAYS = {
    "a register": database,
    "a configuration": lambda place: place.write_text('[practice]\nname = "Saltmarsh"\n'),
    "somebody's own list": lambda place: place.write_bytes(b"name,reference\r\nIda,W1\r\n"),
    "somebody's own page": lambda place: place.write_bytes(PDF),
    "a link": link,
    "a link to nothing": dangling,
    "a folder": lambda place: place.mkdir(),
    "a pipe": os.mkfifo,
}


@pytest.mark.parametrize("what", STAYS)
@pytest.mark.parametrize("content", [CSV, PDF], ids=["csv", "pdf"])
def test_what_it_did_not_make_stays(tmp_path: Path, what: str, content: bytes) -> None:
    place = tmp_path / "there"
    STAYS[what](place)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.is_file()}
    with pytest.raises(InputError, match=r"there is left as it is: .*\. Choose another name"):
        write(place, content)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.is_file()} == before


@pytest.mark.parametrize("what", ["a register", "a link", "a folder", "a pipe"])
def test_a_name_of_its_own_is_no_licence_either(tmp_path: Path, what: str) -> None:
    place = tmp_path / "there"
    STAYS[what](place)
    with pytest.raises(InputError, match="left as it is"):
        write(place, CSV, named_here=True)


def test_a_link_in_the_place_of_the_half_made_file_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "kept.txt").write_text("kept")
    (tmp_path / ".list.csv.part").symlink_to(tmp_path / "kept.txt")
    write(tmp_path / "list.csv", CSV)
    assert (tmp_path / "kept.txt").read_text() == "kept"
    assert not (tmp_path / "list.csv").is_symlink()


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "list").write_text("a file")
    with pytest.raises(InputError, match="cannot be written"):
        write(tmp_path / "list" / "x.csv", CSV)


def test_a_folder_that_somebody_mistyped_is_said_and_not_made(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written: No such file"):
        write(tmp_path / "kep" / "x.csv", CSV)
    assert list(tmp_path.iterdir()) == []
