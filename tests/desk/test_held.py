"""Everything held on one person in one file: nothing of theirs is left out, nothing of others'.

Source: UK GDPR, article 15(1) and (3): the person gets a copy of the data that are processed,
with to whom they were disclosed; the form is checked with a JSON Schema validator.
"""

from __future__ import annotations

import stat
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import pytest

from recall.config import Config
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.people.timeline import timeline
from recall.desk.practice.handing_over import hand_over
from recall.desk.practice.matters import Entry, write_down
from recall.errors import InputError
from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal import history
from recall.records.people import held
from tests.desk.posting_week import INVITED, at_desk, settings_around, weekly_post
from tests.desk.practice import FLUID, KERATIN, desk_at, open_follow_ups, rows, somebody, visit


@pytest.fixture
def config(store: Store, tmp_path: Path) -> Config:
    """A practice's settings around this test's register."""
    return settings_around(store, tmp_path)


def a_child_with_everything(store: Store, config: Config) -> int:
    """A child who was seen, written to, rung, referred, and about whom something is to be done."""
    desk = at_desk(store, config)
    child = somebody(desk)
    visit(desk, child, right=FLUID, left=KERATIN)
    assert weekly_post(at_desk(store, config, INVITED)) >= 1
    number = open_follow_ups(store, child)[0]["id"]
    contacting.log_contact(
        at_desk(store, config, INVITED), number, None, Attempt("phone", "no_answer")
    )
    write_down(desk, "W1", Entry("message", "Wants a word about grommets."))
    return child


def opened(path: Path) -> tuple[dict[str, Any], dict[str, bytes]]:
    """Return what a copy says, and each of its files; what is unpacked is for the owner only."""
    with zipfile.ZipFile(path) as copy:
        assert {each.external_attr >> 16 for each in copy.infolist()} == {0o600}
        files = {name: copy.read(name) for name in copy.namelist()}
    return msgspec.json.decode(files["record.json"]), files


def test_every_table_that_names_a_person_is_handed_over_or_says_why_not() -> None:
    """By the tables' own links, followed as far as they go, whether a link may be empty or not."""
    every = tables.Base.metadata.sorted_tables
    linked = {t: {key.column.table for key in t.foreign_keys} for t in every}
    theirs = {t for t in every if t.name == "person"}
    while more := {t for t in every if t not in theirs and linked[t] & theirs}:
        theirs |= more
    given = {table.name for table, _wanted in held.theirs(1)}
    assert {t.name for t in theirs} == given | {*held.NOT_THEIRS}
    assert not given & {*held.NOT_THEIRS}
    assert all(held.NOT_THEIRS.values())


def test_a_copy_has_every_row_of_one_person_and_none_of_another(
    store: Store, config: Config, tmp_path: Path
) -> None:
    child = a_child_with_everything(store, config)
    other = somebody(at_desk(store, config), "W2", family_name="Orrell")
    visit(at_desk(store, config), other, right=FLUID)
    timeline(at_desk(store, config), "W1")

    made = hand_over(at_desk(store, config, by="mina"), "W1", tmp_path / "copy.zip")

    says, _files = opened(made.path)
    for name in ("visit", "contact", "letter", "due", "referral", "matter", "contact_point"):
        table = next(t for t in vars(tables).values() if getattr(t, "__tablename__", "") == name)
        wanted = {row["id"] for row in rows(store, table, person_id=child)}
        assert wanted and {row["id"] for row in says["held"][name]} == wanted, name
    seen = {row["ear"]: row["content"] for row in says["held"]["findings"]}
    assert seen["right"]["effusion"] == "present" and seen["left"]["keratin"] is True
    assert {row["person_id"] for row in says["held"]["contact_point"]} == {child}
    assert says["held"]["visit"][0]["by_id"] == "clara"
    lines = {row["id"] for row in rows(store, tables.History, person_id=child)}
    assert {row["id"] for row in says["held"]["history"]} == lines
    assert {row["history_id"] for row in says["held"]["history_payload"]} == lines
    assert made.rows == sum(map(len, says["held"].values()))


def test_the_form_that_lies_beside_it_is_the_records(
    store: Store, config: Config, tmp_path: Path
) -> None:
    a_child_with_everything(store, config)
    made = hand_over(at_desk(store, config, by="mina"), "W1", tmp_path / "copy.zip")

    says, files = opened(made.path)
    form = msgspec.json.decode(files["form.json"])
    jsonschema.Draft202012Validator.check_schema(form)
    jsonschema.Draft202012Validator(form).validate(says)
    del says["held"]["visit"][0]["note"]
    with pytest.raises(jsonschema.ValidationError, match="note"):
        jsonschema.Draft202012Validator(form).validate(says)


def test_it_can_be_read_and_holds_the_letters(store: Store, config: Config, tmp_path: Path) -> None:
    a_child_with_everything(store, config)
    made = hand_over(at_desk(store, config, by="mina"), "W1", tmp_path / "copy.zip")

    _says, files = opened(made.path)
    page = files["record.txt"].decode()
    assert "Everything held on W1" in page
    assert "Wants a word about grommets." in page and "7 Teasel Row" in page
    (child,) = rows(store, tables.Person, ref="W1")
    assert f"born: {child['born']}" in page and ": None" not in page
    letters = [text.decode() for name, text in files.items() if name.startswith("letters/")]
    assert len(letters) == made.letters == len(rows(store, tables.Letter))
    assert any(f"Posted on {INVITED}" in text and "Thackwell" in text for text in letters)


def test_that_it_was_made_stands_in_the_history_and_it_is_the_owners_alone(
    store: Store, config: Config, tmp_path: Path
) -> None:
    desk = at_desk(store, config, by="mina")
    somebody(desk)
    out = tmp_path / "copy.zip"
    hand_over(desk, "W1", out)
    assert stat.S_IMODE(out.stat().st_mode) == 0o600
    told = [str(one) for one in timeline(desk, "W1")]
    assert any("a copy of everything held on them was made" in one for one in told)
    assert history.verify(store) == ()
    hand_over(desk, "W1", out)  # takes the place of an earlier copy
    (tmp_path / "own.zip").write_bytes(b"PK somebody's own")
    with pytest.raises(InputError, match="did not make"):
        hand_over(desk, "W1", tmp_path / "own.zip")
    with pytest.raises(InputError, match="no name of a ZIP file"):
        hand_over(desk, "W1", tmp_path / "copy.db")


def test_who_looked_is_told_where_everybody_signs_in(store: Store, tmp_path: Path) -> None:
    desk = replace(desk_at(store, by="mina"), is_signed=True, place="screen")
    somebody(desk)
    timeline(desk, "W1")
    made = hand_over(replace(desk, place="command"), "W1", tmp_path / "copy.zip")
    says, _files = opened(made.path)
    assert [(row["by_id"], row["place"]) for row in says["held"]["looked"]] == [
        ("mina", "screen"),
        ("mina", "command"),
    ]
