"""What goes wrong with machines and programs: one sentence, a status, and a log where needed."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from recall.cli.main import main
from recall.errors import StorageError
from recall.records.database import engine
from recall.records.database.store import Store

ROOT = Path(__file__).resolve().parents[2]
TELL = ("--on", "2026-09-07")


SHOWN = "It would take nothing away."
"""The last line of what a file would do."""


@pytest.fixture
def configured(store: Store, tmp_path: Path) -> tuple[str, ...]:
    """A practice on this test's register; the options that name it."""
    config = tmp_path / "recall.toml"
    config.write_text(
        f"""
[practice]
name = "Wrenfield Ear Care"
address = ["4 Tanner's Row", "Wrenfield"]
postcode = "WF99 4ZZ"
phone = "01632 960100"

[files]
database = "{store.path.as_posix()}"
"""
    )
    people = tmp_path / "people.csv"
    people.write_text("reference,family_name,born\nP1,Marsh,2018-03-02\n")
    return "--config", str(config), "--by", "rob", *TELL


def sentence(capfd: pytest.CaptureFixture[str], *, after: str = "") -> str:
    """Return the one sentence that is said, where some lines were shown after the last of them."""
    out, err = capfd.readouterr()
    assert out == ""
    said = err.partition(after)[2].strip() if after else err
    assert len(said.splitlines()) == 1, err
    assert "Traceback" not in err
    return err


def test_a_locked_database_says_so_and_changes_nothing(
    configured: tuple[str, ...],
    store: Store,
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(engine, "BUSY_MS", 50)
    other = sqlite3.connect(store.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        status = main(["import", "--yes", str(tmp_path / "people.csv"), *configured])
    finally:
        other.rollback()
        other.close()
    assert status == StorageError.exit_code
    assert "locked by another desk" in sentence(capfd, after=SHOWN)


def test_a_read_only_database_says_so(
    configured: tuple[str, ...],
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Refused by the database itself: file rights do not hold whoever may write everywhere."""
    monkeypatch.setattr(engine, "DESK_PRAGMAS", (*engine.DESK_PRAGMAS, "query_only=ON"))
    status = main(["import", "--yes", str(tmp_path / "people.csv"), *configured])
    assert status == StorageError.exit_code
    assert "may not be written" in sentence(capfd, after=SHOWN)


def test_a_newer_database_is_read_and_not_written(
    configured: tuple[str, ...], store: Store, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    store.close()
    with sqlite3.connect(store.path) as db:
        db.execute("UPDATE alembic_version SET version_num = '9999'")
    db.close()
    assert (
        main(["import", "--yes", str(tmp_path / "people.csv"), *configured])
        == StorageError.exit_code
    )
    assert "newer version" in sentence(capfd, after=SHOWN)


def test_an_older_database_names_the_command(
    configured: tuple[str, ...], store: Store, capfd: pytest.CaptureFixture[str]
) -> None:
    store.close()
    with sqlite3.connect(store.path) as db:
        db.execute("UPDATE alembic_version SET version_num = '0001'")
    db.close()
    assert main(["queue", *configured]) == StorageError.exit_code
    assert "recall upgrade" in sentence(capfd)


def test_a_file_that_is_no_database_says_so(
    configured: tuple[str, ...], store: Store, capfd: pytest.CaptureFixture[str]
) -> None:
    store.close()
    store.path.write_bytes(b"these are not the rows you are looking for" * 100)
    assert main(["queue", *configured]) == StorageError.exit_code
    assert "not a database" in sentence(capfd)


def test_the_unexpected_is_logged_whole_and_told_in_a_sentence(
    configured: tuple[str, ...],
    store: Store,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def breaks(*_given: object, **_more: object) -> None:
        raise ZeroDivisionError("Rowan Thackwell")

    monkeypatch.setattr("recall.desk.worklists.queue_lines.queue_lines", breaks)
    assert main(["queue", *configured]) == 1
    said = sentence(capfd)
    log = store.path.parent / "recall-errors.log"
    assert str(log) in said and "Thackwell" not in said
    assert "Traceback" in log.read_text("utf-8")
    if os.name != "nt":
        assert log.stat().st_mode & 0o077 == 0


def test_an_interrupt_ends_quietly(
    configured: tuple[str, ...],
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def stops(*_given: object, **_more: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("recall.desk.worklists.queue_lines.queue_lines", stops)
    assert main(["queue", *configured]) == 130
    assert "Stopped" in sentence(capfd)


def test_a_reader_who_goes_away_is_no_error(tmp_path: Path) -> None:
    case = b'{"born":"2018-03-02","visits":[{"on":"2026-09-01","right":{"effusion":"present"}}]}\n'
    cases = tmp_path / "cases.jsonl"
    cases.write_bytes(case * 400)
    code = "import sys; from recall.cli.main import main; sys.exit(main())"
    ran = subprocess.Popen(
        [sys.executable, "-c", code, "plan", str(cases), "--on", "2026-09-01"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert ran.stdout is not None and ran.stderr is not None
    ran.stdout.readline()
    ran.stdout.close()
    said = ran.stderr.read()
    ran.stderr.close()
    assert ran.wait(timeout=60) in (141, 0)
    assert said == b""


def test_two_writers_at_once_both_land(
    configured: tuple[str, ...], tmp_path: Path, store: Store
) -> None:
    code = "import sys; from recall.cli.main import main; sys.exit(main())"
    running: list[subprocess.Popen[bytes]] = []
    for number in (1, 2):
        people = tmp_path / f"people-{number}.csv"
        rows = "".join(f"P{number}{n:03d},Marsh {n},2018-03-02\n" for n in range(300))
        people.write_text(f"reference,family_name,born\n{rows}")
        running.append(
            subprocess.Popen(
                [sys.executable, "-c", code, "import", "--yes", str(people), *configured],
                cwd=ROOT,
                stderr=subprocess.PIPE,
            )
        )
    told = [child.communicate(timeout=120)[1].decode() for child in running]
    assert [child.returncode for child in running] == [0, 0], told
    from recall.records import tables
    from recall.records.journal import history

    with store.read() as session:
        assert session.query(tables.Person).count() == 600
    assert history.verify(store) == ()
