"""What the commands share: options, the open desk, lists as data, questions to a person."""

from __future__ import annotations

import functools
import io
import re
import sys
import tempfile
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date, datetime, time
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any, TypeVar, cast

import click

from recall.errors import InputError, RecallError
from recall.reading import content_at

if TYPE_CHECKING:
    from recall.config import Config
    from recall.desk.core.session import Desk

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 80}
JOINERS = "\u200c\u200d"
"""Invisible, but names of some languages are spelled with them."""
WIDTH = 80
"""How wide a line for people may be."""
Made = TypeVar("Made", bound=Callable[..., Any])
Read = TypeVar("Read")
_DAY_TEXT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_MOMENT_TEXT = re.compile(
    _DAY_TEXT.pattern + r"[T ][0-9]{2}:[0-9]{2}(:[0-9]{2})?(Z|[+-][0-9]{2}:[0-9]{2})?"
)
_log_folders: list[Path] = []


def day(text: str | date, *, past: bool = False) -> date:
    """Return the day that an option names: 2026-09-15, 15/9, thu, +14, tomorrow.

    It is read as the desk's own fields read it. A day without a year is the next one to come,
    or with `past` the last one that was.
    """
    if isinstance(text, date):
        return text
    try:
        return read_iso(text, _DAY_TEXT).date()
    except ValueError:
        from recall.exchange.typed_days import read_day

        return _read(text, lambda: read_day(text, _today(), past=past))


def when(text: str) -> datetime:
    """Return the day and time that an argument names: 2026-09-15T10:30, or 15/9 10.30."""
    from recall.exchange.typed_days import read_when

    try:
        return moment(text)
    except ValueError:
        return _read(text, lambda: read_when(text, _today()))


def call_at(text: str | date) -> tuple[date, time | None]:
    """Return the day on which somebody is to be rung, with the hour where one was typed."""
    from recall.exchange.typed_days import read_call_at

    try:
        return text if isinstance(text, date) else read_iso(text, _DAY_TEXT).date(), None
    except ValueError:
        return _read(str(text), lambda: read_call_at(str(text), _today()))


def _read(text: str, read: Callable[[], Read]) -> Read:
    try:
        return read()
    except InputError as error:
        raise click.BadParameter(str(error)) from None


def _today() -> date:
    """Return the day from which a short one is counted: that of `--on`, else the practice's."""
    from recall.clock import Clock

    context = click.get_current_context(silent=True)
    params = context.params if context is not None else {}
    if isinstance(on := params.get("on"), date):  # while options are read, others have no value yet
        return on
    file = params.get("config")
    try:
        zone = settings(file if isinstance(file, Path) else None).calendar.time_zone
        return Clock(zone).today()
    except RecallError:  # the command itself says so; a day that is not short is read all the same
        return Clock().today()


def moment(text: str) -> datetime:
    """Return the wall time that a text names, written as 2026-09-01T10:30.

    Raises:
        ValueError: it names none.
    """
    return read_iso(text, _MOMENT_TEXT)


def read_iso(text: str, form: re.Pattern[str]) -> datetime:
    """Return what an ISO 8601 text of one form names; the standard has rarer and shorter ones."""
    if not form.fullmatch(text):
        raise ValueError(text)
    return datetime.fromisoformat(text)


def days(count: int) -> str:
    """Return a number of days in words.

    >>> days(1), days(12)
    ('1 day', '12 days')
    """
    return f"{count:,} day{'' if count == 1 else 's'}"


class _Day(click.ParamType[date]):
    name = "day"

    def __init__(self, *, past: bool = False) -> None:
        self._past = past

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        return day(value, past=self._past)


DAY, PAST_DAY = _Day(), _Day(past=True)
FILE = click.Path(path_type=Path, dir_okay=False)
in_config = click.option(
    "--config",
    type=FILE,
    is_eager=True,
    help="The configuration file; recall.toml here where left out.",
)
by_whom = click.option("--by", metavar="HANDLE", help="Who acts.")
at_site = click.option("--site", help="Of one site alone, where there are several.")
on_day = click.option(
    "--on", type=DAY, is_eager=True, help="A day in the place of today: 2026-09-15, 15/9, thu."
)


def acting(command: Made) -> Made:
    """Give a command the options that say in which register, as whom and on which day."""
    return in_config(by_whom(on_day(command)))


def as_data(command: Made) -> Made:
    """Give a list the options that print it for other programs."""
    to_csv = click.option("--csv", "form", flag_value="csv", help="Print as CSV.")
    to_json = click.option("--json", "form", flag_value="json", help="Print as JSON.")
    return to_csv(to_json(command))


