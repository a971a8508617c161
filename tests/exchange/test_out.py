"""Lists as CSV and JSON: the same rows in both."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from recall.exchange.out import to_csv, to_json, write_csv
from recall.exchange.spreadsheet import unescape

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Row:
    ref: str
    latest: date | None = None
    ears: tuple[str, ...] = ()
    late_by_days: int = 0
    is_booked: bool = False
    at: datetime | None = None


class Struct(msgspec.Struct, frozen=True):
    ref: str
    with_: str = msgspec.field(default="", name="with")


ROWS = [
    Row("P1", date(2026, 10, 27), ("right", "left"), 3, True, datetime(2026, 9, 1, 8, tzinfo=UTC)),
    Row('=P2, "x"\n'),
]


def parsed(text):
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_csv_follows_rfc_4180():
    """RFC 4180, section 2: CRLF, quotes doubled, line ends and commas only inside quotes."""
    text = to_csv(Row, ROWS)

    assert text.split("\r\n")[0] == "ref,latest,ears,late_by_days,is_booked,at"
    assert text.endswith("\r\n")
    assert '"\'=P2, ""x""\n"' in text


def test_values_read_plainly():
    first, second = parsed(to_csv(Row, ROWS))

    assert first == {
        "ref": "P1",
        "latest": "2026-10-27",
        "ears": "right; left",
        "late_by_days": "3",
        "is_booked": "yes",
        "at": "2026-09-01T08:00:00Z",
    }
    assert second["latest"] == "" and second["is_booked"] == "no"


def test_json_holds_exactly_the_same_rows():
    from recall.exchange.out import as_cell

    loaded = json.loads(to_json(ROWS))
    cells = [{k: as_cell(v) for k, v in row.items()} for row in loaded]

    assert [{k: unescape(v) for k, v in r.items()} for r in parsed(to_csv(Row, ROWS))] == cells


def test_headings_are_there_without_rows():
    assert to_csv(Row, []) == "ref,latest,ears,late_by_days,is_booked,at\r\n"
    assert json.loads(to_json([])) == []


def test_structs_go_out_under_their_outer_names():
    assert to_csv(Struct, [Struct("B1", "A")]) == "ref,with\r\nB1,A\r\n"
    assert json.loads(to_json([Struct("B1", "A")])) == [{"ref": "B1", "with": "A"}]


def test_a_file_opens_in_a_spreadsheet_as_utf8(tmp_path):
    write_csv(tmp_path / "x.csv", Row, [Row("Łukasz")])

    assert (tmp_path / "x.csv").read_bytes().startswith(b"\xef\xbb\xbfref,")


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=12), max_size=5))
def test_any_text_comes_back(refs):
    back = parsed(to_csv(Row, [Row(r) for r in refs]))

    assert [unescape(r["ref"]) for r in back] == refs


def test_one_place_says_how_a_file_for_spreadsheets_begins() -> None:
    """UTF-8 with its byte order mark: without it the usual programs take it for an older code."""
    places = [
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "recall").rglob("*.py")
        if 'encode("utf-8-sig")' in path.read_text("utf-8")
    ]
    assert places == ["recall/exchange/spreadsheet.py"]
