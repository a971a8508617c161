"""The rejects file: as it was, with what would be right, and importable once corrected."""

from __future__ import annotations

import csv
import resource
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recall.config import FileMap, Import
from recall.errors import InputError
from recall.exchange.people_in import read_people
from recall.exchange.rejects import Rejects
from recall.exchange.rows_in import Read
from recall.exchange.spreadsheet import escape, unescape
from tests.seeds import examples

TODAY = date(2026, 11, 25)
HEAD = "reference,family_name,born,address_1,sex"


def import_file(path, rejects_path, imports=None):
    """Read a file; bad rows go to the rejects file; return the good ones."""
    reading = read_people(path, imports or Import(), today=TODAY)
    with Rejects(rejects_path, reading.headings, reading.table.delimiter) as rejects:
        landed = []
        for one in reading:
            if one.row is None:
                rejects.add(one)
            else:
                landed.append(one.row)
    return landed, rejects


def table(path):
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def source(tmp_path):
    path = tmp_path / "people.csv"
    path.write_text(
        f'{HEAD}\nP1,Lee,02/03/2018,,\nP2,"Ash\nJones",31/02/2018,"=cmd|x",robot\nP3,Oak,5/5/1950,,\n',
        encoding="utf-8",
    )
    return path


def test_a_reject_keeps_its_cells_and_tells_line_field_wrong_and_right(source, tmp_path):
    landed, rejects = import_file(source, tmp_path / "rejects.csv")
    (row,) = table(tmp_path / "rejects.csv")

    assert [r.reference for r in landed] == ["P1", "P3"]
    assert rejects.count == 1
    assert (row["reference"], row["family_name"], row["born"]) == ("P2", "Ash\nJones", "31/02/2018")
    assert row["address_1"] == "'=cmd|x"
    assert row["reject_line"] == "3"
    assert row["reject_column"] == "born | sex"
    assert row["reject_wrong"] == "is no day of the calendar | is not a known word"
    assert "DD/MM/YYYY" in row["reject_right"] and "female" in row["reject_right"]


def test_a_corrected_rejects_file_imports(source, tmp_path):
    rejects_path = tmp_path / "rejects.csv"
    import_file(source, rejects_path)
    text = rejects_path.read_text(encoding="utf-8-sig")
    corrected = text.replace("31/02/2018", "28/02/2018").replace("robot", "other")
    rejects_path.write_text(corrected, encoding="utf-8")

    landed, again = import_file(rejects_path, tmp_path / "again.csv")

    assert again.count == 0 and not (tmp_path / "again.csv").exists()
    assert landed[0].born == date(2018, 2, 28)
    assert landed[0].address == ("=cmd|x",)


def test_an_uncorrected_rejects_file_gives_the_same_rejects(source, tmp_path):
    import_file(source, tmp_path / "1.csv")
    import_file(tmp_path / "1.csv", tmp_path / "2.csv")
    first, second = table(tmp_path / "1.csv"), table(tmp_path / "2.csv")

    assert list(first[0]) == list(second[0])
    assert [{**r, "reject_line": ""} for r in first] == [{**r, "reject_line": ""} for r in second]


def test_a_rejects_file_takes_its_own_place_and_never_that_of_the_practices_file(source, tmp_path):
    before = source.read_bytes()
    with pytest.raises(InputError, match="left as it is"):
        import_file(source, source)
    assert source.read_bytes() == before

    import_file(source, tmp_path / "r.csv")
    landed, rejects = import_file(tmp_path / "r.csv", tmp_path / "r.csv")

    assert landed == [] and rejects.count == 1
    assert [row["reference"] for row in table(tmp_path / "r.csv")] == ["P2"]


def test_a_run_that_fails_leaves_no_rejects_behind(source, tmp_path):
    reading = read_people(source, Import(), today=TODAY)
    bad = next(one for one in reading if one.row is None)
    with pytest.raises(KeyError), Rejects(tmp_path / "r.csv", reading.headings) as rejects:
        rejects.add(bad)
        raise KeyError

    assert list(tmp_path.glob("r.csv*")) == []


