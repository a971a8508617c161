"""The parts of README.md and of the manual that are made from the program.

    python tests/docs/made.py        writes them anew

`test_pages.py` compares each with its source, so that no table and no picture goes stale.
What the program shows of a practice that is set up is in `shown.py`.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import get_args

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

import click  # noqa: E402 — not before the path

from recall import manual  # noqa: E402
from recall.care.case import Category, ReportWord, RiskWord, To  # noqa: E402
from recall.care.casefile import decode_case  # noqa: E402
from recall.care.catalogue import CATALOGUE, holding  # noqa: E402
from recall.care.findings.entry import Finding  # noqa: E402
from recall.care.measured import Hz  # noqa: E402
from recall.cli.main import COMMANDS, recall  # noqa: E402
from recall.config import Jobs  # noqa: E402
from recall.desk.core.rights import PEOPLE_ROLES, RIGHTS, ROLE_WORDS, Right, Role  # noqa: E402
from recall.desk.practice.timetable import JOBS, When  # noqa: E402
from recall.exchange.bookings_in import STATUSES  # noqa: E402
from recall.exchange.columns import column_rows  # noqa: E402
from recall.exchange.referrals_in import ENDED  # noqa: E402
from recall.letters.compose import WORDS  # noqa: E402
from recall.loop.outcomes import OUTCOMES, Channel, Outcome, OutcomeId, Then  # noqa: E402
from recall.protocol.comparing import in_hindsight  # noqa: E402
from recall.protocol.loading import load  # noqa: E402
from recall.schedule.calendar import say_day  # noqa: E402
from recall.schedule.planning import plan  # noqa: E402
from tests.docs import pages, running, shown  # noqa: E402
from tests.docs.markdown import table, words  # noqa: E402
from tests.docs.pages import PART  # noqa: E402
from tui.commands.table import COMMANDS as KEYED  # noqa: E402
from tui.commands.table import TITLES, commands_of  # noqa: E402
from tui.screens.manager import DECISIONS  # noqa: E402

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
WORDS_OF = {
    ("visits", "category"): get_args(Category),
    ("contacts", "channel"): get_args(Channel),
    ("contacts", "outcome"): get_args(OutcomeId),
    ("bookings", "status"): STATUSES,
    ("referrals", "service"): get_args(To),
    ("referrals", "ended_because"): ENDED,
}
"""Columns that take words from a list."""
WORKED_ON = date(2026, 9, 1)
FOLLOWS: dict[Then, str] = {
    "go_on": "the next step",
    "try_again": "the same step again",
    "call": "a call on the day agreed",
    "booking": "the appointment",
    "letter": "a letter",
    "clinician_call": "a clinician rings",
    "decision": "a clinician decides",
    "ask_result": "the result is asked for",
    "next_number": "the next number now; where there is none, the address is checked",
    "address_check": "the address and numbers are checked",
}
"""What follows an outcome, in words."""


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


def subcommands() -> str:
    """Return what the commands hold that are groups, each with what it does."""

    def rows() -> Iterator[tuple[str, ...]]:
        context = click.Context(recall)
        for name in COMMANDS:
            group = recall.get_command(context, name)
            if isinstance(group, click.Group):
                for word, command in group.commands.items():
                    says = " ".join((command.help or "").partition("\n\n")[0].split())
                    yield f"`recall {name} {word}`", says

    return table(("command", "what it does"), rows())


def key_tables() -> str:
    """Return the keys of every screen under its name."""
    found = []
    for where in dict.fromkeys(command.where for command in KEYED):
        rows = ((command.all_keys, command.says) for command in commands_of(where))
        title = TITLES[where]
        found.append(f"## {title[0].upper()}{title[1:]}\n\n{table(('key', 'what it does'), rows)}")
    return "\n".join(found)


def outcome_table() -> str:
    """Return every outcome of a call with its key, its word and what follows."""

    def rows() -> Iterator[tuple[str, ...]]:
        for outcome in OUTCOMES:
            yield outcome.words, f"`{outcome.key or 'b'}`", f"`{outcome.id}`", _follows(outcome)

    return table(("what came of it", "key", "word", "what follows"), rows())


def _follows(outcome: Outcome) -> str:
    wait = f"{outcome.wait} {'day' if outcome.wait == 1 else 'days'}" if outcome.wait else ""
    if wait and outcome.then == "call":
        wait = f", or after {wait} where none was agreed"
    elif wait:
        wait = f", after {wait}"
    return _as_sentence(f"{FOLLOWS[outcome.then]}{wait}. {outcome.ask}".strip())


def _as_sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"


def decision_table() -> str:
    """Return every decision about follow-ups with its key and its command."""

    def rows() -> Iterator[tuple[str, ...]]:
        for command in commands_of("manager"):
            kind = command.runs.removeprefix("screen.decide('").removesuffix("')")
            if command.runs.startswith("screen.decide("):
                word = DECISIONS[kind].replace("_", "-")
                says = command.says.removeprefix("Decide: ")
                yield _as_sentence(says), f"`{command.all_keys}`", f"`recall decide {word}`"

    return table(("decision", "key", "command"), rows())


def page_table() -> str:
    """Return the pages of the manual, each with whom it is for."""
    rows = ((f"[{manual.title(n)}](recall/manual/{n}.md)", manual.whom(n)) for n in manual.PAGES)
    return table(("page", "for whom"), rows)


def role_table() -> str:
    """Return what each role may do."""
    roles = [Role(role) for role in PEOPLE_ROLES]
    return table(
        ("to", *(ROLE_WORDS[role] for role in roles)),
        ((right.value, *("yes" * (r in RIGHTS[right]) for r in roles)) for right in Right),
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


def worked() -> str:
    """Return the dates of the worked example."""
    found = plan(decode_case(pages.case_file()), in_hindsight(load()), WORKED_ON)
    dues = [
        (due, say_day(due.earliest), say_day(due.target), due.latest)
        for follow_up in found.follow_ups
        for due in follow_up.dues
    ]
    seen = [
        (reason, "", "referred", referral.stages.seen_by)
        for referral in found.referrals
        for reason in referral.reasons
    ]
    return table(
        ("why", "from", "best", "at the latest", "rule, source"),
        (
            (
                f"{why.ear} ear: {why.says}",
                first,
                best,
                say_day(last),
                f"`{why.rule}`; {why.source}",
            )
            for why, first, best, last in (*dues, *seen)
        ),
    )


PARTS: dict[str, Callable[[], str]] = {
    "pages": page_table,
    "commands": command_table,
    "subcommands": subcommands,
    "jobs": job_table,
    "keys": key_tables,
    "outcomes": outcome_table,
    "decisions": decision_table,
    "roles": role_table,
    "letter words": lambda: table(
        ("word", "what it stands for"), ((f"`{word}`", says) for word, says in WORDS.items())
    ),
    "worked": worked,
    "people": lambda: columns("people"),
    "visits": lambda: columns("visits"),
    "contacts": lambda: columns("contacts"),
    "bookings": lambda: columns("bookings"),
    "referrals": lambda: columns("referrals"),
    "tests": lambda: columns("tests"),
    "ears": ear_columns,
    "risks": lambda: words(get_args(RiskWord)) + ".\n",
    "reported": lambda: words(get_args(ReportWord)) + ".\n",
}
"""Parts made from what the program knows of itself, by name."""


def renewed(text: str, folder: Path) -> str:
    """Return a text with its parts made anew, in a practice that is set up."""

    def make(name: str) -> str:
        return PARTS[name]() if name in PARTS else shown.SHOWN[name](folder)

    return PART.sub(lambda found: f"{found[1]}{make(found['name'])}{found[4]}", text)


def write_anew() -> None:
    """Set the demo's practice up as the manual says, and write the parts."""
    scratch = Path(tempfile.mkdtemp())
    try:
        folder = running.copy_of_practice(scratch / "practice")
        for ran in running.take_in(folder):
            print(ran.line if ran.went_well else f"{ran.line}: {ran.err}", file=sys.stderr)
        for name, path in pages.PAGES.items():
            path.write_text(renewed(pages.text_of(name), folder), "utf-8")
    finally:
        shutil.rmtree(scratch)


if __name__ == "__main__":
    write_anew()
