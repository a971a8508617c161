"""What left the house, kept beside the pages: a register that is restored does not know it.

Each batch leaves a file of its letters, as they were printed, in the letters folder. A restore
reads them, so that what was printed or posted after the backup is not written and sent again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import msgspec
from sqlalchemy import Date, Table, insert, select, update
from sqlalchemy.orm import Session

from recall import output
from recall.records import tables
from recall.records.database import sealed
from recall.records.journal import history
from recall.records.journal.history import Change
from recall.records.tables.base import UtcDateTime, Words
from recall.records.tables.statements import table_of, whole

ENDING = ".keys.json"
RESTORED = "restored"
"""What the line of the history says that was the first one after a backup."""
Values = dict[str, Any]
_LETTER, _BATCH = table_of(tables.Letter), table_of(tables.Batch)
_NOT_KEPT = frozenset({"id", "batch_id", "recorded_no"})
EMPTY: Mapping[str, str] = {}


class Kept(msgspec.Struct):
    """One batch as it left: its row, and its letters with whose they are."""

    kind: str
    batch: Values
    letters: list[Values]


@dataclass(frozen=True)
class Brought:
    """What the files beside the pages told a restored register."""

    changes: tuple[Change, ...]
    known: int
    """Letters that are in the register again."""
    unknown: tuple[Values, ...]
    """Letters about what the backup does not hold: whose, which step, which day."""


def write_keys(
    session: Session,
    batch: tables.Batch,
    ids: Sequence[int],
    path: Path,
    first: Mapping[str, str] = EMPTY,
) -> None:
    """Write the letters of a batch that were ever printed, beside its pages.

    `first`: by number, the text of those that were printed before, which stays in the file.
    """
    refs = dict(session.execute(select(tables.Person.id, tables.Person.ref)).all())
    wanted = select(_LETTER).where(_LETTER.c.id.in_(ids)).order_by(_LETTER.c.id)
    letters = []
    for row in session.execute(wanted).mappings():
        kept = {name: row[name] for name in row if name not in _NOT_KEPT}
        number = msgspec.json.decode(row["fields"])["number"]
        kept["body"] = first.get(number, kept["body"])
        also = _also(session, row["id"])
        letters.append({**kept, "person": refs[row["person_id"]], "also": also})
    whole_batch = {c.name: getattr(batch, c.name) for c in _BATCH.c if c.name not in _NOT_KEPT}
    _write(path, Kept("letter keys", whole_batch, letters))


def note_posted(path: Path, on: date, left_out: Iterable[str]) -> None:
    """Note in a batch's file that it was posted, and which letters were taken off the pile."""
    kept = kept_at(path)
    if kept is None:  # printed by an earlier version
        return
    off = set(left_out)
    kept.batch["posted_on"] = on
    for letter in kept.letters:
        number = msgspec.json.decode(letter["fields"])["number"]
        letter["posted_on"] = None if number in off else on
    _write(path, kept)


def keep_without(path: Path, numbers: Iterable[str]) -> None:
    """Take letters out of a batch's file by the numbers at their tops: they were erased."""
    kept = kept_at(path)
    if kept is not None:
        off = set(numbers)
        rest = [x for x in kept.letters if msgspec.json.decode(x["fields"])["number"] not in off]
        kept.letters = rest
        _write(path, kept)


def kept_in(folder: Path) -> Iterator[Kept]:
    """Give every batch that left its letters in a folder."""
    for path in sorted(folder.glob(f"*{ENDING}")):
        kept = kept_at(path)
        if kept is not None:
            yield kept


def bring_back(session: Session, batches: Iterable[Kept], by_id: int) -> Brought:
    """Let a restored register know what was printed and posted since its backup."""
    people = dict(session.execute(select(tables.Person.ref, tables.Person.id)).all())
    changes: list[Change] = []
    unknown: list[Values] = []
    known = 0
    for kept in batches:
        batch_id = _batch(session, kept.batch, by_id)
        for letter in kept.letters:
            person_id = people.get(letter["person"])
            number = _letter(session, letter, person_id, batch_id, by_id)
            if number is None:
                unknown.append(_told(letter))
            elif number:
                known += 1
                now = {"posted_on": letter["posted_on"], "printed_at": letter["printed_at"]}
                what = "left_before_restore"
                changes.append(Change(what, "letter", number, now=now, person_id=person_id))
    return Brought(tuple(changes), known, tuple(unknown))


def _told(letter: Values) -> Values:
    on = letter["posted_on"] or letter["printed_at"] or letter["on"]
    return {"ref": letter["person"], "step": letter["step"], "on": str(on)[:10]}


