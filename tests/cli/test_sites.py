"""Several sites by commands: who works for which, lists of one, whose act is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from recall.cli.main import main
from recall.errors import InputError, Refused
from tests.cli.test_commands import CONFIG, Typed, as_quill, as_rob
from tests.desk.files import PERSON, VISIT, write

SITES = """
[[sites]]
handle = "north"
name = "North site"
address = ["4 Tanner's Row", "Wrenfield"]
postcode = "WF99 4ZZ"
phone = "01632 960100"

[[sites]]
handle = "south"
name = "South site"
address = ["2 Weir Street", "Nether Wrenfield"]
postcode = "WF99 5WE"
phone = "01632 960155"
"""
LATE = "2027-09-07"


@pytest.fixture
def typed(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Typed:
    """Type a command in the folder of a practice with two sites, a child and a visit of each."""
    (tmp_path / "recall.toml").write_text(CONFIG + SITES, "utf-8")
    monkeypatch.chdir(tmp_path)

    def run(*words: str) -> tuple[int, str, str]:
        status = main(list(words))
        captured = capfd.readouterr()
        return status, captured.out, captured.err

    run("set-up", "--clinician", "quill", "--name", "A. Quill")
    rob = ("rob", "--name", "Rob Tanner", "--role", "reception", "--site", "North site")
    run("staff", "add", *rob, "--by", "quill")
    people = [PERSON | {"reference": f"P{n}", "site": each} for n, each in enumerate(PLACES, 1)]
    write(tmp_path / "people.csv", *people)
    write(
        tmp_path / "visits.csv",
        *(VISIT | {"reference": f"V{n}", "person": f"P{n}"} for n in (1, 2, 3)),
    )
    run("import", "people.csv", "--yes", *as_rob())
    run("import", "visits.csv", "--yes", *as_rob())
    return run


PLACES = ("north", "SOUTH SITE", "the old mill")


def listed(typed: Typed, *words: str) -> set[str]:
    """The references of a list."""
    status, out, err = typed(*words, "--json")
    assert status == 0, err
    return {row["reference"] for row in json.loads(out)}


def test_lists_are_of_ones_own_sites_and_narrowed_to_one(typed: Typed) -> None:
    assert listed(typed, "overdue", *as_quill(LATE)) == {"P1", "P2", "P3"}
    assert listed(typed, "overdue", *as_rob(LATE)) == {"P1", "P3"}
    assert listed(typed, "overdue", *as_quill(LATE), "--site", "South Site") == {"P2", "P3"}
    assert typed("overdue", *as_rob(LATE))[1].startswith("Overdue, North site on Tuesday")
    assert typed("overdue", *as_quill(LATE))[1].startswith("Overdue, all sites on Tuesday")
    status, out, err = typed("overdue", *as_rob(LATE), "--site", "south")
    assert (status, out) == (Refused.exit_code, "")
    assert "rob does not work for South site. They work for North site" in err
    status, _out, err = typed("lost", "--site", "west")
    assert status == InputError.exit_code
    assert "'west' is no site of this practice. It may be: north, south." in err


def test_a_site_in_a_file_that_is_not_listed_is_told_and_the_person_lands(
    typed: Typed, tmp_path: Path
) -> None:
    write(tmp_path / "more.csv", PERSON | {"reference": "P9", "site": "the old mill"})
    status, out, err = typed("import", "people", "more.csv", "--yes", *as_rob())

    assert status != 1 and "'the old mill' is no site of this practice" in out + err
    assert "P9" in typed("person", "card", "P9", *as_rob())[1]


def test_the_manager_says_for_which_sites_somebody_works(typed: Typed) -> None:
    both = ("staff", "sites", "rob", "--own", "south", "--for", "north", "--for", "South site")
    status, out, err = typed(*both, "--by", "quill")
    assert (status, out) == (0, "")
    assert "rob is at south and works for north and south." in err
    assert listed(typed, "overdue", *as_rob(LATE)) == {"P1", "P2", "P3"}
    (line,) = [s for s in typed("staff", "list")[1].splitlines() if s.startswith("rob")]
    assert line.endswith("(reception, south, works for north and south)")
    row = json.loads(typed("staff", "list", "--json")[1])
    assert {each["handle"]: each["works_for"] for each in row}["rob"] == "north south"

    assert "works for their own" in typed("staff", "sites", "rob", "--for-own", "--by", "quill")[2]
    assert "works for all" in typed("staff", "sites", "rob", "--for-all", "--by", "quill")[2]
    two = typed("staff", "sites", "rob", "--for-own", "--for-all", "--by", "quill")
    assert two[0] == InputError.exit_code and "Only one of" in two[2]
    assert typed("staff", "sites", "quill", "--for-all", "--by", "rob")[0] == Refused.exit_code


def test_another_sites_person_is_shown_and_not_changed(typed: Typed) -> None:
    assert "P2" in typed("person", "card", "P2", *as_rob())[1]
    status, _out, err = typed("person", "details", "P2", "--before-contact", "x", *as_rob())
    assert status == Refused.exit_code
    assert "P2 belongs to South site, for which rob does not work." in err
    assert "It needs one of: quill." in err
    moved = typed("person", "details", "P2", "--site", "north", *as_quill())
    assert moved[0] == 0 and "Changed: site." in moved[1]
    assert typed("person", "details", "P2", "--before-contact", "x", *as_rob())[0] == 0


def test_a_practice_of_one_place_is_told_where_to_list_sites(typed: Typed, tmp_path: Path) -> None:
    (tmp_path / "recall.toml").write_text(CONFIG, "utf-8")

    status, _out, err = typed("staff", "sites", "rob", "--for-all", "--by", "quill")
    assert status == InputError.exit_code
    assert "The configuration lists no sites. Add [[sites]]" in err
    assert typed("overdue", *as_rob(LATE))[1].startswith("Overdue on Tuesday")
    assert "works_for" not in typed("staff", "list", "--json")[1]
