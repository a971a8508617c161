"""The configuration file: one frozen value made from TOML, with every path made absolute.

An unknown key is refused, never ignored: a misspelt setting that silently does
nothing is how letters end up in the wrong folder.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from datetime import date, time
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

import msgspec

from recall.capacity import WEEKDAYS as WEEKDAYS
from recall.capacity import Capacity as Capacity
from recall.capacity import Closure as Closure
from recall.capacity import Rota as Rota
from recall.capacity import Text, Weekday
from recall.errors import ConfigError
from recall.reading import content_at
from recall.server_address import part_address
from recall.sites import ALL as ALL
from recall.sites import Site as Site
from recall.sites import refuse_twins
from recall.sites import site_meant as site_meant

FILE_NAME = "recall.toml"
"""The file looked for in the working folder where none is named."""
EXAMPLE = "config.example.toml"
_INSTALLED_EXAMPLE = Path(__file__).parent / "_example" / EXAMPLE
"""Where an installed copy has it; a checkout has it at its top."""
KEYRING, ASKED = "keyring", "ask"
"""Where a key is that is in no file: with the system's keeper of secrets; typed each time."""
NO_FILE = (KEYRING, ASKED)

TimeText = Annotated[str, msgspec.Meta(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]
Language = Annotated[str, msgspec.Meta(pattern=r"^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$")]
Address = Annotated[tuple[Text, ...], msgspec.Meta(min_length=2, max_length=6)]
DateFormat = Annotated[str, msgspec.Meta(description="Made of DD, MM or MON, and YYYY.")]


class _Section(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, rename={"from_": "from"}
):
    """What every section of the file shares."""


class Practice(_Section, frozen=True, kw_only=True):
    """Who writes the letters, as printed on them."""

    name: Text
    address: Annotated[tuple[Text, ...], msgspec.Meta(min_length=1, max_length=5)]
    postcode: Text
    phone: Text
    email: str = ""
    opening_hours: str = ""
    """As a sentence, for the letters."""
    opening_hours_in: dict[Language, str] = {}
    """The same in other languages of the letters, where it is not put over right."""


class Calendar(_Section, frozen=True, kw_only=True):
    """When the practice is open, and whose public holidays it keeps."""

    country: str = "GB"
    subdivision: str = "ENG"
    time_zone: str = "Europe/London"
    open_days: Annotated[tuple[Weekday, ...], msgspec.Meta(min_length=1)] = WEEKDAYS[:5]
    closures: tuple[Closure, ...] = ()
    extra_open: tuple[date, ...] = ()
    """Days that are open although the weekday or a public holiday says otherwise."""

    def __post_init__(self) -> None:
        """Refuse a time zone that does not exist."""
        try:
            ZoneInfo(self.time_zone)
        except (ValueError, OSError, LookupError):
            raise ValueError(f"`time_zone` {self.time_zone!r} is unknown") from None

    @property
    def open_weekdays(self) -> frozenset[int]:
        """Return the open days as numbers, Monday is 0."""
        return frozenset(WEEKDAYS.index(day) for day in self.open_days)


class Files(_Section, frozen=True, kw_only=True):
    """Where things are kept. Relative paths start at the configuration file's folder."""

    database: Path = Path("recall.db")
    """The register's file; where `server` is set, the path that stands for it, of no file."""
    server: str = ""
    """The address of a server, where that was written as the database."""
    letters: Path = Path("letters")
    wording: Path | None = None
    """A folder with the practice's own letter wording; "" or left out, ours alone."""
    protocol: Path | None = None
    """The practice's own protocol; "" or left out, the one that comes with the program."""
    sign_off: Path = Path("protocol.signed.toml")
    backups: Path = Path("backups")
    backups_elsewhere: Path | None = None
    """A folder on another disk or machine, where each night's backup is copied; "" or left out,
    nowhere."""
    reports: Path = Path("reports")
    papers: Path = Path("papers")
    """Each day's lists for paper; best on another disk, to be there when this machine is not."""


class Encryption(_Section, frozen=True, kw_only=True):
    """Where the key of an encrypted register is kept."""

    key: str = ""
    """"" where it is not encrypted; `keyring`; `ask`, to type it each time; or a file."""


class Letters(_Section, frozen=True, kw_only=True):
    """What is printed, and how much of a backlog at once."""

    languages: Annotated[tuple[Language, ...], msgspec.Meta(min_length=1)] = ("en",)
    """The first is written where a person has none, or one that is not listed."""
    says: Literal["neutral", "what_for"] = "neutral"
    """What letters to people say of why they are asked to come: nothing, or what for."""
    backlog_per_week: Annotated[int, msgspec.Meta(ge=0)] = 60
    """Most letters a week for follow-ups that were already late when imported."""
    whole_sheets: bool = False
    """Every letter begins on a sheet of its own, for a printer that prints on both sides all the
    same; the pages ask it not to."""


class Able(_Section, frozen=True, kw_only=True):
    """What a practice can do itself; what it cannot is asked of another service."""

    audiometry_from_age: Annotated[int, msgspec.Meta(ge=0, le=99)] = 0
    """In years."""
    tympanometry: bool = True
    suction: bool = True
    prescribing: bool = False
    removing_objects: bool = True

    def of_themselves(self) -> dict[str, Any]:
        """Return the settings without the day from which they hold."""
        return {name: getattr(self, name) for name in Able.__struct_fields__}


class AbleBefore(Able, frozen=True, kw_only=True):
    """What stood before, from a day of its own on."""

    since: date


class Capabilities(Able, frozen=True, kw_only=True):
    """What the practice can do now, from which day on, and what stood before that."""

    since: date | None = None
    """The first day of visits that are judged so; earlier ones stay as they were."""
    before: tuple[AbleBefore, ...] = ()

    def __post_init__(self) -> None:
        """Refuse settings that would be laid over visits long closed."""
        if self.since is None and (self.before or self.of_themselves() != Able().of_themselves()):
            raise ValueError("`since` must name the first day of visits that are judged so")
        days = [one.since for one in self.before] + ([self.since] if self.since else [])
        if any(later <= earlier for earlier, later in pairwise(days)):
            raise ValueError("`before` lists days in order, all of them before `since`")


class Changeover(_Section, frozen=True, kw_only=True):
    """From when on the practice works with this register, and how its history is looked through."""

    went_live: date | None = None
    """What imported history asked for before is looked through first; "" or left out, it is not."""
    a_day: Annotated[int, msgspec.Meta(ge=1, le=500)] = 25
    """How much of it is put before a clinician in a day."""


class Staff(_Section, frozen=True, kw_only=True):
    """Who acts where a command does not say."""

    default: str = ""


class AtDesk(_Section, frozen=True, kw_only=True):
    """Whether everybody proves who they are, and for how long that holds."""

    sign_in: bool = False
    """Once anybody has a password, everybody signs in, whatever stands here."""
    locks_after: Annotated[int, msgspec.Meta(ge=1, le=120)] = 10
    """Minutes without a key after which the screens lock."""
    session_hours: Annotated[int, msgspec.Meta(ge=1, le=12)] = 1
    """Hours without a command after which a session of the plain commands ends."""


class Children(_Section, frozen=True, kw_only=True):
    """What the named clinician is shown when a child was not brought again."""

    safeguarding_prompt: str = (
        "Follow the practice's safeguarding policy: think about who has not been able to bring "
        "the child, and why."
    )


class Jobs(_Section, frozen=True, kw_only=True):
    """When the jobs run, in the practice's time zone.

    Only between 05:00 and 22:00: an hour that clock changes skip or repeat would
    run a job never or twice.
    """

    nightly_at: TimeText = "06:00"
    letters_on: Weekday = "mon"
    letters_at: TimeText = "06:30"
    backup_at: TimeText = "21:00"
    report_day: Annotated[int, msgspec.Meta(ge=1, le=28)] = 1
    report_at: TimeText = "07:00"

    def __post_init__(self) -> None:
        """Refuse a time in the hours that clock changes touch."""
        for field in msgspec.structs.fields(self):
            if field.type != TimeText:
                continue
            if not time(5) <= time.fromisoformat(getattr(self, field.name)) <= time(22):
                raise ValueError(f"`{field.name}` must lie between 05:00 and 22:00")


class FileMap(_Section, frozen=True, kw_only=True):
    """How one kind of file differs from the documented columns."""

    headings: dict[str, str] = {}
    """Our column name → the heading in the practice's file."""
    values: dict[str, dict[str, str]] = {}
    """Our column name → the practice's word → our word ("" for not recorded).

    A finding's name without its ear is a table for both. `drum_seen = full; perforation = central`
    sets several findings of the same ear.
    """
    words: dict[str, str] = {}
    """The practice's word → our word, in every column in which it is not looked up otherwise."""
    defaults: dict[str, str] = {}
    """Our column name → what to read where the file has no such column; never a finding."""
    notes: tuple[str, ...] = ()
    """Headings of free text that is kept as the note."""
    date_format: DateFormat | None = None
    encoding: Literal["auto", "utf-8", "windows-1252"] | None = None
    delimiter: Literal["auto", ",", ";", "\t", "|"] | None = None


FILE_KINDS = ("people", "visits", "contacts", "bookings", "referrals", "tests")
"""The kinds of files, each with a part of its own."""


class Import(_Section, frozen=True, kw_only=True):
    """How the practice's exports are read; each kind of file may differ."""

    date_format: DateFormat = "DD/MM/YYYY"
    encoding: Literal["auto", "utf-8", "windows-1252"] = "auto"
    delimiter: Literal["auto", ",", ";", "\t", "|"] = "auto"
    people: FileMap = FileMap()
    visits: FileMap = FileMap()
    contacts: FileMap = FileMap()
    bookings: FileMap = FileMap()
    referrals: FileMap = FileMap()
    tests: FileMap = FileMap()

    def __post_init__(self) -> None:
        """Refuse a date format in which a day could be read two ways."""
        maps = (self, *(getattr(self, kind) for kind in FILE_KINDS))
        for given in {m.date_format for m in maps if m.date_format}:
            if sorted(re.findall(r"[A-Z]+", given)) not in (
                ["DD", "MM", "YYYY"],
                ["DD", "MON", "YYYY"],
            ):
                raise ValueError(f"`date_format` {given!r} must hold DD, MM or MON, and YYYY once")


class Config(_Section, frozen=True, kw_only=True, rename={"imports": "import"}):
    """Everything that the practice can set."""

    practice: Practice
    sites: tuple[Site, ...] = ()
    """Where there are several; left out, the practice is one place."""
    calendar: Calendar = Calendar()
    files: Files = Files()
    encryption: Encryption = Encryption()
    letters: Letters = Letters()
    addresses: dict[str, Address] = {}
    """Where letters to colleagues go: by service, and by the GP's practice as in the register."""
    capacity: Capacity = Capacity()
    capabilities: Capabilities = Capabilities()
    changeover: Changeover = Changeover()
    staff: Staff = Staff()
    desk: AtDesk = AtDesk()
    children: Children = Children()
    jobs: Jobs = Jobs()
    imports: Import = Import()

    def __post_init__(self) -> None:
        """Refuse two sites that could not be told apart, and a line of the rota for none."""
        refuse_twins(self.sites)
        for line in self.capacity.rota:
            names = {text.casefold() for one in self.sites for text in (one.handle, one.name)}
            if line.site and line.site.casefold() not in names:
                handles = ", ".join(one.handle for one in self.sites)
                known = f"it may be {handles}" if handles else "there are no [[sites]]"
                raise ValueError(f"`rota` of {line.who}: {line.site!r} is no site; {known}")


def load(path: Path | None = None) -> Config:
    """Return the configuration in `path`, or in `recall.toml` of the working folder.

    Raises:
        ConfigError: there is no such file, or a key or value in it cannot be used.
    """
    path = (path or Path(FILE_NAME)).absolute()
    raw = _parse(path)
    _refuse_unknown(raw, Config, path.name)
    part_address(raw.get("files"), path.name)
    _leave_out_empty(raw.get("files"), "wording", "protocol", "backups_elsewhere")
    _leave_out_empty(raw.get("capabilities"), "since")
    _leave_out_empty(raw.get("changeover"), "went_live")
    try:
        config = msgspec.convert(raw, Config, dec_hook=_as_path)
    except msgspec.ValidationError as error:
        raise ConfigError(
            f"{path.name}: {_plain(str(error))}.",
            hint="config.example.toml shows every key with what it may hold.",
        ) from None
    files, key = _absolute(config.files, path.parent), _key_at(config.encryption, path.parent)
    return msgspec.structs.replace(config, files=files, encryption=key)


def _key_at(given: Encryption, folder: Path) -> Encryption:
    """Return where the key is, a file by its whole path."""
    is_file = given.key not in ("", *NO_FILE)
    return Encryption(key=str(folder / Path(given.key).expanduser())) if is_file else given


def _parse(path: Path) -> dict[str, Any]:
    """Return the file as plain tables."""
    try:
        return tomllib.loads(content_at(path).decode("utf-8-sig"))
    except FileNotFoundError:
        example = _INSTALLED_EXAMPLE if _INSTALLED_EXAMPLE.is_file() else EXAMPLE
        hint = f"Copy {example} to {FILE_NAME} and fill in the practice's details."
        raise ConfigError(f"There is no configuration file {path}.", hint=hint) from None
    except OSError as error:
        raise ConfigError(f"{path} cannot be read: {error.strerror or error}.") from None
    except UnicodeDecodeError:
        raise ConfigError(f"{path.name} is not UTF-8 text.", hint="Save it as UTF-8.") from None
    except tomllib.TOMLDecodeError as error:
        hint = 'Texts need quotes, and a backslash in a path is written twice or as "/".'
        if "Cannot declare" in str(error) or "Cannot overwrite" in str(error):
            hint = "Each part and each key stands there once: put the new lines into that one."
        raise ConfigError(f"{path.name} is not valid TOML: {error}.", hint=hint) from None


def _refuse_unknown(table: dict[str, Any], section: type, where: str, at: str = "") -> None:
    """Refuse the first key that no section has, and name the nearest one."""
    known = msgspec.structs.fields(section)
    fields = {f.encode_name: f.type for f in known if f.name != "server"}  # no file says it
    for key, value in table.items():
        if key not in fields:
            near = difflib.get_close_matches(key, fields, 1, 0.6)
            hint = f"Did you mean {at}{near[0]}?" if near else f"It may be: {', '.join(fields)}."
            raise ConfigError(f"{where}: {at}{key} is not a setting.", hint=hint)
        kind = fields[key]
        if isinstance(kind, type) and issubclass(kind, msgspec.Struct) and isinstance(value, dict):
            _refuse_unknown(value, kind, where, f"{at}{key}.")


def _leave_out_empty(section: Any, *names: str) -> None:
    """Take out the optional settings that are written as ""."""
    for name in names:
        if isinstance(section, dict) and section.get(name) == "":
            del section[name]


def _as_path(kind: type, value: Any) -> Any:
    """Return a text as a path."""
    if kind is Path and isinstance(value, str) and value:
        return Path(value)
    raise ValueError("a path is a text in quotes, and not empty")


def _plain(message: str) -> str:
    """Turn a decoding message into words without the machine's path marks."""
    what, _, at = message.partition(" - at `$")
    key = at.rstrip("`").lstrip(".")
    return f"{key}: {what[0].lower()}{what[1:]}" if key else what


def _absolute(files: Files, folder: Path) -> Files:
    """Return the paths as seen from the configuration file's folder."""
    given = ((name, getattr(files, name)) for name in Files.__struct_fields__)
    paths = {name: folder / p.expanduser() for name, p in given if isinstance(p, Path)}
    return Files(server=files.server, **paths)
