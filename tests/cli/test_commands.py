"""The path of a practice as it is typed: set up, files in, confirm, lists, letters, visits."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest

from recall.cli.main import main
from recall.cli.practice import desk
from recall.errors import Conflict, InputError, Refused, StorageError
from recall.protocol.loading import DEFAULT, load
from tests.desk.files import PERSON, VISIT, write

Typed = Callable[..., tuple[int, str, str]]
CONFIG = """
[practice]
name = "Wrenfield Ear Care"
address = ["4 Tanner's Row", "Wrenfield"]
postcode = "WF99 4ZZ"
phone = "01632 960100"
"""


@pytest.fixture
def typed(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Typed:
    """Type a command in an empty practice's folder; get its status, data and messages."""
    (tmp_path / "recall.toml").write_text(CONFIG, "utf-8")
    monkeypatch.chdir(tmp_path)

    def run(*words: str) -> tuple[int, str, str]:
        status = main(list(words))
        captured = capfd.readouterr()
        return status, captured.out, captured.err

    return run


@pytest.fixture
def practice(typed: Typed, tmp_path: Path) -> Typed:
    """A practice with two staff, two children and their visits."""
    typed("set-up", "--clinician", "quill", "--name", "A. Quill")
    typed("staff", "add", "rob", "--name", "Rob Tanner", "--role", "reception", "--by", "quill")
    second = {**PERSON, "reference": "P2", "family_name": "O'Neil [/b] [Jr"}
    write(tmp_path / "people.csv", PERSON, second)
    write(tmp_path / "visits.csv", VISIT, {**VISIT, "reference": "V2", "person": "P2"})
    for name in ("people.csv", "visits.csv"):
        assert typed("import", name, "--yes", *as_rob())[0] == 0
    return typed


def as_rob(on: str = "2026-09-07") -> tuple[str, ...]:
    return "--by", "rob", "--on", on


def as_quill(on: str = "2026-09-07") -> tuple[str, ...]:
    return "--by", "quill", "--on", on


def test_setting_up_twice_changes_nothing(typed: Typed) -> None:
    words = ("set-up", "--clinician", "quill", "--name", "A. Quill")
    assert typed(*words)[0] == 0
    assert typed(*words)[0] == 0
    status, out, _ = typed("staff", "list", "--json")
    people = {row["handle"]: row["role"] for row in json.loads(out)}
    assert (status, people) == (0, {"jobs": "jobs", "quill": "clinical_lead"})


def test_the_first_clinician_needs_nobody_and_the_next_needs_a_name(typed: Typed) -> None:
    typed("upgrade")
    assert typed("staff", "add", "ann", "--name", "Ann", "--role", "clinical_lead")[0] == 0
    bob = ("staff", "add", "bob", "--name", "Bob", "--role", "manager")
    assert typed(*bob)[0] == InputError.exit_code
    assert typed(*bob, "--by", "ann")[0] == 0
    cy = ("staff", "add", "cy", "--name", "Cy", "--role", "practitioner")
    status, _, err = typed(*cy, "--by", "bob")
    assert (status, err.count("\n")) == (Refused.exit_code, 1)
    assert typed("staff", "left", "ann", "--by", "ann")[0] == Refused.exit_code
    assert typed("staff", "left", "bob", "--on", "2026-01-01", "--by", "ann")[0] == 0
    assert typed("import", "x.csv", "--by", "bob")[0] == InputError.exit_code


@pytest.mark.parametrize("name", ["queue", "overdue", "lost", "referrals"])
def test_text_csv_and_json_hold_the_same_rows(practice: Typed, name: str) -> None:
    day = "2027-06-01"
    _, as_json, _ = practice(name, "--json", "--on", day)
    _, as_csv, _ = practice(name, "--csv", "--on", day)
    _, text, _ = practice(name, "--on", day)
    from_json = json.loads(as_json)
    from_csv = list(csv.DictReader(io.StringIO(as_csv.removeprefix("\ufeff"))))
    assert [r["reference"] for r in from_csv] == [r["reference"] for r in from_json]
    assert text.splitlines()[0].endswith(f": {len(from_json)}")
    for number, row in enumerate(from_json, 1):
        assert f"{number}. {row['urgency'].upper()}  {row['reference']}" in text
        assert " ".join(row["name"].split()) in " ".join(text.split())
    assert all(len(line) <= 80 for line in text.splitlines())


