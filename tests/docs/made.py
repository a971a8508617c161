"""The parts of README.md that are made from the program: tables, and what it prints.

    python tests/docs/made.py        writes them anew

A part stands between `<!-- made: NAME -->` and `<!-- end -->`. `test_readme.py` compares each
with its source, so that a table cannot go stale.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import get_args

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
PART = re.compile(r"(<!-- made: (?P<name>[\w -]+) -->\n)(?P<text>.*?)(<!-- end -->)", re.S)
sys.path.insert(0, str(ROOT))

from recall.care.case import Category, ReportWord, RiskWord  # noqa: E402 — not before the path
from recall.care.casefile import decode_case  # noqa: E402
from recall.care.catalogue import CATALOGUE, holding  # noqa: E402
from recall.care.findings.entry import Finding  # noqa: E402
from recall.care.measured import Hz  # noqa: E402
from recall.cli.main import COMMANDS  # noqa: E402
from recall.config import Jobs  # noqa: E402
from recall.desk.practice.timetable import JOBS, When  # noqa: E402
from recall.exchange.bookings_in import STATUSES  # noqa: E402
from recall.exchange.columns import column_rows  # noqa: E402
from recall.letters.compose import WORDS  # noqa: E402
from recall.loop.outcomes import Channel, OutcomeId  # noqa: E402
from recall.protocol.loading import load  # noqa: E402
from recall.schedule.calendar import say_day  # noqa: E402
from recall.schedule.planning import plan  # noqa: E402
from tests.docs import running  # noqa: E402
from tui.commands.table import key_table  # noqa: E402

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
WORDS_OF = {
    ("visits", "category"): get_args(Category),
    ("contacts", "channel"): get_args(Channel),
    ("contacts", "outcome"): get_args(OutcomeId),
    ("bookings", "status"): STATUSES,
}
"""Columns that take words from a list."""
WORKED_ON = date(2026, 9, 1)
PROVOKED = {
    "nobody said who acts": "recall confirm W1573",
    "a misspelt handle": "recall confirm W1573 --by quil",
    "not allowed to decide": "recall confirm W1573 --by thackray",
    "more came in since it was shown": "recall confirm --all --expect 9 --by quill",
    "nobody of that name": "recall person W9999",
    "not on the list any more": "recall contact 99999 no_answer --by thackray",
    "the file is not there": "recall import nobody.csv --by thackray",
    "a word that does not exist": "recall quue",
}
"""What people meet, and a command that meets it."""


def table(heads: tuple[str, ...], rows: Iterator[tuple[str, ...]]) -> str:
    """Return a table in Markdown."""
    body = (tuple(cell.replace("|", "\\|") for cell in row) for row in rows)
    lines = [heads, tuple("---" for _ in heads), *body]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)


def words(of: tuple[str, ...]) -> str:
    """Return words as code, in a row."""
    return ", ".join(f"`{word}`" for word in of)


def columns(kind: str) -> str:
    """Return the columns of a kind of file; those of the ears have a table of their own."""

    def rows() -> Iterator[tuple[str, ...]]:
        for row in column_rows(kind):
            if row.column.startswith(("right_", "left_")):
                continue
            allowed = WORDS_OF.get((kind, row.column))
            holds = f"{row.holds}: {words(allowed)}" if allowed else row.holds
            yield f"`{row.column}`", "yes" if row.needed else "", holds

    return table(("column", "needed", "what it holds"), rows())


def ear_columns() -> str:
    """Return the columns of one ear, each for right and left in one row."""

    def rows() -> Iterator[tuple[str, ...]]:
        for finding in CATALOGUE.values():
            if finding.holds != "levels":
                yield f"`right_{finding.name}`, `left_{finding.name}`", _takes(finding)
        for what in (CATALOGUE[name].column for name in holding("levels")):
            yield (
                f"`right_{what}_500`, `left_{what}_500` …",
                f"dB HL, or `nr` for no response, at {', '.join(get_args(Hz))} Hz",
            )

    return table(("columns", "what they take"), rows())


def _takes(finding: Finding) -> str:
    """Return what a finding takes, in words; a list of words in its own order."""
    if finding.holds == "trace":
        return "a type (`A`, `As`, `Ad`, `B`, `C1`, `C2`), `flat`, `flat/1.1` or `-120/0.4/1.1`"
    if finding.holds == "when":
        return "a day, a month as 2026-08, or `6 weeks` before the visit"
    if finding.is_flag:
        return "yes or no"
    if isinstance(finding.values[0], int):
        return f"{finding.values[0]} to {finding.values[-1]}"
    return words(finding.values)


def command_table() -> str:
    """Return every command with what it does."""
    return table(
        ("command", "what it does"),
        ((f"`recall {name}`", says) for name, (_where, says) in COMMANDS.items()),
    )


def job_table() -> str:
    """Return every job with when it runs where the configuration says nothing else."""
    return table(
        ("job", "runs", "what it does"),
        ((f"`{j.name}`", _runs(j.when(Jobs())), j.says) for j in JOBS.values()),
    )


def _runs(when: When) -> str:
    at = f"{when.at:%H:%M}"
    if when.weekday is not None:
        return f"{WEEKDAYS[when.weekday]} {at}"
    return f"day {when.month_day} of the month, {at}" if when.month_day else f"daily {at}"


def case_of(readme: str) -> bytes:
    """Return the case file that the worked example prints."""
    (text,) = re.findall(r"^```json\n(.*?)^```$", readme, re.S | re.M)
    return str(text).encode()


def worked() -> str:
    """Return the dates of the worked example."""
    found = plan(decode_case(case_of(README.read_text("utf-8"))), load(), WORKED_ON)
    dues = [due for follow_up in found.follow_ups for due in follow_up.dues]
    return table(
        ("why", "from", "best", "at the latest", "rule, source"),
        (
            (
                f"{due.ear} ear: {due.says}",
                *(say_day(day) for day in (due.earliest, due.target, due.latest)),
                f"`{due.rule}`; {due.source}",
            )
            for due in dues
        ),
    )


PARTS: dict[str, Callable[[], str]] = {
    "commands": command_table,
    "jobs": job_table,
    "keys": key_table,
    "letter words": lambda: table(
        ("word", "what it stands for"), ((f"`{word}`", says) for word, says in WORDS.items())
    ),
    "worked": worked,
    "people": lambda: columns("people"),
    "visits": lambda: columns("visits"),
    "contacts": lambda: columns("contacts"),
    "bookings": lambda: columns("bookings"),
    "ears": ear_columns,
    "risks": lambda: words(get_args(RiskWord)) + ".\n",
    "reported": lambda: words(get_args(ReportWord)) + ".\n",
}
"""Parts made from what the program knows of itself, by name."""


def errors(folder: Path) -> str:
    """Return what is said to people who meet the usual errors."""

    def rows() -> Iterator[tuple[str, ...]]:
        for what, line in PROVOKED.items():
            told = running.run(line, folder)
            assert told.status not in (0, 1), f"{line}: {told.out}{told.err}"
            yield what, f"`{line}`", told.err.strip()
        with tempfile.TemporaryDirectory() as empty:
            told = running.run("recall queue", Path(empty))
            yield "a folder without settings", "`recall queue`", _without(empty, told.err)
            shutil.copy(folder / "recall.toml", empty)
            told = running.run("recall queue", Path(empty))
            yield "no database there yet", "`recall queue`", _without(empty, told.err)

    return table(("what happened", "for example", "what you are told"), rows())


def _without(folder: str, told: str) -> str:
    """Return a sentence with a file's name in the place of its whole path."""
    return told.strip().replace(f"{Path(folder).resolve()}{os.sep}", "")


