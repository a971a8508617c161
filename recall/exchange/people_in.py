"""People from a file: the register's rows, each by the practice's own reference."""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args

import msgspec
from msgspec.structs import replace

from recall.care.case import Risk, RiskWord
from recall.config import Import
from recall.exchange import word_lists
from recall.exchange.cells import Cells, choice
from recall.exchange.identifiers import Identifier
from recall.exchange.phone_cells import PhoneCell
from recall.exchange.problem import Wrong
from recall.exchange.rows_in import HERE, Column, FileKind, Here, Reading, open_rows

Sex = Literal["female", "male", "other"]
LetterFormat = Literal["standard", "large", "email", "plain_text", "spoken"]
"""`spoken`: rung in the place of letters, by a script for the call."""
Relation = Literal["parent", "guardian", "carer", "attorney", "care_home", "other"]
_SAME_RELATION = {"mother": "parent", "father": "parent", "mum": "parent", "dad": "parent"}
LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*")
ADULTS = (1, 2)


class AdultRow(msgspec.Struct, frozen=True, kw_only=True):
    """A responsible adult of a person."""

    name: str
    relation: Relation = "other"
    address: tuple[str, ...] = ()
    """Empty: the same home as the person's."""
    postcode: Identifier | None = None
    phone: PhoneCell | None = None
    email: Identifier | None = None
    safe_only: bool = False
    """Reach the person through this adult and no other."""


class PersonRow(msgspec.Struct, frozen=True, kw_only=True):
    """One person as the file tells."""

    reference: str
    given_name: str = ""
    family_name: str
    born: date
    sex: Sex | None = None
    nhs_number: Identifier | None = None
    address: tuple[str, ...] = ()
    postcode: Identifier | None = None
    phone: PhoneCell | None = None
    phone_2: PhoneCell | None = None
    email: Identifier | None = None
    gp_name: str = ""
    gp_practice: str = ""
    language: str = ""
    letter_format: LetterFormat | None = None
    interpreter: str = ""
    risks: tuple[RiskWord | Risk, ...] = ()
    adults: tuple[AdultRow, ...] = ()
    deceased_on: date | None = None
    objected: bool = False
    objected_on: date | None = None
    """The day, where the file gives it."""
    safe_contact: str = ""
    tell_gp: bool | None = None
    site: str = ""


def _reference(cells: Cells, cell: str) -> str:
    """Return a reference: short text on one line."""
    text = cells.text(cell)
    if len(text) > 64:
        raise Wrong("is longer than 64 characters", "the practice's own short reference")
    return text


def _objected(cells: Cells, cell: str) -> bool | date:
    """Return yes, no, or the day."""
    try:
        return cells.yes_no(cell)
    except Wrong:
        return cells.past_day(cell)


def _language(_cells: Cells, cell: str) -> str:
    """Return a language tag (BCP 47)."""
    if LANGUAGE.fullmatch(cell):
        return cell
    right = 'a language tag such as en or cy; the configuration can map "Welsh" to cy'
    raise Wrong("is not a language tag", right)


def _relation(_cells: Cells, cell: str) -> Relation:
    """Return how an adult is related; mother and father are parents."""
    word: Relation = _relation_word(_cells, _SAME_RELATION.get(cell.casefold(), cell))
    return word


_relation_word = choice(get_args(Relation))
REFERENCE = Column("reference", "the practice's own reference of the person", _reference, True)


@cache
def _adult_columns(number: int) -> tuple[Column, ...]:
    """Return the columns of one responsible adult."""
    who = f"responsible adult {number}"
    return (
        Column(f"adult_{number}_name", f"{who}: name", Cells.text),
        Column(f"adult_{number}_relation", f"{who}: relation to the person", _relation),
        Column(f"adult_{number}_address", f"{who}: address, if another home", Cells.lines),
        Column(f"adult_{number}_postcode", f"{who}: postcode", Cells.postcode),
        Column(f"adult_{number}_phone", f"{who}: phone", Cells.phone),
        Column(f"adult_{number}_email", f"{who}: e-mail", Cells.email),
        Column(f"adult_{number}_safe_only", f"{who}: yes if the only safe contact", Cells.yes_no),
    )


