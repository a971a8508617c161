"""README.md and the manual say what the program does: tables, pictures, commands, links."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import msgspec
import pytest

from recall import config, manual
from recall.care.casefile import decode_case
from recall.cli.main import COMMANDS
from recall.desk.practice.timetable import JOBS
from tests.docs import made, pages, running
from tests.docs.conftest import SetUp
from tests.docs.shown import SHOWN
from tests.schedule.test_worked_example import CASE
from tui.commands.table import COMMANDS as KEYED
from tui.commands.table import TITLES

TEXTS = {name: pages.text_of(name) for name in pages.PAGES}
NOT_RUN_HERE = ("recall desk", "recall jobs serve")
"""They run until somebody stops them; tests of their own open them."""
STEPS = pages.commands(TEXTS[pages.BRINGING])
DAILY = {
    name: [
        line
        for line in pages.commands(text)
        if line not in STEPS and not line.startswith(NOT_RUN_HERE)
    ]
    for name, text in TEXTS.items()
}
PARTS = [(page, name) for page, text in TEXTS.items() for name in pages.parts_of(text)]
WHOLE = "\n".join(TEXTS.values())


def anchors(text: str) -> set[str]:
    """Return what a link into a page can name."""
    return {
        re.sub(r"[^\w -]", "", line.lstrip("# ")).strip().lower().replace(" ", "-")
        for line in text.splitlines()
        if line.startswith("#")
    }


def test_the_manual_has_the_pages_that_lie_there() -> None:
    assert {*manual.PAGES, "README"} == set(pages.PAGES)


@pytest.mark.parametrize("page", manual.PAGES)
def test_a_page_says_first_for_whom_it_is(page: str) -> None:
    head, whom, rest = TEXTS[page].split("\n\n", 2)

    assert head == f"# {manual.title(page)}"
    assert whom == manual.whom(page) and whom.startswith("For ") and rest


def test_every_part_has_its_place_and_there_is_no_other() -> None:
    assert {name for _page, name in PARTS} == {*made.PARTS, *SHOWN}


@pytest.mark.parametrize(("page", "name"), PARTS)
def test_a_part_is_what_the_program_says(page: str, name: str, set_up: SetUp) -> None:
    text = made.PARTS[name]() if name in made.PARTS else SHOWN[name](set_up.folder)

    assert pages.parts_of(TEXTS[page])[name] == text


def test_setting_up_goes_as_it_is_written(set_up: SetUp) -> None:
    assert [ran for ran in set_up.ran if not ran.went_well] == []


@pytest.mark.parametrize("page", [name for name, lines in DAILY.items() if lines])
def test_commands_go_as_they_are_written(page: str, practice: Path) -> None:
    """From top to bottom, in one practice: what an earlier one did, a later one can see."""
    (practice / "case.json").write_bytes(pages.case_file())
    numbers = running.numbers(practice)
    ran = []
    for line in DAILY[page]:
        ran.append(running.run(running.renumbered(line, numbers), practice))
        if made_one := re.search(r"\[(\d+)\]$", ran[-1].out.strip()):
            numbers[running.LAST_MADE] = made_one[1]

    assert [one for one in ran if one.status != 0] == []


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_spoken_of_outside_its_table(name: str) -> None:
    assert re.search(rf"recall {re.escape(name)}\b", pages.PART.sub("", WHOLE))


def test_commands_that_are_spoken_of_exist() -> None:
    rest = pages.PART.sub("", WHOLE)
    said = {found[1] for found in re.finditer(r"`recall ([a-z][a-z-]*)", rest)}
    said |= {line.split()[1] for line in pages.commands(WHOLE)}

    assert said - set(COMMANDS) == set()


def test_the_page_of_keys_names_every_command_of_the_desk() -> None:
    told = made.key_tables()

    assert all(f"| {c.all_keys} | {c.says} |" in told for c in KEYED)
    assert all(f"## {title[0].upper()}{title[1:]}\n" in told for title in TITLES.values())


def test_every_job_is_in_its_table() -> None:
    assert all(f"`{name}`" in made.job_table() for name in JOBS)


def test_the_worked_example_is_the_one_that_was_worked_out_by_hand() -> None:
    ours, by_hand = decode_case(pages.case_file()), decode_case(CASE)

    (seen,), (known,) = ours.visits, by_hand.visits
    assert (ours.born, seen.on, seen.right, seen.left) == (
        by_hand.born,
        known.on,
        known.right,
        known.left,
    )


@pytest.mark.parametrize("page", TEXTS)
def test_settings_that_are_shown_are_settings(page: str, tmp_path: Path) -> None:
    practice = tomllib.loads((running.PRACTICE / "recall.toml").read_text("utf-8"))["practice"]
    head = "[practice]\n" + "".join(
        f"{name} = {msgspec.json.encode(value).decode()}\n" for name, value in practice.items()
    )
    for number, text in enumerate(pages.blocks(TEXTS[page], "toml")):
        path = tmp_path / f"{number}.toml"
        path.write_text(head + text, "utf-8")
        config.load(path)
    for section, key in re.findall(r"`\[(\w+)\] (\w+)`", TEXTS[page]):
        kind = {f.encode_name: f.type for f in msgspec.structs.fields(config.Config)}[section]
        assert key in {f.encode_name for f in msgspec.structs.fields(kind)}, f"[{section}] {key}"


@pytest.mark.parametrize("page", TEXTS)
def test_links_lead_somewhere(page: str) -> None:
    for target in re.findall(r"\]\(([^)]+)\)", TEXTS[page]):
        path, _, anchor = target.partition("#")
        file = (pages.PAGES[page].parent / path).resolve() if path else pages.PAGES[page]
        assert file.exists(), target
        assert not anchor or anchor in anchors(file.read_text("utf-8")), target


def test_every_page_is_linked_to_from_another() -> None:
    for page in manual.PAGES:
        others = "".join(text for name, text in TEXTS.items() if name not in (page, "README"))
        assert f"]({page}.md" in others, page


@pytest.mark.parametrize("page", TEXTS)
def test_one_sentence_stands_on_a_line(page: str) -> None:
    """Outside of tables, lists and what a program prints."""
    two = re.compile(r"[a-z)`*]\. [A-Z`]")
    lines = pages.outside_blocks(pages.PART.sub("", TEXTS[page]))

    assert [line for line in lines if line[:1].isalpha() and two.search(line)] == []
