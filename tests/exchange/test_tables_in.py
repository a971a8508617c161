"""CSV as it really comes: encodings, delimiters, quotes, line numbers, wrong files."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recall.errors import InputError
from recall.exchange.tables_in import fold, open_table
from recall.exchange.text_in import encoding_of
from tests.seeds import examples

KNOWN = {"reference", "family_name", "note"}
HEAD = "reference,family name,note"


@pytest.fixture
def table(tmp_path):
    def make(text, saved_as="utf-8", **options):
        path = tmp_path / "list.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode(saved_as))
        return open_table(path, KNOWN, **options)

    return make


def rows(table):
    return [(record.line, record.cells) for record in table]


# RFC 4180, section 2: the definitions of the format, by number.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param(f"{HEAD}\r\naaa,bbb,ccc\r\n", ["aaa", "bbb", "ccc"], id="1 CRLF"),
        pytest.param(f"{HEAD}\r\naaa,bbb,ccc", ["aaa", "bbb", "ccc"], id="2 no last line end"),
        pytest.param(f'{HEAD}\r\n"aaa","bbb","ccc"', ["aaa", "bbb", "ccc"], id="5 quoted"),
        pytest.param(
            f'{HEAD}\r\n"aaa","b\r\nbb","ccc"', ["aaa", "b\r\nbb", "ccc"], id="6 line end inside"
        ),
        pytest.param(f'{HEAD}\r\n"aaa","b""bb","ccc"', ["aaa", 'b"bb', "ccc"], id="7 quote inside"),
    ],
)
def test_the_published_format_is_read(table, text, expected):
    assert rows(table(text)) == [(2, expected)]


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_the_delimiter_is_told_by_the_headings(table, mark):
    found = table(mark.join(["reference", "family name", "note"]) + f"\nP1{mark}Lee{mark}a,b;c\n")

    assert found.delimiter == mark
    assert rows(found)[0][1][:2] == ["P1", "Lee"]


def test_a_spreadsheets_sep_line_is_obeyed_and_counted(table):
    found = table("sep=;\r\nreference;family name\r\nP1;Lee\r\n")

    assert rows(found) == [(3, ["P1", "Lee"])]


@pytest.mark.parametrize(
    ("encoding", "read_as"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8-sig"),
        ("cp1252", "cp1252"),
        ("utf-16", "utf-16"),
    ],
)
def test_encodings_are_told_apart(table, encoding, read_as):
    found = table(f"{HEAD}\nP1,Zoë Müller,“quote” €5\n", encoding)

    assert found.encoding == read_as
    assert rows(found) == [(2, ["P1", "Zoë Müller", "“quote” €5"])]


def test_an_accent_far_down_the_file_still_tells_the_encoding(table):
    plain = "".join(f"P{n},Lee,x\n" for n in range(60_000))

    assert table(HEAD + "\n" + plain + "Q,Zoë,x\n", "cp1252").encoding == "cp1252"


def test_a_character_split_between_two_chunks_is_still_utf8(tmp_path):
    path = tmp_path / "x.csv"
    path.write_bytes(b"a" * ((1 << 20) - 1) + "é".encode() + b"\n")

    assert encoding_of(path) == "utf-8"


def test_declared_utf8_that_is_not_names_the_line(table):
    with pytest.raises(InputError, match=r"not UTF-8: line 3"):
        table(f"{HEAD}\nP1,Lee,x\nP2,Zoë,x\n", "cp1252", encoding="utf-8")


def test_a_byte_order_mark_wins_over_what_is_declared(table):
    found = table(f"{HEAD}\nP1,Zoë,x\n", "utf-8-sig", encoding="windows-1252")

    assert rows(found)[0][1][1] == "Zoë"


def test_lines_are_physical_lines(table):
    text = f'\n{HEAD}\nP1,Lee,"one\ntwo\nthree"\n\nP2,Ash,x\r\nP3,Oak,"a\rb"\nP4,Elm,y\n'

    assert [line for line, _ in rows(table(text))] == [3, 7, 8, 10]


def test_a_quote_that_is_never_closed_costs_its_own_line_only(table):
    text = f'{HEAD}\nP1,"Lee,x\nP2,Ash,x\nP3,"Oak, tall",x\nP4,Elm,x\n'
    found = list(table(text))

    assert [(r.line, bool(r.wrong)) for r in found] == [
        (2, True),
        (3, False),
        (4, False),
        (5, False),
    ]
    assert found[0].cells == ["P1", '"Lee', "x"]
    assert "not closed" in found[0].wrong or "inside" in found[0].wrong
    assert found[2].cells == ["P3", "Oak, tall", "x"]


def test_an_open_quote_in_a_long_file_does_not_swallow_it(table):
    text = f'{HEAD}\nP0,"Lee,x\n' + "".join(f"P{n},Ash,x\n" for n in range(1, 3000))
    found = list(table(text))

    assert len(found) == 3000
    assert [r.line for r in found if r.wrong] == [2]


def test_a_giant_cell_is_refused_and_the_next_row_read(table):
    found = list(table(f'{HEAD}\nP1,Lee,"{"x" * 200_000}"\nP2,Ash,x\n'))

    assert "longer than" in found[0].wrong
    assert found[1].cells == ["P2", "Ash", "x"]


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"%PDF-1.7\n", "PDF"),
        (b"PK\x03\x04rest", "workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "workbook"),
        (b"\x89PNG\r\n\x1a\n", "picture"),
        (b"<!DOCTYPE html><html>", "web page"),
        (b"SQLite format 3\x00", "database"),
        (b"", "empty"),
        (b" \r\n ", "empty"),
        ("reference,note\n".encode("utf-16-le"), "zero bytes"),
    ],
)
def test_what_is_no_table_is_named(table, data, kind):
    with pytest.raises(InputError, match=kind) as caught:
        table(data)
    assert caught.value.hint


def test_a_table_of_something_else_shows_what_its_headings_are(table):
    with pytest.raises(InputError, match="'stock', 'price'"):
        table("stock,price\ntips,3\n")


def test_a_missing_file_is_a_sentence(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        open_table(tmp_path / "none.csv", KNOWN)


@pytest.mark.parametrize(
    "heading", ["Family Name", "family-name", " FAMILY_NAME: ", "family  name"]
)
def test_headings_differ_by_words_alone(heading):
    assert fold(heading) == "family_name"


cells = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)


@settings(max_examples=examples(25))
@given(st.lists(st.lists(cells, min_size=3, max_size=3), max_size=6), st.sampled_from(",;\t|"))
def test_whatever_a_standard_writer_writes_is_read_back(tmp_path_factory, written, mark):
    """The writer of Python's csv module is the reference, with all cells quoted."""
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=mark, quoting=csv.QUOTE_ALL).writerows(
        [["reference", "family name", "note"], *written]
    )
    path = tmp_path_factory.mktemp("t") / "x.csv"
    path.write_bytes(out.getvalue().encode())
    from recall.exchange.spreadsheet import unescape

    found = [r.cells for r in open_table(path, KNOWN)]

    assert found == [[unescape(c) for c in row] for row in written if any(row)]


@settings(max_examples=examples(40))
@given(st.binary(max_size=300))
def test_any_bytes_give_records_or_a_sentence(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("t") / "x.csv"
    path.write_bytes(b"reference,note\n" + data)
    lines = [r.line for r in open_table(path, KNOWN)]

    assert lines == sorted(set(lines))


@settings(max_examples=examples(25))
@given(st.lists(st.sampled_from(['a,"b', "a,b", '"a","b"', 'a,"b"x', '"', 'a"b,c']), max_size=8))
def test_no_line_is_lost_or_read_twice_after_broken_quotes(tmp_path_factory, lines):
    path = tmp_path_factory.mktemp("t") / "x.csv"
    path.write_text("reference,note\n" + "".join(x + "\n" for x in lines), encoding="utf-8")
    found = list(open_table(path, KNOWN))
    spans = [r.line for r in found] + [len(lines) + 2]

    for record, following in zip(found, spans[1:], strict=True):
        inside = following - record.line - 1
        assert record.wrong == "" or inside == 0
        assert inside == sum(cell.count("\n") for cell in record.cells)