def _batch(session: Session, kept: Values, by_id: int) -> int:
    """Return the batch's row, made where the backup has none; what became of it since is kept."""
    c = tables.Batch
    same = c.number == kept["number"], c.week_on == date.fromisoformat(kept["week_on"])
    row = session.scalars(select(whole(c)).where(*same)).first()
    values = _typed(_BATCH, kept)
    values |= {"by_id": by_id, "posted_by_id": by_id if values["posted_on"] else None}
    if row is None:
        return session.scalars(insert(_BATCH).values(**values).returning(c.id)).one()
    since = {name: values[name] for name in _SINCE}
    session.execute(update(_BATCH).where(c.id == row.id, c.posted_on.is_(None)).values(**since))
    return row.id


_SINCE = ("printed_at", "posted_on", "posted_by_id", "file_name", "text_digest")


def _letter(
    session: Session, kept: Values, person_id: int | None, batch_id: int, by_id: int
) -> int | None:
    """Return the letter's row; 0 where nothing was new, None where what it is about is unknown."""
    if person_id is None:
        return None
    p = tables.Letter
    mine = p.person_id == person_id, p.step == kept["step"], p.fields == kept["fields"]
    row = session.scalars(select(whole(p)).where(*mine)).first()
    values = _typed(_LETTER, kept)
    left = {"printed_at": values["printed_at"], "posted_on": values["posted_on"]}
    if row is not None:
        if (row.printed_at, row.posted_on) == tuple(left.values()):
            return 0
        session.execute(update(_LETTER).where(p.id == row.id).values(**left, batch_id=batch_id))
        return row.id
    if not _still_there(session, kept, person_id):
        return None
    values |= {"person_id": person_id, "batch_id": batch_id, "by_id": by_id}
    values |= {"adult_id": None, "contact_point_id": None, "void_by_id": None}
    number = session.scalars(insert(_LETTER).values(**values).returning(p.id)).one()
    made = {name: values[name] for name in ("on", "recorded_at", "by_id")}
    for one in kept["also"]:
        if _follow_up(session, one["follow_up_id"], person_id):
            row_of = insert(table_of(tables.AlsoAbout))
            session.execute(row_of.values(**one, letter_id=number, **made))
    return number


def _still_there(session: Session, kept: Values, person_id: int) -> bool:
    """Return whether the backup holds what a letter was about, and no other letter of the step."""
    p, number = tables.Letter, kept["follow_up_id"]
    if number is None:
        r = tables.Referral
        about = r.id == kept["referral_id"], r.person_id == person_id
        return session.scalar(select(r.id).where(*about)) is not None
    turn = p.round == kept["round"], p.step == kept["step"], p.home == kept["home"]
    taken = session.scalar(select(p.id).where(p.follow_up_id == number, *turn))
    return taken is None and _follow_up(session, number, person_id)


def _follow_up(session: Session, number: int, person_id: int) -> bool:
    f = tables.FollowUp
    return session.scalar(select(f.id).where(f.id == number, f.person_id == person_id)) is not None


def _also(session: Session, letter_id: int) -> list[Values]:
    a = tables.AlsoAbout
    wanted = select(a.follow_up_id, a.round, a.step).where(a.letter_id == letter_id)
    rows = session.execute(wanted.order_by(a.id)).mappings()
    return [dict(row) for row in rows]


def _typed(table: Table, kept: Mapping[str, Any]) -> Values:
    """Return a row's values as its columns hold them."""
    return {c.name: _value(c.type, kept[c.name]) for c in table.c if c.name in kept}


def _value(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, Date):
        return date.fromisoformat(value)
    if isinstance(kind, UtcDateTime):
        return datetime.fromisoformat(value)
    return tuple(value) if isinstance(kind, Words) else value


def kept_at(path: Path) -> Kept | None:
    """Return what a batch left beside its pages; None where it cannot be read."""
    try:
        return msgspec.json.decode(sealed.unseal(path.read_bytes()), type=Kept)
    except (OSError, msgspec.DecodeError):
        return None


def _write(path: Path, kept: Kept) -> None:
    output.write(path, sealed.seal(msgspec.json.encode(kept)), named_here=True)


def left_unknown(session: Session) -> dict[tuple[str, str], str]:
    """Return the last day on which a letter of a step left for somebody, of those not known again.

    By reference and step: no letter of that step is to go out a second time unseen.
    """
    found: dict[tuple[str, str], str] = {}
    for told in history.told_of(session, "register", RESTORED):
        for one in told["now"]["letters_unknown"]:
            whose = one["ref"], one["step"]
            found[whose] = max(one["on"], found.get(whose, ""))
    return found