def test_no_file_is_made_where_nothing_is_rejected(tmp_path):
    path = tmp_path / "p.csv"
    path.write_text(f"{HEAD}\nP1,Lee,02/03/2018,,\n", encoding="utf-8")
    import_file(path, tmp_path / "none.csv")

    assert not (tmp_path / "none.csv").exists()


def test_the_practices_own_delimiter_and_encoding_come_back_right(tmp_path):
    imports = Import(
        encoding="windows-1252",
        delimiter=";",
        people=FileMap(headings={"family_name": "Nachname"}),
    )
    path = tmp_path / "p.csv"
    path.write_bytes("reference;Nachname;born\nP1;Müller €;?\n".encode("cp1252"))
    import_file(path, tmp_path / "r.csv", imports)
    text = (tmp_path / "r.csv").read_text(encoding="utf-8-sig")
    (tmp_path / "r.csv").write_text(text.replace("?", "1/1/1950"), encoding="utf-8-sig")

    landed, _ = import_file(tmp_path / "r.csv", tmp_path / "r2.csv", imports)

    assert landed[0].family_name == "Müller €"


def test_cells_without_a_heading_are_told(tmp_path):
    path = tmp_path / "p.csv"
    path.write_text("reference,family_name,born\nP1,Lee,02/03/2018,lost,=1\n", encoding="utf-8")
    import_file(path, tmp_path / "r.csv")
    (row,) = table(tmp_path / "r.csv")

    assert row["reject_column"] == "the whole row"
    assert row["reject_right"].endswith("cells beyond the headings: lost | =1")


def test_a_folder_that_is_not_there_is_a_sentence(source, tmp_path):
    with pytest.raises(InputError, match="cannot be written"):
        import_file(source, tmp_path / "none" / "r.csv")


@pytest.mark.parametrize("cell", ["=1+1", "+44 1632", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "＝1"])
def test_what_a_spreadsheet_would_run_gets_an_apostrophe(cell):
    """OWASP, "CSV Injection": cells that begin with = + - @, tab or carriage return."""
    assert escape(cell) == "'" + cell
    assert unescape(escape(cell)) == cell


@pytest.mark.parametrize("cell", ["-10", "-10.5", "-0,4", "Ann", "'t Hooft", "", "a=b"])
def test_harmless_cells_stay_as_they_are(cell):
    assert escape(cell) == cell == unescape(cell)


@given(st.text(max_size=8) | st.text("'=+-@\t\r\n0.1", max_size=8))
def test_escaping_always_comes_back(cell):
    assert unescape(escape(cell)) == cell


cells = st.text(st.characters(exclude_categories=["Cs"]), max_size=15)


@settings(max_examples=examples(25))
@given(st.lists(st.tuples(cells, cells, cells), min_size=1, max_size=4), st.sampled_from(",;\t"))
def test_rejected_cells_come_back_as_they_were_whatever_they_hold(tmp_path_factory, rows, mark):
    folder = tmp_path_factory.mktemp("r")
    path = folder / "p.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter=mark, quoting=csv.QUOTE_ALL)
        writer.writerow(["reference", "family_name", "address_1", "born"])
        writer.writerows([*(escape(c) for c in row), "no day"] for row in rows)
    import_file(path, folder / "1.csv")
    import_file(folder / "1.csv", folder / "2.csv")

    reading = read_people(folder / "2.csv", Import(), today=TODAY)

    assert [one.cells[:4] for one in reading] == [(*row, "no day") for row in rows]


def test_a_full_disk_leaves_what_was_there_and_no_half_file(tmp_path):
    """A file may be no longer than a hundred bytes here: the second row has no room."""
    path = tmp_path / "r.csv"
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, hard))
    try:
        with pytest.raises(OSError), Rejects(path, ["reference", "born"]) as rejects:
            for line in range(2, 9):
                rejects.add(Read(line, ("P1", "soon"), None))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert list(tmp_path.iterdir()) == []
