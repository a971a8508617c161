"""What is read from the register has its columns' types: nothing makes mypy look away."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("recall/desk", "recall/records")
LOOKS_AWAY = re.compile(
    r"""\.__table__\b                                   # a table whose columns have no type
    |\b(?:rows?|session|act|letter|booking|referral|follow_up|due|person|batch)\s*:\s*Any\b
    |\.mappings\(\)\.(?:all|first|one)                   # rows by names in quotes
    """,
    re.VERBOSE,
)
ALLOWED = {
    "recall/records/tables/statements.py": 1,  # the one place that hands out a plain table
    "recall/desk/core/acting.py": 1,  # an action's change, by whatever names it was given
    "recall/desk/core/undo.py": 1,  # the same, taken back
    "recall/records/people/erasing.py": 1,  # the rows of every table, known from the tables alone
}


def files() -> list[Path]:
    return [file for room in ROOMS for file in sorted((ROOT / room).rglob("*.py"))]


@pytest.mark.parametrize("file", files(), ids=lambda file: str(file.relative_to(ROOT)))
def test_rows_and_columns_have_types(file: Path) -> None:
    found = LOOKS_AWAY.findall(file.read_text("utf-8"))
    assert len(found) == ALLOWED.get(str(file.relative_to(ROOT)), 0), found