def block(text: str) -> str:
    """Return what a terminal shows, as a block."""
    return f"```text\n{text}```\n"


SHOWN: dict[str, Callable[[Path], str]] = {
    "picture": lambda folder: block(running.calls_screen(folder)),
    "queue": lambda folder: block(running.run("recall queue --limit 2", folder).out),
    "errors": errors,
}
"""Parts that the program shows on the demo's day, in a practice that is set up, by name."""


def parts_of(text: str) -> dict[str, str]:
    """Return the parts that a text holds."""
    return {found["name"]: found["text"] for found in PART.finditer(text)}


def renewed(text: str, folder: Path) -> str:
    """Return a text with its parts made anew, in a practice that is set up."""

    def make(name: str) -> str:
        return PARTS[name]() if name in PARTS else SHOWN[name](folder)

    return PART.sub(lambda found: f"{found[1]}{make(found['name'])}{found[4]}", text)


def write_anew() -> None:
    """Set the demo's practice up as the README says, and write the parts."""
    text = README.read_text("utf-8")
    scratch = Path(tempfile.mkdtemp())
    try:
        folder = running.copy_of_practice(scratch / "practice")
        for ran in running.take_in(text, folder):
            print(ran.line if ran.went_well else f"{ran.line}: {ran.err}", file=sys.stderr)
        README.write_text(renewed(text, folder), "utf-8")
    finally:
        shutil.rmtree(scratch)


if __name__ == "__main__":
    write_anew()
