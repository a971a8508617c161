"""README.md says what the program does: its tables, its pictures, its commands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from recall.care.casefile import decode_case
from recall.cli.main import COMMANDS
from recall.desk.practice import demo
from recall.desk.practice.timetable import JOBS
from recall.schedule.calendar import say_day
from tests.docs import made, running
from tests.docs.conftest import SetUp
from tests.schedule.test_worked_example import CASE

TEXT = made.README.read_text("utf-8")
ROOT = made.ROOT
NOT_RUN_HERE = ("recall desk", "recall jobs serve")
"""They run until somebody stops them; tests of their own open them."""
DAILY = [
    line
    for line in running.commands(TEXT)
    if line not in running.commands(running.section(TEXT, running.SET_UP))
    and not line.startswith(NOT_RUN_HERE)
]


def lines_outside_blocks(text: str) -> list[str]:
    return re.sub(r"^```.*?^```$", "", text, flags=re.S | re.M).splitlines()


def test_the_job_stands_in_one_paragraph_at_the_top() -> None:
    title, paragraph, _ = TEXT.split("\n\n", 2)

    assert title == "# ear-recall"
    for word in ("child", "look again", "letters", "referrals", "overdue", "lost"):
        assert word in paragraph


def test_a_picture_comes_before_any_heading() -> None:
    assert "<!-- made: picture -->" in TEXT.partition("\n## ")[0]


def test_the_picture_is_of_the_day_that_the_demo_shows() -> None:
    day = say_day(demo.ON)

    assert f"on {say_day(demo.ON, weekday=True)}" in TEXT.partition("\n## ")[0]
    assert f"for its day ({day})" in running.section(TEXT, "Try it")


def test_the_two_commands_are_there_with_how_to_remove_what_they_made() -> None:
    told = running.section(TEXT, "Try it")

    assert "python3 demo/start.py" in told and "python3 tests/run.py" in told
    assert "delete the folder `demo/made/`" in told


def test_it_holds_every_made_part_and_no_other() -> None:
    assert set(made.parts_of(TEXT)) == {*made.PARTS, *made.SHOWN}


@pytest.mark.parametrize("name", made.PARTS)
def test_a_table_equals_its_source(name: str) -> None:
    assert made.parts_of(TEXT)[name] == made.PARTS[name]()


@pytest.mark.parametrize("name", made.SHOWN)
def test_a_picture_is_what_the_program_prints(name: str, set_up: SetUp) -> None:
    assert made.parts_of(TEXT)[name] == made.SHOWN[name](set_up.folder)


def test_setting_up_goes_as_it_is_written(set_up: SetUp) -> None:
    assert [ran for ran in set_up.ran if not ran.went_well] == []


def test_daily_commands_go_as_they_are_written(practice: Path) -> None:
    """From top to bottom, in one practice: what an earlier one did, a later one can see."""
    (practice / "case.json").write_bytes(made.case_of(TEXT))
    numbers = running.numbers(practice)
    ran = []
    for line in DAILY:
        ran.append(running.run(running.renumbered(line, numbers), practice))
        if made_one := re.search(r"\[(\d+)\]$", ran[-1].out.strip()):
            numbers[running.LAST_MADE] = made_one[1]

    assert DAILY and [one for one in ran if one.status != 0] == []


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_spoken_of_outside_its_table(name: str) -> None:
    rest = made.PART.sub("", TEXT)

    assert re.search(rf"recall {re.escape(name)}\b", rest)


def test_commands_that_are_spoken_of_exist() -> None:
    said = {found[1] for found in re.finditer(r"`recall ([a-z][a-z-]*)", made.PART.sub("", TEXT))}
    said |= {line.split()[1] for line in running.commands(TEXT)}

    assert said - set(COMMANDS) == set()


def test_every_job_is_in_its_table() -> None:
    assert all(f"`{name}`" in made.parts_of(TEXT)["jobs"] for name in JOBS)


def test_the_worked_example_is_the_one_that_was_worked_out_by_hand() -> None:
    ours, by_hand = decode_case(made.case_of(TEXT)), decode_case(CASE)

    (seen,), (known,) = ours.visits, by_hand.visits
    assert (ours.born, seen.on, seen.right, seen.left) == (
        by_hand.born,
        known.on,
        known.right,
        known.left,
    )


def test_links_lead_somewhere() -> None:
    heads = {
        re.sub(r"[^\w -]", "", line.lstrip("# ")).strip().lower().replace(" ", "-")
        for line in TEXT.splitlines()
        if line.startswith("#")
    }
    for target in re.findall(r"\]\(([^)]+)\)", TEXT):
        if target.startswith("#"):
            assert target[1:] in heads, target
        else:
            assert (ROOT / target).exists(), target


def test_one_sentence_stands_on_a_line() -> None:
    """Outside of tables, lists and what a program prints."""
    two = re.compile(r"[a-z)`*]\. [A-Z`]")
    prose = [line for line in lines_outside_blocks(TEXT) if line[:1].isalpha() and two.search(line)]

    assert prose == []


def test_the_cautions_are_there() -> None:
    cautions = running.section(TEXT, "Cautions")
    for words in (
        "does not diagnose",
        "signs it off",
        "Local pathways",
        "medical device",
        "Not recorded is never read as normal",
    ):
        assert words in cautions