COLUMNS: tuple[Column, ...] = (
    REFERENCE,
    Column("given_name", "given names", Cells.text),
    Column("family_name", "family name", Cells.text, True),
    Column("born", "date of birth", Cells.past_day, True),
    Column("sex", "female, male or other", choice(get_args(Sex))),
    Column("nhs_number", "NHS number", Cells.nhs_number),
    *(Column(f"address_{n}", f"address, line {n}", Cells.text) for n in range(1, 5)),
    Column("postcode", "postcode", Cells.postcode),
    Column("phone", "phone to try first; several with whose each is", Cells.phone),
    Column("phone_2", "other phone", Cells.phone),
    Column("email", "e-mail address", Cells.email),
    Column("gp_name", "name of the GP", Cells.text),
    Column("gp_practice", "the GP's practice", Cells.text),
    Column("language", "language of letters, as a tag (en, cy)", _language),
    Column(
        "letter_format",
        "standard, large, email, plain text or spoken (a call in place of letters)",
        choice(get_args(LetterFormat)),
    ),
    Column("interpreter", "interpreter or relay needed, and which", Cells.text),
    Column("risks", "risks, apart by semicolons or commas", word_lists.risks, is_list=True),
    *(column for number in ADULTS for column in _adult_columns(number)),
    Column("deceased_on", "day of death", Cells.past_day),
    Column("objected", "asked not to be contacted: the day, or yes", _objected),
    Column("safe_contact", "what to know before writing or calling", Cells.note),
    Column("tell_gp", "yes if the GP may be told", Cells.yes_no),
    Column("site", "where there are several, the site they belong to", Cells.text),
)


def _build(values: dict[str, Any]) -> PersonRow:
    """Make the row from its values by column."""
    lines = (values.pop(f"address_{n}", "") for n in range(1, 5))
    values["address"] = tuple(line for line in lines if line)
    adults = (_adult(n, values) for n in ADULTS)
    values["adults"] = tuple(a for a in adults if a is not None)
    objected = values.pop("objected", False)
    if isinstance(objected, date):
        values["objected_on"] = objected
    row = PersonRow(objected=bool(objected), **values)
    for name in ("deceased_on", "objected_on"):
        day = getattr(row, name)
        if day is not None and day < row.born:
            column = "objected" if name == "objected_on" else name
            raise Wrong("is before the date of birth", "correct one of the two", column)
    return row


def _adult(number: int, values: dict[str, Any]) -> AdultRow | None:
    """Take the values of one responsible adult out of `values`."""
    names = [c.name for c in _adult_columns(number)]
    given = {n.removeprefix(f"adult_{number}_"): values.pop(n) for n in names if n in values}
    if not given or list(given.values()) == [False]:
        return None
    if "name" not in given and given.keys() <= {"phone", "email", "relation"}:
        _without_a_name(given, values)
        return None
    if "name" not in given:
        right = "the adult's name, or all of this adult's cells empty"
        raise Wrong("is empty", right, f"adult_{number}_name")
    return AdultRow(**given)


def _without_a_name(given: dict[str, Any], values: dict[str, Any]) -> None:
    """Keep ways to reach an adult without a name as the person's own, with whose they are."""
    whose = f"{given.get('relation', 'parent or carer').replace('_', ' ')}, name not recorded"
    if cell := given.get("phone"):
        said = [", ".join(filter(None, (n.label, whose))) for n in cell.numbers]
        numbers = tuple(replace(n, label=w) for n, w in zip(cell.numbers, said, strict=True))
        known: PhoneCell | None = values.get("phone_2")
        if known is not None:
            cell = PhoneCell(f"{known.raw}\n{cell.raw}", (*known.numbers, *numbers))
        else:
            cell = PhoneCell(cell.raw, numbers)
        values["phone_2"] = cell
    if "email" in given:
        values.setdefault("email", given["email"])


PEOPLE: FileKind[PersonRow] = FileKind(
    "people", COLUMNS, _build, key=lambda row: row.reference, key_column="reference"
)


def read_people(
    path: Path, imports: Import, *, today: date, here: Here = HERE
) -> Reading[PersonRow]:
    """Return the people of a file, good and bad rows, one by one."""
    return open_rows(path, PEOPLE, imports, today=today, here=here)
