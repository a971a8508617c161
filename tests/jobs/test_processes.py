"""Real runners in processes of their own: many at once, cut off, stopped, started twice."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import func, select

from recall import config
from recall.cli.main import main
from recall.clock import Clock
from recall.desk.core.session import open_desk
from recall.desk.practice.timetable import JOBS
from recall.records import tables
from recall.records.database import servers
from recall.records.journal import history, job_ledger
from tests.jobs import children
from tests.jobs.making import practice_in

ROOT = Path(__file__).resolve().parents[2]
DAY = date(2026, 9, 7)
TOML = """
[practice]
name = "Wrenfield Ear Care"
address = ["4 Larkspur Yard", "Wrenfield"]
postcode = "WR9 9ZZ"
phone = "01632 960123"
"""


@pytest.fixture
def file(tmp_path: Path, empty_register: Path) -> Path:
    """A configuration file beside its register, or with the address of it."""
    made = practice_in(tmp_path, empty_register)
    path = tmp_path / "recall.toml"
    address = servers.address_of(made.files.database)
    files = f'[files]\ndatabase = "{address}"\n' if address else ""
    path.write_text(TOML + files, "utf-8")
    servers.use(address, config.load(path).files.database)
    return path


def recall(file: Path, *words: str) -> subprocess.Popen[str]:
    """The command, in a process of its own."""
    code = "import sys; from recall.cli.main import main; sys.exit(main())"
    return subprocess.Popen(
        [sys.executable, "-c", code, *words, "--config", str(file)],
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


def ledger(file: Path) -> dict[str, list[tuple[date, str]]]:
    desk = open_desk(config.load(file), by="jobs", clock=Clock.at(DAY))
    with desk.store.read() as session:
        found = {
            job: [(run.for_day, run.state) for run in job_ledger.runs(session, job)] for job in JOBS
        }
        nights = job_ledger.runs(session, "nightly")
        looks = session.scalar(select(func.count()).select_from(tables.FailsafeRun))
    assert history.verify(desk.store) == ()
    desk.close()
    assert looks == sum("failsafe_found" in night.counts for night in nights)
    return found


DONE = {
    "nightly": [(DAY, "done")],
    "papers": [(DAY, "done")],
    "letters": [(DAY, "done")],
    "wax": [(date(2026, 9, 1), "done")],
    "report": [(date(2026, 9, 1), "done")],
    "backup": [(DAY, "done")],
}


def test_six_runners_at_once_do_each_run_once(file: Path) -> None:
    started = [children.start(file, DAY) for _ in range(6)]
    for process, _told in started:
        process.join()

    assert [process.exitcode for process, _told in started] == [0] * 6
    runs = [run for _process, told in started for run in told.get()]
    done = Counter((job, day) for job, day, state in runs if state == "done")
    assert done == {(job, rows[0][0]): 1 for job, rows in DONE.items()}
    assert ledger(file) == DONE
    assert len(list((file.parent / "backups" / "nightly").iterdir())) == 1


@pytest.mark.parametrize("die", [("before", 1), ("before", 4), ("after", 5), ("before", 7)])
def test_a_runner_cut_off_at_a_commit_loses_and_doubles_nothing(
    file: Path, die: tuple[str, int]
) -> None:
    killed, _told = children.start(file, DAY, die)
    killed.join()
    assert killed.exitcode == -signal.SIGKILL

    next_day = date(2026, 9, 8)
    again, _told = children.start(file, next_day)
    again.join()

    found = ledger(file)
    assert {state for rows in found.values() for _day, state in rows} == {"done"}
    assert {job: rows[0][0] for job, rows in found.items()} == {
        **{job: rows[0][0] for job, rows in DONE.items()},
        "nightly": next_day,
        "papers": next_day,
        "backup": next_day,
    }


def test_the_server_does_what_is_due_and_stops_when_told(file: Path) -> None:
    serving = recall(file, "jobs", "serve")
    assert serving.stderr is not None
    said = []
    for line in serving.stderr:
        said.append(line)
        if sum(": done" in each for each in said) == 5:
            break
    second = recall(file, "jobs", "serve")
    _out, refused = second.communicate()
    serving.send_signal(signal.SIGTERM)
    _out, rest = serving.communicate(timeout=30)

    assert (second.returncode, "Another runner" in refused) == (4, True)
    assert serving.returncode == 0 and rest.strip().endswith("Stopped.")


def test_the_command_line_says_where_the_jobs_stand(
    file: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    where = ["--config", str(file), "--on", str(DAY)]
    assert main(["jobs", "status", *where]) == 0
    out, err = capfd.readouterr()
    assert "never run" in err
    assert [line.split()[0] for line in out.splitlines()] == list(DONE)

    assert main(["jobs", "run", *where]) == 0
    capfd.readouterr()
    assert main(["jobs", "run", "letters", *where]) == 0
    assert "was done before" in capfd.readouterr().err
    assert main(["jobs", "status", "--json", *where]) == 0
    assert '"last_done":"2026-09-07"' in capfd.readouterr().out


def test_the_month_is_printed_and_a_backup_made_by_command(
    file: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    where = ["--config", str(file)]
    assert main(["report", "--month", "2026-08-01", "--appointments", "12", *where]) == 0
    assert "missing from the register" in capfd.readouterr().out
    assert main(["backup", *where]) == 0
    assert Path(capfd.readouterr().out.strip()).is_file()
