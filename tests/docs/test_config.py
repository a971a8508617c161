"""The configuration file, and the example that documents it."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path

import msgspec
import pytest

from recall import config
from recall.desk.core.session import capabilities_of
from recall.errors import ConfigError
from recall.exchange import bookings_in, contacts_in, people_in, referrals_in, tests_in, visits_in
from recall.exchange.cells import Cells
from recall.protocol.capabilities import AS_WRITTEN, Able

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "config.example.toml"
SMALLEST = """
[practice]
name = "Wrenfield Ear Care"
address = ["4 Tanner's Row"]
postcode = "WF99 4ZZ"
phone = "01632 960100"
"""
SITE = '[[sites]]\nhandle = "{}"\nname = "{}"\naddress = ["Row"]\npostcode = "W"\nphone = "1"\n'


def write(folder: Path, text: str) -> Path:
    path = folder / "recall.toml"
    path.write_text(text, encoding="utf-8")
    return path


def refusal(folder: Path, text: str) -> str:
    with pytest.raises(ConfigError) as caught:
        config.load(write(folder, text))
    return str(caught.value)


def every_key(section: type, at: str = "") -> set[str]:
    keys = set()
    for field in msgspec.structs.fields(section):
        name = f"{at}{field.encode_name}"
        nested = isinstance(field.type, type) and issubclass(field.type, msgspec.Struct)
        keys |= every_key(field.type, name + ".") if nested else {name}
    return keys


def given_keys(section: type, table: dict, at: str = "") -> set[str]:
    keys = set()
    for field in msgspec.structs.fields(section):
        value = table.get(field.encode_name)
        if value is None:
            continue
        name = f"{at}{field.encode_name}"
        nested = isinstance(field.type, type) and issubclass(field.type, msgspec.Struct)
        keys |= given_keys(field.type, value, name + ".") if nested else {name}
    return keys


def test_the_example_loads():
    loaded = config.load(EXAMPLE)

    assert loaded.practice.name == "Wrenfield Ear Care"
    assert loaded.files.protocol is None and loaded.files.wording is None


def test_the_examples_within_it_load_too(tmp_path):
    text = EXAMPLE.read_text(encoding="utf-8").replace("\n#:", "\n")
    loaded = config.load(write(tmp_path, text))

    assert loaded.calendar.closures[0].from_ == date(2026, 12, 24)
    assert loaded.calendar.closures[0].to and loaded.calendar.closures[0].why
    assert loaded.calendar.extra_open == (date(2026, 10, 3),)
    assert loaded.imports.people.headings["family_name"] == "Surname"
    assert loaded.imports.people.values["sex"]["U"] == ""


def test_the_examples_of_sites_show_every_key_of_a_site(tmp_path):
    text = EXAMPLE.read_text(encoding="utf-8").replace("\n#:", "\n")
    sites = tomllib.loads(text)["sites"]

    assert set().union(*sites) == {f.encode_name for f in msgspec.structs.fields(config.Site)}
    assert [one.handle for one in config.load(write(tmp_path, text)).sites] == ["north", "south"]


@pytest.mark.parametrize(
    "kind",
    [
        people_in.PEOPLE,
        visits_in.VISITS,
        contacts_in.CONTACTS,
        bookings_in.BOOKINGS,
        referrals_in.REFERRALS,
        tests_in.TESTS,
    ],
)
def test_the_examples_map_columns_and_words_that_exist(tmp_path, kind):
    text = EXAMPLE.read_text(encoding="utf-8").replace("\n#:", "\n")
    given = getattr(config.load(write(tmp_path, text)).imports, kind.name)
    cells = Cells("DD/MM/YYYY", "GB", date(2026, 11, 25))

    assert given.headings and all(kind.column(name) for name in given.headings)
    for name, words in given.values.items():
        for word in words.values():
            assert word == "" or kind.column(name).decode(cells, word) == word


def test_the_example_lists_every_key():
    table = tomllib.loads(EXAMPLE.read_text(encoding="utf-8"))

    # The address of a server is written in the place of the file.
    assert given_keys(config.Config, table) == every_key(config.Config) - {"files.server"}


def test_an_address_stands_in_the_place_of_the_file(tmp_path):
    address = "postgresql://recall@db.example:5433/ears?sslmode=verify-full"
    found = config.load(write(tmp_path, SMALLEST + f'[files]\ndatabase = "{address}"\n')).files

    assert found.server == address.replace("postgresql:", "postgresql+psycopg:")
    assert found.database == tmp_path / "ears.server"
    with pytest.raises(ConfigError, match="server is not a setting"):
        config.load(write(tmp_path, SMALLEST + f'[files]\nserver = "{address}"\n'))


@pytest.mark.parametrize("address", ["mysql://db.example/ears", "postgresql://db.example/", "x://"])
def test_an_address_of_something_else_is_refused(tmp_path, address):
    with pytest.raises(ConfigError, match="no address of a PostgreSQL database"):
        config.load(write(tmp_path, SMALLEST + f'[files]\ndatabase = "{address}"\n'))


def test_every_line_of_the_example_that_sets_a_default_is_the_default(tmp_path):
    example, smallest = config.load(EXAMPLE), config.load(write(tmp_path, SMALLEST))

    for section in ("letters", "capacity", "capabilities", "staff", "children", "jobs"):
        assert getattr(example, section) == getattr(smallest, section)
    assert example.calendar == smallest.calendar
    for key in ("date_format", "encoding", "delimiter"):
        assert getattr(example.imports, key) == getattr(smallest.imports, key)
    for path in config.Files.__struct_fields__:
        ours, theirs = getattr(example.files, path), getattr(smallest.files, path)
        assert (ours and ours.name) == (theirs and theirs.name)


def test_relative_paths_start_at_the_configuration_file(tmp_path):
    elsewhere = (tmp_path / "far" / "x.db").as_posix()
    text = SMALLEST + f'[files]\ndatabase = "{elsewhere}"\nletters = "post"\n'

    files = config.load(write(tmp_path, text)).files

    assert files.database == Path(elsewhere)
    assert files.letters == tmp_path / "post"
    assert files.protocol is None


def test_a_misspelt_key_names_the_nearest(tmp_path):
    said = refusal(tmp_path, SMALLEST + '[calendar]\nsubdivison = "SCT"\n')

    assert "calendar.subdivison is not a setting" in said
    assert "Did you mean calendar.subdivision?" in said


def test_a_misspelt_section_names_the_nearest(tmp_path):
    assert "Did you mean letters?" in refusal(tmp_path, SMALLEST + "[leters]\n")


def test_a_wrong_kind_of_value_names_its_key(tmp_path):
    said = refusal(tmp_path, SMALLEST + '[letters]\nbacklog_per_week = "many"\n')

    assert "letters.backlog_per_week" in said


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('[calendar]\ntime_zone = "Europe/Wrenfield"', "time_zone"),
        ("[calendar]\nclosures = [{ from = 2026-12-24, to = 2026-12-01 }]", "before"),
        ('[calendar]\nopen_days = ["monday"]', "open_days"),
        ('[jobs]\nnightly_at = "01:30"', "between 05:00 and 22:00"),
        ('[jobs]\nnightly_at = "6"', "nightly_at"),
        ('[import]\ndate_format = "DD/MM/YY"', "YYYY"),
        ("[capabilities]\nsuction = false", "since"),
        ("[capabilities]\nbefore = [{ since = 2026-12-01, suction = false }]", "since"),
        ("[capabilities]\naudiometry_from_age = -1", "audiometry_from_age"),
        (
            "[capabilities]\nsince = 2026-12-01\nbefore = [{ since = 2026-12-01 }]",
            "in order",
        ),
        ('[import]\nencoding = "latin"', "encoding"),
        (SITE.format("all", "All"), "`handle` 'all' cannot be used"),
        (SITE.format("North site", "N"), "a short word of small letters"),
        (SITE.format("north", "N") + SITE.format("north", "M"), "two with the handle 'north'"),
        (SITE.format("north", "N") + SITE.format("south", "N"), "two with the name 'n'"),
        ('[[sites]]\nhandle = "north"', "missing required field `name`"),
    ],
)
def test_values_that_cannot_work_are_refused(tmp_path, text, expected):
    said = refusal(tmp_path, f"{SMALLEST}{text}\n")

    assert expected in said
    assert "Traceback" not in said and "msgspec" not in said


class OneMore(config.Jobs, frozen=True, kw_only=True):
    """The jobs, with one that nobody has thought of yet."""

    tidy_at: config.TimeText = "05:30"


@pytest.mark.parametrize("name", [n for n in OneMore.__struct_fields__ if n.endswith("_at")])
def test_no_job_runs_in_the_hours_that_clock_changes_touch(name):
    with pytest.raises(msgspec.ValidationError, match=f"`{name}` must lie between"):
        msgspec.convert({name: "01:30"}, OneMore)


def test_what_the_practice_can_do_is_read_by_the_day(tmp_path):
    text = SMALLEST + (
        "[capabilities]\nsince = 2027-01-04\naudiometry_from_age = 5\nprescribing = true\n"
        "before = [{ since = 2026-12-01, suction = false }]\n"
    )
    can = capabilities_of(config.load(write(tmp_path, text)))

    assert can.on(date(2026, 11, 30)) == AS_WRITTEN
    assert can.on(date(2027, 1, 3)) == Able(since=date(2026, 12, 1), suction=False)
    assert can.on(date(2027, 1, 4)) == Able(
        since=date(2027, 1, 4), audiometry_from_age=5, prescribing=True
    )
    assert capabilities_of(config.load(EXAMPLE)).on(date(2027, 1, 4)) == AS_WRITTEN


def test_practice_details_are_needed(tmp_path):
    assert "practice" in refusal(tmp_path, "[letters]\n")


def test_broken_toml_gives_the_line(tmp_path):
    assert "line 2" in refusal(tmp_path, "[practice]\nname = Wrenfield\n")


def test_a_missing_file_says_what_to_do(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ConfigError, match=r"config\.example\.toml"):
        config.load(None)


def test_the_working_folder_is_looked_in(tmp_path, monkeypatch):
    write(tmp_path, SMALLEST)
    monkeypatch.chdir(tmp_path)

    assert config.load(None).practice.phone == "01632 960100"


def test_a_file_saved_with_a_byte_order_mark_loads(tmp_path):
    path = tmp_path / "recall.toml"
    path.write_text(SMALLEST, encoding="utf-8-sig")

    assert config.load(path).practice.postcode == "WF99 4ZZ"
