"""From a batch in the register to its pages and list, as often as wanted: the same text each time.

Whoever has died, objected, closed or lost their address since it was written is taken out
here, at the moment of printing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import msgspec
from msgspec.structs import replace
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from recall import output
from recall.desk.core.guarding import needs
from recall.desk.core.person_header import person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.post.envelopes import marks, on_letters
from recall.desk.post.letter_keys import ENDING, write_keys
from recall.desk.post.recheck import no_longer
from recall.desk.post.weekly import leaves_in
from recall.errors import LetterError, NotFound, Refused
from recall.exchange.out import write_csv
from recall.letters.composed import ComposedLetter, from_json
from recall.letters.order import in_posting_order
from recall.letters.pages import LARGEST_BATCH, Placed, make_pdf
from recall.letters.wording.blocks import plain
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.facts.happened import BY_EMAIL
from recall.records.journal import history
from recall.records.journal.history import Change
from recall.records.tables.statements import table_of, whole


@dataclass(frozen=True)
class LetterLine:
    """One letter on the list that lies beside the pages."""

    number: str
    page: int | None
    """None where it is not on paper."""
    pages: int
    reference: str
    to: str
    postcode: str
    step: str
    language: str
    format: str
    held_back: str
    """Why it was not printed; empty where it was."""
    envelope: str
    """Which of how many it is, where others go in the same envelope; it stands at its foot."""


@dataclass(frozen=True)
class Printed:
    """What came of printing a batch."""

    number: int
    pdfs: tuple[Path, ...]
    list_path: Path
    letters: int
    emails: int
    held: tuple[LetterLine, ...]


@needs(Right.SEND_POST)
def print_batch(desk: Desk, batch_id: int) -> Printed:
    """Make the pages and the list of a batch in the letters folder.

    Raises:
        NotFound: no such batch.
        Refused: it was posted.
        LetterError: the pages or the list cannot be written.
    """
    with desk.store.write() as session:
        batch = _batch_row(session, batch_id)
        if batch.posted_on is not None:
            raise Refused(
                f"Batch {batch.number} was posted on {batch.posted_on}.",
                hint="recall letters preview shows what each letter says.",
            )
        _pull_unfit(desk, session, batch)
    with desk.store.read() as session:
        rows = _letters(session, batch_id)
        people = person_headers(
            session, [r.person_id for r in rows], desk.today, desk.protocol.contact
        )
    stem = f"letters-{batch.week_on}-batch-{batch.number}"
    folder = letters_folder(desk)
    good = {_number(r): r for r in rows if not r.held_why and not r.pulled_why}
    on_paper = {n: from_json(r.body) for n, r in good.items() if r.format not in BY_EMAIL}
    ordered = in_posting_order(on_paper.values())
    edges = marks(good[letter.number] for letter in ordered)
    printed_edges = on_letters(good[letter.number] for letter in ordered)
    marked = [replace(x, edge=printed_edges.get(good[x.number].id, "")) for x in ordered]
    pdfs, placed, refused = _pages(marked, folder, stem, desk.config.letters.whole_sheets)
    emails = _emails(folder / f"{stem}-by-email", good)
    lines = _lines(rows, placed, refused, {n: p.reference for n, p in people.items()}, edges)
    list_path = folder / f"{stem}.csv"
    write_csv(list_path, LetterLine, lines, named_here=True)
    done = [good[n].id for n in good if n not in refused]
    _record(desk, batch, done, refused, good, list_path)
    _keep_keys(desk, batch_id, done, list_path)
    held = tuple(line for line in lines if line.held_back)
    return Printed(batch.number, pdfs, list_path, len(placed), emails, held)


def _keep_keys(desk: Desk, batch_id: int, done: Sequence[int], list_path: Path) -> None:
    """Leave beside the pages what went onto them, for a register that is restored one day."""
    with desk.store.read() as session:
        batch = _batch_row(session, batch_id)
        write_keys(session, batch, done, list_path.with_suffix(ENDING))


def _batch_row(session: Session, batch_id: int) -> tables.Batch:
    wanted = select(whole(tables.Batch)).where(tables.Batch.id == batch_id, stands(tables.Batch))
    row = session.scalars(wanted).one_or_none()
    if row is None:
        raise NotFound(f"There is no batch {batch_id}.", hint="See recall letters list.")
    return row


def _letters(session: Session, batch_id: int) -> list[tables.Letter]:
    wanted = select(whole(tables.Letter)).where(
        tables.Letter.batch_id == batch_id, stands(tables.Letter)
    )
    return list(session.scalars(wanted.order_by(tables.Letter.id)))


def _number(row: tables.Letter) -> str:
    number: str = msgspec.json.decode(row.fields)["number"]
    return number


def _pull_unfit(desk: Desk, session: Session, batch: tables.Batch) -> None:
    """Take out what must not go any more."""
    rows = [r for r in _letters(session, batch.id) if not r.posted_on and not r.pulled_why]
    week = leaves_in(batch.week_on, desk.today)
    _pull(desk, session, no_longer(desk, session, rows, week), {r.id: r.person_id for r in rows})


def _pull(desk: Desk, session: Session, why: dict[int, str], people: dict[int, int]) -> None:
    """Pull letters, each with the reason; where its step comes again, it is written anew."""
    for number, because in why.items():
        session.execute(
            update(table_of(tables.Letter))
            .where(tables.Letter.id == number)
            .values(pulled_why=because)
        )
    changes = [
        Change("pulled", "letter", n, now=because, person_id=people[n])
        for n, because in why.items()
    ]
    history.append_all(session, desk.by.id, desk.now, changes)


@needs(Right.LOOK)
def letters_folder(desk: Desk) -> Path:
    """Return the folder that letters are printed to, made where it is not there yet."""
    folder = desk.config.files.letters
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise LetterError(
            f"The folder {folder} cannot be made: {error.strerror or error}.",
            hint="Choose another under files.letters, then print the same batch again.",
        ) from None
    return folder


def _pages(
    letters: Sequence[ComposedLetter], folder: Path, stem: str, whole_sheets: bool
) -> tuple[tuple[Path, ...], dict[str, Placed], dict[str, str]]:
    """Make one PDF, or several where it is too large for one."""
    pdfs: list[Path] = []
    placed: dict[str, Placed] = {}
    refused: dict[str, str] = {}
    portions = [letters[n : n + LARGEST_BATCH] for n in range(0, len(letters), LARGEST_BATCH)]
    for number, portion in enumerate(portions, 1):
        name = f"{stem}.pdf" if len(portions) == 1 else f"{stem}-part-{number}.pdf"
        out = folder / name
        report = make_pdf(portion, out, named_here=True, whole_sheets=whole_sheets)
        pdfs += [report.path] if report.path else []
        placed |= {p.number: p for p in report.placed}
        refused |= {h.number: h.because for h in report.held}
    return tuple(pdfs), placed, refused


def _emails(folder: Path, good: dict[str, tables.Letter]) -> int:
    """Write the letters that are wanted by e-mail as plain text, ready to be sent."""
    wanted = {n: r for n, r in good.items() if r.format in BY_EMAIL}
    if wanted:
        folder.mkdir(parents=True, exist_ok=True)
    for number, row in wanted.items():
        letter = from_json(row.body)
        address = msgspec.json.decode(row.fields)["email"]
        text = f"To: {address}\nSubject: {letter.practice_name}\n\n{plain(letter.body)}\n"
        output.write(folder / f"{number}.txt", text.encode(), named_here=True)
    return len(wanted)


def _lines(
    rows: Sequence[tables.Letter],
    placed: dict[str, Placed],
    refused: dict[str, str],
    references: dict[int, str],
    edges: dict[int, str],
) -> list[LetterLine]:
    """Return the list in the order of the pages, what was held back at the end."""
    lines = [
        _line(r, placed.get(_number(r)), refused, references[r.person_id], edges.get(r.id, ""))
        for r in rows
    ]
    return sorted(lines, key=lambda x: (bool(x.held_back), x.page is None, x.page or 0, x.number))


def _line(
    row: tables.Letter, placed: Placed | None, refused: dict[str, str], reference: str, edge: str
) -> LetterLine:
    number = _number(row)
    lines = row.to_lines
    return LetterLine(
        number=number,
        page=placed.first_page if placed else None,
        pages=placed.last_page - placed.first_page + 1 if placed else 0,
        reference=reference,
        to=row.to_name,
        postcode=lines[-1] if lines else "",
        step=row.step,
        language=row.language,
        format=row.format,
        held_back=row.pulled_why or row.held_why or refused.get(number, ""),
        envelope=edge if placed else "",
    )


def _record(
    desk: Desk,
    batch: tables.Batch,
    printed: Sequence[int],
    refused: dict[str, str],
    good: dict[str, tables.Letter],
    list_path: Path,
) -> None:
    """Keep that it was printed, with a digest of the text, and what the pages refused."""
    digest = hashlib.sha256()
    for number in sorted(good):
        digest.update(good[number].body.encode())
    with desk.store.write() as session:
        unfit = {good[n].id: why for n, why in refused.items()}
        _pull(desk, session, unfit, {row.id: row.person_id for row in good.values()})
        for some in pages(printed):
            first = tables.Letter.id.in_(some), tables.Letter.printed_at.is_(None)
            session.execute(
                update(table_of(tables.Letter)).where(*first).values(printed_at=desk.now)
            )
        values = {"printed_at": desk.now, "text_digest": digest.hexdigest()}
        session.execute(
            update(table_of(tables.Batch))
            .where(tables.Batch.id == batch.id)
            .values(**values, file_name=list_path.stem)
        )
        told = {"letters": len(printed)}
        history.append(session, desk.by.id, desk.now, "printed", "batch", batch.id, now=told)


@needs(Right.LOOK)
def unprinted(desk: Desk, week_on: date) -> tuple[int, ...]:
    """Return the batches of a week whose pages were never made, or are gone from the folder."""
    c = tables.Batch
    wanted = select(whole(c)).where(c.week_on == week_on, stands(c), c.posted_on.is_(None))
    with desk.store.read() as session:
        rows = session.scalars(wanted.order_by(c.id)).all()
    folder = desk.config.files.letters
    return tuple(
        row.id
        for row in rows
        if row.printed_at is None or not (folder / f"{row.file_name}.csv").is_file()
    )
