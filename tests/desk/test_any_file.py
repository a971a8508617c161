"""Whatever becomes of a file: nobody loses anything that was not shown and counted."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import defaultdict
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recall.care.case import URGENCIES
from recall.care.catalogue import CATALOGUE
from recall.desk.core.replanning import replan
from recall.desk.core.session import Desk
from recall.desk.imports.asking_order import WhichOrder
from recall.desk.imports.importing import import_file
from recall.desk.imports.landing import land
from recall.desk.imports.proposing import propose
from recall.errors import InputError, Refused
from recall.exchange.day_order import Order
from recall.records import tables
from recall.records.database.store import Store, open_store
from tests import registers
from tests.desk.files import PERSON, VISIT, desk_with, take_in, write
from tests.desk.practice import history_is_whole, rows
from tests.seeds import examples

Rows = list[dict[str, str]]
DAY = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")
PEOPLE: Rows = [
    PERSON
    | {"phone_2": "07700 900811", "objected": "", "deceased_on": "", "safe_contact": ""}
    | {"adult_1_phone": "07700 900812", "adult_1_safe_only": "", "risks": "cleft_palate"},
    PERSON
    | {"reference": "P2", "given_name": "Siân", "born": "2012-06-05", "objected": "2026-08-01"}
    | {"deceased_on": "", "safe_contact": "Ring Ida only.", "phone_2": "", "adult_1_phone": ""}
    | {"adult_1_safe_only": "yes", "adult_1_phone": "07700 900813"},
    PERSON
    | {"reference": "P3", "given_name": "Zoë", "born": "1948-11-02", "deceased_on": "2026-08-03"}
    | {"objected": "", "safe_contact": "", "phone_2": "", "risks": "anticoagulant"}
    | {"adult_1_name": "", "adult_1_relation": "", "adult_1_phone": "", "adult_1_safe_only": ""},
]
SEEN = VISIT | {
    "right_tensa_grade": "2",
    "right_attic_grade": "1",
    "left_wax_found": "occluding",
    "left_wax_left": "none",
    "right_hearing_1000": "35",
    "reported": "",
    "note": "Seen with mum.",
}
VISITS: Rows = [
    SEEN,
    SEEN | {"reference": "V2", "on": "2026-06-05", "reported": "night_pain"},
    SEEN | {"reference": "V3", "person": "P2", "on": "2026-08-07", "left_effusion": "present"},
    SEEN | {"reference": "V4", "person": "P3", "on": "2026-05-04", "right_attic_grade": "4"},
]
KNOWN = {"people": PEOPLE, "visits": VISITS}
SAID_BEFORE: dict[str, dict[str, dict[str, str]]] = {
    "people": {
        "P1": {"risks": "", "phone_2": "", "adult_1_phone": "07700 900814"},
        "P2": {"objected": "", "safe_contact": "", "adult_1_safe_only": ""},
        "P3": {"deceased_on": "", "risks": "", "family_name": "Thackwel"},
    },
    "visits": {
        "V1": {"right_tensa_grade": "1", "right_hearing_1000": "", "note": ""},
        "V2": {"reported": "", "right_attic_grade": "", "left_wax_found": ""},
        "V3": {"left_effusion": "absent", "examiner": "Clara Vos"},
        "V4": {"right_attic_grade": "1", "right_effusion": "absent"},
    },
}
"""What an earlier file said of some cells, each of which the next one said otherwise."""
HOW = ("column", "row", "days", "cell", "back", "empty", "note")
"""A column or a row is dropped, a date swapped, a cell another's, as before, or empty, a note."""
NOTES = ("Seen again.", "", "Facial weakness since Friday, same day ENT?", "bled; Siân told")
ORDERS = ("as they are", "%d/%m/%Y", "%m/%d/%Y")
"""How all dates of a file are written; the settings say that the day comes first."""
ANSWERS: tuple[Order, ...] = ("day", "month")
"""What somebody says who is asked which comes first: right or wrong."""
ENCODINGS = ("utf-8", "utf-8-sig", "cp1252", "utf-16", "stray", "twice")
"""Two of them are none: one byte of another, and letters that were taken for another's."""


