"""`recall plan` as other programs call it: JSON in, JSON out, nothing set up."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from recall.care.casefile import decode_case
from recall.cli.main import main
from recall.protocol.comparing import in_hindsight
from recall.protocol.loading import load
from recall.schedule.planning import plan

CASE = {
    "born": "2018-03-02",
    "visits": [
        {
            "on": "2026-09-01",
            "reported": ["hearing_concern"],
            "right": {"drum_seen": "full", "attic_seen": True, "effusion": "present"},
        },
        {"on": "2026-10-20", "right": {"drum_seen": "full", "effusion": "absent"}},
    ],
}
ON = "2026-09-01"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "case.json"
    path.write_text(json.dumps(CASE))
    return path


def run(capfd: pytest.CaptureFixture[str], *words: str) -> tuple[int, Any, str]:
    status = main(["plan", *words])
    out, err = capfd.readouterr()
    return status, out, err


def test_it_prints_what_the_engine_plans(case: Path, capfd: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capfd, str(case), "--on", ON)
    assert (status, err) == (0, "")
    made = plan(decode_case(case.read_bytes()), in_hindsight(load()), date.fromisoformat(ON))
    printed = json.loads(out)
    assert printed["on"] == ON
    assert [f["latest"] for f in printed["follow_ups"]] == [str(f.latest) for f in made.follow_ups]
    assert printed["protocol"]["signed_off"] is False
    assert "Protocol not yet signed off by this practice." in printed["notices"]


def test_a_later_day_takes_in_later_visits(case: Path, capfd: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capfd, str(case), "--on", "2026-12-31")
    assert json.loads(out)["on"] == "2026-10-20"


def test_standard_input_is_read(
    case: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(case.read_bytes())))
    assert run(capfd, "-", "--on", ON) == run(capfd, str(case), "--on", ON)


def test_json_lines_plan_many_in_their_order(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "cases.jsonl"
    good, bad = json.dumps(CASE), json.dumps({**CASE, "born": "2018-13-02"})
    path.write_text("\n".join((good, bad, "", good)) + "\n")
    status, out, err = run(capfd, str(path), "--on", ON)
    lines = [json.loads(line) for line in out.splitlines()]
    assert status == 2
    assert [("refused" in line) for line in lines] == [False, True, False]
    assert lines[1]["line"] == 2
    assert err.startswith("Line 2: born")


def test_the_schema_fits_the_case(capfd: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capfd, "--schema")
    assert status == 0
    jsonschema.validate(CASE, json.loads(out), jsonschema.Draft202012Validator)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ('{"born": "2018-03-02", "visits": [{"on": "2026-09-01", "rihgt": {}}]}', "visits[0]"),
        ('{"born": "2018-02-30"}', "born"),
        ('{"visits": []}', "born"),
        ("not json", "case.json"),
        ("", "case.json"),
        ("[]", "case.json"),
    ],
)
def test_what_cannot_be_is_refused_with_its_path(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], content: str, says: str
) -> None:
    path = tmp_path / "case.json"
    path.write_text(content)
    status, out, err = run(capfd, str(path), "--on", ON)
    assert (status, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1, "one line"


def test_a_missing_file_or_day_is_one_sentence(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert run(capfd, str(tmp_path / "none.json"))[0] == 2
    status, _, err = run(capfd, "x.json", "--on", "41/09/2026")
    assert status == 2 and "is no day. Type it like 3/9" in err
    status, _, err = run(capfd)
    assert status == 2 and "recall plan --help" in err


def test_a_protocol_and_a_population_are_explicit_inputs(
    case: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    broken = tmp_path / "mine.toml"
    broken.write_text("name = 3")
    status, _, err = run(capfd, str(case), "--on", ON, "--protocol", str(broken))
    assert status == 2 and "mine.toml" in err
    status, _, err = run(capfd, str(case), "--on", ON, "--population", str(broken))
    assert status == 2 and "mine.toml" in err


def test_it_needs_neither_a_database_nor_what_goes_with_one(case: Path, tmp_path: Path) -> None:
    code = (
        "import sys; from recall.cli.main import main;"
        f"status = main(['plan', {str(case)!r}, '--on', '{ON}']);"
        "heavy = {'sqlalchemy', 'textual', 'alembic', 'typst', 'jinja2', 'phonenumbers'};"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr); sys.exit(status)"
    )
    root = str(Path(__file__).resolve().parents[2])
    env = {**os.environ, "PYTHONPATH": root}
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env=env, capture_output=True, text=True
    )
    assert (ran.returncode, ran.stderr.strip()) == (0, "[]")