def test_a_list_needs_no_name_and_says_first_what_must_be_known(practice: Typed) -> None:
    status, out, err = practice("overdue", "--on", "2027-06-01")
    assert status == 0
    assert "P1" in out
    assert "not yet signed off" in err
    assert "2 visits wait" in err


def test_awkward_names_print_as_they_are(practice: Typed) -> None:
    _, out, _ = practice("overdue", "--on", "2027-06-01")
    assert "O'Neil [/b] [Jr" in out


def test_rows_sent_back_are_told_by_the_status(typed: Typed, tmp_path: Path) -> None:
    typed("set-up", "--clinician", "quill", "--name", "A. Quill")
    write(tmp_path / "people.csv", PERSON, {**PERSON, "reference": "P2", "born": "soon"})
    status, out, err = typed("import", "people.csv", "--yes", *as_quill())
    assert (status, out) == (2, "")
    assert "1 added, 0 changed, 0 unchanged, 1 sent back" in err
    assert "people.rejects-1.csv" in err
    status, _, err = typed("import", "people", "people.csv", "--yes", *as_quill())
    assert "0 added, 0 changed, 1 unchanged, 1 sent back" in err


def test_confirming_needs_a_decider_and_the_number_that_was_shown(practice: Typed) -> None:
    status, out, _ = practice("confirm", "--on", "2026-09-07")
    assert status == 0 and "--expect 2" in out
    assert practice("confirm", "--all", *as_quill())[0] == InputError.exit_code
    assert practice("confirm", "P1", *as_rob())[0] == Refused.exit_code
    assert practice("confirm", "--all", "--expect", "3", *as_quill())[0] == Conflict.exit_code
    assert practice("confirm", "--all", "--expect", "2", *as_quill())[0] == 0
    assert "Nothing waits" in practice("confirm")[1]


def test_letters_are_made_once(practice: Typed, tmp_path: Path) -> None:
    practice("confirm", "--all", "--expect", "2", *as_quill())
    words = ("letters", "make", *as_rob("2026-09-14"))
    status, out, err = practice(*words)
    assert status == 0, err
    pdf, listed, *cover = (Path(line) for line in out.splitlines())
    assert [each.name[:6] for each in cover] == ["cover-"]
    assert pdf.read_bytes().startswith(b"%PDF")
    rows = list(csv.DictReader(io.StringIO(listed.read_text("utf-8-sig"))))
    assert {row["reference"] for row in rows} == {"P1", "P2"}
    status, out, err = practice(*words)
    assert (status, out) == (0, "")
    assert "nothing was made" in err


def test_a_day_to_come_is_looked_at_and_nothing_is_written_for_it(
    practice: Typed, tmp_path: Path
) -> None:
    """Acting on a day of next year once hid a child for that year."""
    due = practice("overdue", "--on", "9999-06-01")[1]
    assert "P1" in due
    status, _, err = practice("contact", "P1", "no_answer", *as_rob("9999-06-01"))
    assert status == Refused.exit_code
    assert "1 June 9999 has not come: it may be looked at, and nothing is written for it." in err
    assert practice("overdue", "--on", "9999-06-01")[1] == due
    with pytest.raises(Refused, match="does not open on a day that has not come"):
        desk._open(tmp_path / "recall.toml", "rob", date(9999, 6, 1))


def test_a_visit_is_closed_corrected_and_voided(practice: Typed, tmp_path: Path) -> None:
    findings = tmp_path / "visit.json"
    findings.write_text('{"right": {"drum_seen": "full", "effusion": "absent"}}')
    status, out, err = practice("close", "P1", "--findings", str(findings), *as_quill())
    assert status == InputError.exit_code, "without a terminal it needs --yes"
    assert "Nothing is open" in out
    status, out, err = practice("close", "P1", "--findings", "visit.json", "--yes", *as_quill())
    assert status == 0 and "Visit #3" in err
    assert "P1" not in practice("overdue", "--on", "2027-06-01")[1]
    findings.write_text('{"right": {"drum_seen": "full", "effusion": "present"}}')
    assert (
        practice("correct", "#3", "--findings", "visit.json", "--yes", "--looked", *as_quill())[0]
        == 0
    )
    assert "P1" in practice("overdue", "--on", "2027-06-01")[1]
    assert practice("void", "#4", "--why", "Another child's.", "--yes", *as_rob())[0] == 5
    assert practice("void", "#4", "--why", "Another child's.", "--yes", *as_quill())[0] == 0
    assert practice("void", "#4", "--why", "Again.", "--yes", *as_quill())[0] == 2