@pytest.fixture(scope="module")
def taken_in(empty_register: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register that has taken both files in, to be copied for each example."""
    folder = tmp_path_factory.mktemp("taken_in")
    path = folder / "register.db"
    registers.copy(empty_register, path)
    store = open_store(path)
    desk = desk_with(store, folder)
    for kind, told in KNOWN.items():
        earlier = [row | SAID_BEFORE[kind].get(row["reference"], {}) for row in told]
        take_in(desk, folder, kind, *earlier)  # type: ignore[arg-type]
    for kind, told in KNOWN.items():
        file = write(folder / f"{kind}.csv", *told)
        goes = len(propose(desk, file, kind, order="day").losses)  # type: ignore[arg-type]
        take_in(desk, folder, kind, *told, takes_away=goes)  # type: ignore[arg-type]
    store.close()
    return path


@st.composite
def changed(draw: st.DrawFn) -> tuple[str, Rows, str, Order]:
    """A file of the register, with some of it dropped, swapped, put back or written otherwise."""
    kind = draw(st.sampled_from(sorted(KNOWN)))
    told = [dict(row) for row in KNOWN[kind]]
    for _ in range(draw(st.integers(1, 3))):
        how = draw(st.sampled_from(HOW))
        told = _change(draw, kind, told, how)
    order = draw(st.sampled_from(ORDERS))
    told = [_in_order(row, order) for row in told]
    return kind, told, draw(st.sampled_from(ENCODINGS)), draw(st.sampled_from(ANSWERS))


def _in_order(row: dict[str, str], order: str) -> dict[str, str]:
    """A row with all its whole dates written in one order."""

    def cell(was: str) -> str:
        return date.fromisoformat(was).strftime(order) if DAY.fullmatch(was) else was

    return row if order == ORDERS[0] else {name: cell(was) for name, was in row.items()}


def _change(draw: st.DrawFn, kind: str, told: Rows, how: str) -> Rows:
    names = [name for name in told[0] if name not in ("reference", "person")]
    name, row = draw(st.sampled_from(names)), draw(st.sampled_from(told))
    if how == "column":
        return [{n: cell for n, cell in each.items() if n != name} for each in told]
    if how == "row" and len(told) > 1:
        told.remove(row)
    elif how == "days":
        name = "born" if kind == "people" else "on"
        year, month, day = (row.get(name) or "2026-06-05").split("-")
        if int(day) <= 12 and name in row:
            row[name] = f"{year}-{day}-{month}"
    elif how == "cell":
        row[name] = draw(st.sampled_from([each[name] for each in KNOWN[kind]]))
    elif how == "back":
        earlier = SAID_BEFORE[kind].get(row["reference"], {})
        row |= {n: cell for n, cell in earlier.items() if n in row and draw(st.booleans())}
    elif how == "empty":
        row[name] = ""
    elif "note" in row:
        row["note"] = draw(st.sampled_from(NOTES))
    return told


class Held:
    """What of a register must not get less unseen."""

    def __init__(self, store: Store) -> None:
        """Look at everything that stands."""
        people = {p["id"]: p for p in rows(store, tables.Person)}
        self.stopped = {
            (p["ref"], name, "" if name.endswith("_on") else str(p[name]))
            for p in people.values()
            for name in ("deceased_on", "objected_on", "caller_note")
            if p[name]
        }  # another day of a death or an objection stops just as much
        self.ways = {
            (people[way["person_id"]]["ref"], way["kind"], way["raw"], way["safe"])
            for way in rows(store, tables.ContactPoint)
        }
        self.dues: dict[Any, list[tuple[Any, int]]] = defaultdict(list)
        for d in rows(store, tables.Due, is_open=True):
            place = people[d["person_id"]]["ref"], d["ear"], d["track"], d["kind"]
            self.dues[place].append((d["latest"], URGENCIES.index(d["urgency"])))
        self.referrals = {
            (people[r["person_id"]]["ref"], r["to"], r["urgency"])
            for r in rows(store, tables.Referral, is_open=True)
        }
        self.findings = findings_of(store)


def findings_of(store: Store) -> dict[tuple[str, str, str], Any]:
    """Every finding that stands, by visit, ear and name."""
    visits = {v["id"]: v["ref"] for v in rows(store, tables.Visit)}
    return {
        (visits[f["visit_id"]], f["ear"], name): value
        for f in rows(store, tables.Findings)
        if f["visit_id"] in visits
        for name, value in json.loads(f["content"]).items()
    }


def less(before: Held, after: Held) -> list[str]:
    """What is less than it was: nothing, where nobody was shown a number."""
    found = [f"nothing stops any more: {each}" for each in before.stopped - after.stopped]
    newly = {(ref, kind, raw) for ref, kind, raw, safe in after.ways if safe == "yes"}
    found += [f"safe now: {w}" for *w, safe in before.ways if safe != "yes" and tuple(w) in newly]
    for place, dues in before.dues.items():
        now = after.dues.get(place, [])
        found += [f"due: {place} {was}" for was in dues if not any(_presses(was, d) for d in now)]
    for ref, to, urgency in before.referrals:
        same = [u for r, t, u in after.referrals if (r, t) == (ref, to)]
        if not any(URGENCIES.index(u) <= URGENCIES.index(urgency) for u in same):
            found.append(f"referral: {ref} {to}")
    for key, was in before.findings.items():
        order, now = CATALOGUE[key[2]].values, after.findings.get(key)
        graded = was in order and now in order
        if now != was and not (graded and order.index(now) > order.index(was)):
            found.append(f"finding: {key} {was} {now}")
    return found


def _presses(was: tuple[Any, int], now: tuple[Any, int]) -> bool:
    return now[0] <= was[0] and now[1] <= was[1]


def written(path: Path, told: Rows, encoding: str) -> Path:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(told[0]))
    writer.writeheader()
    writer.writerows(told)
    text = out.getvalue()
    if encoding == "stray":
        content = text.encode().replace("ë".encode(), b"\xeb")
    elif encoding == "twice":
        content = text.encode().decode("cp1252").encode()
    else:
        content = text.encode(encoding)
    path.write_bytes(content)
    return path


@settings(max_examples=examples(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(changed())
def test_a_file_made_from_the_register_takes_nothing_away_that_was_not_counted(
    taken_in: Path, tmp_path_factory: pytest.TempPathFactory, file: tuple[str, Rows, str, Order]
) -> None:
    """No death or objection is taken back, no number becomes safe, no due closes or moves later,
    no referral ends and no finding becomes milder, unless its number was shown and said."""
    kind, told, encoding, answer = file
    folder = tmp_path_factory.mktemp("file")
    registers.copy(taken_in, folder / "register.db")
    store = open_store(folder / "register.db")
    desk = desk_with(store, folder)
    before = Held(store)
    path = written(folder / f"{kind}.csv", told, encoding)
    try:
        import_file(desk, path, kind)  # type: ignore[arg-type]
    except InputError:
        assert less(before, Held(store)) == []
    except Refused as refused:
        assert less(before, Held(store)) == []
        asked = answer if isinstance(refused, WhichOrder) else None
        counted = said_anyway(desk, path, kind, asked)
        gone = less(before, Held(store))
        assert len(gone) <= counted, (gone, counted)
    else:
        replan(desk)
        assert less(before, Held(store)) == []
    assert history_is_whole(store)
    store.close()


def said_anyway(desk: Desk, path: Path, kind: str, order: Order | None) -> int:
    """Let a file land with the number that is shown, and return it; in an order, where asked."""
    try:
        proposal = propose(desk, path, kind, order=order)  # type: ignore[arg-type]
    except InputError:
        return 0  # the order that was answered is not the file's: nothing lands
    land(desk, proposal, len(proposal.losses))
    replan(desk)
    return len(proposal.losses)


def test_what_is_looked_for_is_found(taken_in: Path, tmp_path: Path) -> None:
    """The property could fail: what an emptied register has less is seen."""
    registers.copy(taken_in, tmp_path / "register.db")
    store = open_store(tmp_path / "register.db")
    before = Held(store)
    with store.write() as session:
        session.query(tables.Person).update({"deceased_on": None, "objected_on": None})
        session.query(tables.ContactPoint).update({"safe": "yes"})
        session.query(tables.Findings).update({"content": "{}"})
    kinds = {line.partition(":")[0] for line in less(before, Held(store))}
    assert kinds == {"nothing stops any more", "safe now", "finding"}
    store.close()
