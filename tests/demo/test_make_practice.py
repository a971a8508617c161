"""The invented practice's files: made again they are the same, and they hold what they should."""

import csv
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PRACTICE = ROOT / "demo" / "practice"
FILES = ("people", "visits", "contacts", "bookings", "referrals")


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of one of the files."""
    with (PRACTICE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the files made anew."""
    into = tmp_path_factory.mktemp("practice")
    script = ROOT / "demo" / "make_practice.py"
    subprocess.run([sys.executable, "-B", script, "--into", into], check=True, capture_output=True)
    return into


@pytest.mark.parametrize("name", FILES)
def test_the_script_makes_the_files_byte_for_byte(made: Path, name: str) -> None:
    assert (made / f"{name}.csv").read_bytes() == (PRACTICE / f"{name}.csv").read_bytes()


def test_the_practice_is_of_the_promised_size() -> None:
    assert 580 <= len(rows("people")) <= 620
    assert 2700 <= len(rows("visits")) <= 3200


def test_numbers_are_from_ranges_that_belong_to_nobody() -> None:
    """Phone: Ofcom's numbers for drama. NHS numbers: the 999 test range (from memory)."""
    for person in rows("people"):
        for column in ("phone", "phone_2", "adult_1_phone"):
            digits = person[column].replace(" ", "")
            assert not digits.isdigit() or digits.startswith(("01632960", "07700900"))
        assert person["nhs_number"][:3] in ("", "999")
        assert person["email"].endswith(("@example.org", "no email")) or not person["email"]


def test_every_kind_of_finding_is_there() -> None:
    seen: Counter[tuple[str, str]] = Counter()
    for visit in rows("visits"):
        for side in ("right", "left"):
            seen.update((n.removeprefix(side + "_"), v) for n, v in visit.items() if v)
    for kind in (
        ("effusion", "present"),
        ("tensa_grade", "3"),
        ("attic_grade", "3"),
        ("scutum_erosion", "yes"),
        ("keratin", "yes"),
        ("perforation", "central"),
        ("perforation", "healed"),
        ("grommet", "in_place"),
        ("grommet", "blocked"),
        ("grommet", "in_canal"),
        ("cavity", "yes"),
        ("canal_skin", "fungal"),
        ("wax_left", "occluding"),
        ("clearance", "failed"),
        ("not_examined", "refused"),
    ):
        assert seen[kind], kind


def test_some_died_some_objected_and_some_did_not_come() -> None:
    people = rows("people")
    assert sum(bool(p["deceased_on"]) for p in people) >= 3
    assert sum(bool(p["objected"]) for p in people) >= 2
    became = Counter(b["status"] for b in rows("bookings"))
    assert became["did_not_attend"] and became["was_not_brought"] and became["made"]


def test_twins_and_namesakes_share_an_address() -> None:
    at = Counter((p["family_name"], p["born"], p["postcode"]) for p in rows("people"))
    assert sum(count > 1 for count in at.values()) >= 2
    named = Counter((p["given_name"], p["family_name"], p["postcode"]) for p in rows("people"))
    assert any(name[0] == "Thomas" and count > 1 for name, count in named.items())