def gathered(
    name: str, make: Callable[..., Any], *options: Callable[[Any], Any]
) -> Callable[[Made], Made]:
    """Return what gives a command options that reach it as one record, under one name.

    `make` builds the record of their values.
    """

    def give(command: Made) -> Made:
        @functools.wraps(command)
        def run(**given: Any) -> Any:
            record = make(**{each: given.pop(each) for each in asked})
            return command(**{name: record}, **given)

        before = len(getattr(run, "__click_params__", ()))
        for option in reversed(options):
            option(run)
        asked = [each.name for each in getattr(run, "__click_params__", ())[before:]]
        return cast(Made, run)

    return give


def settings(path: Path | None) -> Config:
    """Return the configuration, and from now on log beside its database."""
    from recall.config import load
    from recall.records.database import keys, servers

    config = load(path)
    servers.use(config.files.server, config.files.database)
    keys.use(config.encryption.key, config.files.database)
    _log_folders.append(config.files.database.parent)
    return config


def log_folder() -> Path:
    """Return where the log goes: beside the database, once that is known."""
    return _log_folders[-1] if _log_folders else Path(tempfile.gettempdir())


@contextmanager
def desk(
    config: Path | None,
    by: str | None,
    on: date | None,
    *,
    reading: bool = False,
    site: str | None = None,
) -> Iterator[Desk]:
    """Give the open desk and close it afterwards; `reading` needs nobody to be named.

    With a `site`, its lists are of that site alone.
    """
    from recall.cli.shared.signed import proof_of
    from recall.desk.core.proof import Way
    from recall.desk.core.session import open_desk

    practice = settings(config)
    way = Way("command", proof_of(practice))
    opened = open_desk(practice, by=by, on=on, reading=reading, way=way).looking_ahead()
    try:
        yield _at(opened, site) if site else opened
    finally:
        opened.close()


def _at(opened: Desk, site: str) -> Desk:
    from recall.desk.core.narrowing import narrowed

    return narrowed(opened, site)


def say(text: str = "") -> None:
    """Say something to whoever ran the command, beside the data; if nobody listens, go on."""
    with suppress(OSError):
        click.echo(text, err=True)


def emit_lines(text: str) -> None:
    """Print lines for people: what is wider than promised goes on below, further in.

    Not for what is copied from the terminal, such as a path.
    """
    lines = (shown(line) for line in text.splitlines())
    emit("".join(f"{part}\n" for line in lines for part in fitted(line)))


def shown(line: str) -> str:
    """Return a line without characters that hide others or turn the direction of writing.

    >>> shown("  Ann\u202e Lee\x1b[31m")
    '  Ann Lee[31m'
    """
    return "".join(c for c in line if c in JOINERS or unicodedata.category(c)[0] != "C")


def fitted(line: str) -> list[str]:
    """Return a line as it is, or in pieces where it is wider than `WIDTH`.

    >>> fitted("  short")
    ['  short']
    """
    if len(line) <= WIDTH:
        return [line]
    within = " " * (len(line) - len(line.lstrip()) + 3)
    return wrap(line, WIDTH, subsequent_indent=within, break_on_hyphens=False)


def emit(text: str) -> None:
    """Print data exactly as it is: UTF-8, and line ends untouched."""
    emit_bytes(text.encode("utf-8"))


def emit_bytes(data: bytes) -> None:
    """Print data, byte for byte."""
    sys.stdout.flush()
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()


def emit_data(form: str, kind: type[Any], rows: Sequence[Any]) -> None:
    """Print a list for other programs, as CSV or JSON."""
    from recall.exchange.out import to_csv, to_json

    if form == "csv":
        emit_csv(to_csv(kind, rows))
    else:
        emit(to_json(rows))


def emit_csv(text: str) -> None:
    """Print CSV with the mark by which a spreadsheet takes its accents for what they are."""
    from recall.exchange.spreadsheet import for_spreadsheets

    emit_bytes(for_spreadsheets(text))


def read_bytes(path: str) -> bytes:
    """Return a file's content, or standard input's for `-`."""
    if path == "-":
        return sys.stdin.buffer.read()
    try:
        return content_at(Path(path))
    except OSError as error:
        why = error.strerror or str(error)
        raise InputError(f"{path} cannot be read: {why}.", hint="Check the name.") from None


def agreed(question: str, yes: bool, option: str = "--yes") -> bool:
    """Return whether somebody at the terminal agrees; without a terminal only the option does."""
    if yes:
        return True
    if not sys.stdin.isatty():
        raise InputError(
            f"{question} Nobody is there to answer.", hint=f"Add {option} to go ahead."
        )
    return click.confirm(question, err=True)


def plain_streams() -> None:
    """Let no character stop a line: other programs get UTF-8, a terminal what it can show."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            encoding = stream.encoding if stream.isatty() else "utf-8"
            stream.reconfigure(encoding=encoding, errors="backslashreplace")
