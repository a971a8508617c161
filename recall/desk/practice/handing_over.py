"""A copy of everything held on one person, for them on their request.

UK GDPR, article 15(3) gives a person a copy of their data, article 20 in a form that other
programs can read; what is in it about others is looked at by whoever hands it over
(Data Protection Act 2018, schedule 2, paragraph 16).
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
from sqlalchemy import select

from recall import output
from recall.desk.core.guarding import needs
from recall.desk.core.looking import note_look
from recall.desk.core.person_lookup import person_row
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.people.timeline import timeline
from recall.errors import InputError
from recall.letters.composed import from_json
from recall.letters.wording.blocks import plain
from recall.records import tables
from recall.records.journal import history
from recall.records.people import held
from recall.records.tables.statements import whole

ABOUT = """Everything that the practice's follow-up register holds on one person.
record.txt    to read: what happened, then every row
record.json   the same for other programs
form.json     how record.json is built, as a JSON Schema (draft 2020-12)
letters/      each letter as it was written

It may name other people, and say what was written about them: whoever hands it over reads it first.
"""
COPIED = "a copy of everything held on them was made"


@dataclass(frozen=True)
class HandedOver:
    """What a copy holds."""

    path: Path
    rows: int
    letters: int


@needs(Right.HAND_OVER)
def hand_over(desk: Desk, ref: str, out: Path) -> HandedOver:
    """Write everything held on somebody into one ZIP file; it stands in the history first.

    Raises:
        NotFound: no such reference.
        InputError: it cannot be written there, or its name is no ZIP file's.
    """
    if out.suffix.lower() != ".zip":
        raise InputError(f"{out} is no name of a ZIP file.", hint="Give one that ends in .zip.")
    if because := output.why_not(out, _packed({})):
        raise InputError(f"{out} is left as it is: {because}.", hint="Choose another name.")
    with desk.store.write() as session:
        number = person_row(session, ref).id
        by = desk.by.id
        about = {"now": f"{COPIED}.", "person_id": number}
        history.append(session, by, desk.now, "noted", "person", number, **about)
    note_look(desk, number)
    files, rows, letters = _files(desk, number)
    output.write(out, _packed(files))
    return HandedOver(out, rows, letters)


def _files(desk: Desk, number: int) -> tuple[dict[str, bytes], int, int]:
    with desk.store.read() as session:
        found = held.held_on(session, number)
        wanted = select(whole(tables.Letter)).where(tables.Letter.person_id == number)
        letters = dict(_letters(session.scalars(wanted.order_by(tables.Letter.id))))
    (person,) = found["person"]
    record = {
        "form": 1,
        "made_at": desk.now,
        "made_by": desk.by.handle,
        "person": person["ref"],
        "held": found,
        "left_out": held.NOT_THEIRS,
    }
    story = [str(sentence) for sentence in timeline(desk, person["ref"])]
    files = {
        "record.txt": "\n".join(_lines(record, story)).encode(),
        "record.json": msgspec.json.format(msgspec.json.encode(record), indent=1),
        "form.json": msgspec.json.format(msgspec.json.encode(held.form()), indent=1),
    }
    return {**files, **letters}, sum(map(len, found.values())), len(letters)


def _letters(rows: Iterable[tables.Letter]) -> Iterator[tuple[str, bytes]]:
    """Give each letter as it was written, by the name of its file."""
    for row in rows:
        if not row.body:
            continue
        letter = from_json(row.body)
        head = "\n".join((*letter.address, "", letter.dated, letter.numbered, ""))
        state = f"Posted on {row.posted_on}." if row.posted_on else "It was not posted."
        text = f"{state}\n\n{head}\n{plain(letter.body)}\n"
        yield f"letters/{row.on}-{row.id}.txt", text.encode()


def _lines(record: dict[str, Any], story: list[str]) -> Iterator[str]:
    """Give the record to be read: what happened, then each row with what it says."""
    yield f"Everything held on {record['person']}, made on {record['made_at']:%Y-%m-%d}"
    yield from ("", "WHAT HAPPENED", *story)
    for name, rows in record["held"].items():
        if rows:
            yield from ("", f"{name.replace('_', ' ').upper()} ({len(rows)})")
        for row in rows:
            says = (f"{key.replace('_', ' ')}: {_shown(value)}" for key, value in row.items())
            yield "; ".join(part for part in says if not part.endswith(": "))


def _shown(value: Any) -> str:
    if value in (None, "", (), [], {}):
        return ""
    if isinstance(value, dict | list | tuple):
        return msgspec.json.encode(value).decode()
    return str(value)


def _packed(files: dict[str, bytes]) -> bytes:
    """Return a ZIP file; what it is stands first, so that an earlier copy is known again."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as into:
        into.writestr(_entry("README.txt"), ABOUT)
        for name, content in files.items():
            into.writestr(_entry(name), content, zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def _entry(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name)
    entry.external_attr = 0o600 << 16
    return entry