def test_yes_alone_closes_no_emergency(practice: Typed, tmp_path: Path) -> None:
    (tmp_path / "visit.json").write_text('{"reported": ["sudden_hearing_loss"]}')
    words = ("close", "P1", "--findings", "visit.json", "--yes", "--looked", *as_quill())
    status, _, err = practice(*words)
    assert status == Refused.exit_code
    assert "asks for an emergency" in err and "--arranged-with" in err
    status, _, err = practice(*words, "--arranged-with", "Dr Sorrel")
    assert status == 0, err
    assert "Visit #3" in err, "nothing was stored before"


def test_a_category_alone_closes_a_visit(practice: Typed) -> None:
    words = ("close", "P2", "--category", "hearing_check", "--ear", "left", "--yes", "--looked")
    status, out, _ = practice(*words, *as_quill())
    assert status == 0
    assert "left ear: Hearing is tested." in " ".join(out.split())


def test_a_usual_visit_is_closed_in_three_words(practice: Typed) -> None:
    words = ("close", "P2", "--clear", "occluding", "--saw", "all", "--hears", "better")

    status, _, err = practice(*words, "--yes", "--looked", *as_quill())

    assert status == 0, err
    said = " ".join(practice("person", "P2")[1].split())
    assert "hears after: better" in said.casefold() or "hearing after" in said.casefold()


def test_what_was_not_normal_last_time_is_said_and_not_written(
    practice: Typed, tmp_path: Path
) -> None:
    (tmp_path / "visit.json").write_text('{"right": {"drum_seen": "full", "tensa_grade": 2}}')
    done = practice("close", "P2", "--findings", "visit.json", "--yes", "--looked", *as_quill())
    assert done[0] == 0, done[2]

    words = ("close", "P2", "--clear", "none", "--saw", "all", "--yes", "--looked")
    status, _, err = practice(*words, *as_quill())

    assert status == 0, err
    assert "Not normal last time, so not written: right tensa grade." in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--clear", "some", "--hears", "same"), "--saw"),
        (("--clear", "some", "--saw", "all"), "--hears"),
        (("--saw", "all"), "--clear"),
        (("--hears", "worse"), "--clear"),
        (("--clear", "none", "--saw", "all", "--hears", "worse"), "Leave --hears out"),
    ],
)
def test_half_an_answer_closes_nothing(practice: Typed, words: tuple[str, ...], said: str) -> None:
    status, _, err = practice("close", "P2", *words, "--yes", "--looked", *as_quill())

    assert status == InputError.exit_code
    assert said in err


def test_there_is_no_such_command(typed: Typed) -> None:
    status, _, err = typed("recal")
    assert status == 2
    assert err.count("\n") == 1


def test_help_shows_every_command_without_importing_them(typed: Typed) -> None:
    status, out, _ = typed("--help")
    assert status == 0
    for name in ("plan", "import", "confirm", "queue", "letters", "close"):
        assert name in out


def test_without_a_configuration_or_database_the_next_step_is_told(
    typed: Typed, tmp_path: Path
) -> None:
    status, _, err = typed("queue")
    assert status == StorageError.exit_code
    assert "recall upgrade" in err and err.count("\n") == 1
    (tmp_path / "recall.toml").unlink()
    status, _, err = typed("queue")
    assert status == 2
    assert "config.example.toml" in err


def test_a_protocol_file_that_differs_from_the_adopted_one_is_said_on_every_list(
    practice: Typed, tmp_path: Path
) -> None:
    """A slip of an editor changes no date, and must not pass for a change either."""
    said = "The protocol file is not the adopted one"
    for name in ("queue", "overdue", "lost", "referrals"):
        assert said not in practice(name, *as_rob())[2]
    shipped = load()
    text = (files("recall.protocol") / DEFAULT).read_text("utf-8")
    edited = tmp_path / "ours.toml"
    edited.write_text(text.replace('latest = "8 weeks"', 'latest = "9 weeks"', 1), "utf-8")
    config = (tmp_path / "recall.toml").read_text("utf-8")
    (tmp_path / "recall.toml").write_text(f'{config}\n[files]\nprotocol = "ours.toml"\n', "utf-8")
    digests = load(edited).digest[:12], shipped.digest[:12]

    for name in ("queue", "overdue", "lost", "referrals", "protocol show"):
        told = practice(*name.split(), *(() if "show" in name else as_rob()))[2]
        assert said in told, name
        assert "file {}, adopted {}".format(*digests) in told
    assert digests[0] in practice("protocol", "show")[1]

    assert said not in practice("protocol", "show", str(files("recall.protocol") / DEFAULT))[2]
