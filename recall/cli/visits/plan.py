"""`recall plan`: one person's case file in, what is open out. No database, no set-up."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from datetime import date
from functools import partial
from pathlib import Path

import click
import msgspec

from recall.care.case import Case
from recall.care.case_schema import schema
from recall.care.casefile import decode_case, decode_cases
from recall.cli.shared.common import DAY, FILE, emit, read_bytes, say
from recall.clock import Clock
from recall.cycle.population import Population
from recall.errors import InputError
from recall.protocol.comparing import in_hindsight
from recall.protocol.loading import load
from recall.schedule.plan import Plan
from recall.schedule.planning import plan as plan_case

LINES = (".jsonl", ".ndjson")
Planner = partial[Plan]


@click.command()
@click.argument("case", metavar="CASE.json", required=False)
@click.option("--on", type=DAY, help="Leave out visits after this day; today where left out.")
@click.option("--protocol", type=FILE, help="A protocol file in the place of the default one.")
@click.option("--population", type=FILE, help="How wax comes back in this practice, as JSON.")
@click.option("--lines", is_flag=True, help="JSON Lines: one case a line in, one plan a line out.")
@click.option("--schema", "ask_schema", is_flag=True, help="Print the JSON Schema of a case file.")
def plan(
    case: str | None,
    on: date | None,
    protocol: Path | None,
    population: Path | None,
    lines: bool,
    ask_schema: bool,
) -> int:
    """Print what is open for one person after their last visit.

    CASE.json holds one person's history; - reads standard input. A file of JSON Lines
    (.jsonl) plans many, one plan a line in the same order. No register holds the case, so that
    nobody has judged its visits before: the newest rules judge them all. A protocol file that is
    given judges each visit by the rules of its own day.
    """
    if ask_schema:
        emit(_pretty(schema()))
        return 0
    if case is None:
        raise click.UsageError("Give a case file, or - for standard input")
    make = partial(
        plan_case,
        protocol=load(protocol) if protocol else in_hindsight(load()),
        on=on or Clock().today(),
        population=_population(population),
    )
    data = read_bytes(case)
    if lines or case.lower().endswith(LINES) or _are_lines(data):
        return _many(data.splitlines(), make)
    emit(_pretty(make(_alone(data, case))))
    return 0


def _alone(data: bytes, where: str) -> Case:
    """Return the one case of a file; a refusal names the file."""
    try:
        return decode_case(data)
    except InputError as error:
        name = "Standard input" if where == "-" else Path(where).name
        raise InputError(f"{name}: {error.message}", hint=error.hint) from None


def _are_lines(data: bytes) -> bool:
    """Say whether there are several lines, and the first is whole by itself."""
    first, _, rest = data.strip().partition(b"\n")
    if not rest.strip():
        return False
    try:
        msgspec.json.decode(first)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return False
    return True


def _many(lines: Iterable[bytes], make: Planner) -> int:
    """Print one plan, or why there is none, for each line; return the exit status."""
    refused: list[str] = []
    emit_all(_answers(lines, make, refused))
    for sentence in refused[:20]:
        say(sentence)
    if len(refused) > 20:
        say(f"… and {len(refused) - 20} more.")
    return InputError.exit_code if refused else 0


def _answers(lines: Iterable[bytes], make: Planner, refused: list[str]) -> Iterator[bytes]:
    encode = msgspec.json.encode
    for line in decode_cases(lines):
        if line.case is not None:
            yield encode(make(line.case))
        else:
            refused.append(str(line.error))
            yield encode({"line": line.number, "refused": str(line.error)})


def emit_all(answers: Iterable[bytes]) -> None:
    """Print lines as they come."""
    for answer in answers:
        sys.stdout.buffer.write(answer + b"\n")
    sys.stdout.buffer.flush()


def _population(path: Path | None) -> Population | None:
    if path is None:
        return None
    try:
        return msgspec.json.decode(read_bytes(str(path)), type=Population)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path.name}: {error}.", hint="Use a file that a fit made.") from None


def _pretty(value: object) -> str:
    return msgspec.json.format(msgspec.json.encode(value), indent=2).decode() + "\n"
