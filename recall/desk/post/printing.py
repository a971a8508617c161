"""From a batch in the register to its pages and list, as often as wanted: the same text each time.

Whoever has died, objected, closed or lost their address since it was written is taken out
here, at the moment of printing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import msgspec
from msgspec.structs import replace
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from recall import output
from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.post.cover import ALL_SITES, Made, OnPaper, write_beside
from recall.desk.post.envelopes import marks, on_letters
from recall.desk.post.letter_keys import ENDING, write_keys
from recall.desk.post.letter_list import LetterLine, Pages, lines_of, number_of
from recall.desk.post.of_sites import of_shown
from recall.desk.post.recheck import no_longer
from recall.desk.post.reprint import Sheet, differences, digest_after, feet_of, first_printed
from recall.desk.post.weekly import leaves_in
from recall.errors import LetterError, NotFound, Refused
from recall.exchange.out import write_csv
from recall.letters.composed import ComposedLetter, from_json
from recall.letters.order import in_posting_order
from recall.letters.pages import LARGEST_BATCH, Placed, make_pdf
from recall.letters.wording.blocks import plain
from recall.records import tables
from recall.records.facts.cases import pages, readable, stands
from recall.records.facts.happened import BY_EMAIL
from recall.records.journal import history
from recall.records.journal.head_file import told
from recall.records.journal.history import Change
from recall.records.tables.statements import table_of, whole


@dataclass(frozen=True)
class Printed:
    """What came of printing a batch."""

    number: int
    pdfs: tuple[Path, ...]
    list_path: Path
    beside: tuple[Path, ...]
    """The sheet that counts the batch, and labels where large print needs them."""
    letters: int
    emails: int
    held: tuple[LetterLine, ...]
    differs: tuple[str, ...]
    """In what it is not what was printed first, line by line; nothing the first time."""
    left_out: tuple[str, ...]
    """Whose record cannot be read: no letter of theirs was printed."""


@dataclass(frozen=True)
class _Batch:
    """A batch as it is about to be printed."""

    row: tables.Batch
    """As it was before, so with the digest of what was printed first."""
    rows: tuple[tables.Letter, ...]
    references: dict[int, str]
    head: str
    folder: Path
    sites: dict[int, str]
    """By letter, the name of the person's site; nothing where the practice is one place."""

    @property
    def first(self) -> dict[str, str] | None:
        """Return the text of each letter as it was printed first; None where nobody knows."""
        return first_printed(self.row, self.list_path.with_suffix(ENDING))

    @property
    def stem(self) -> str:
        """Return how the files of the batch begin, without what they are."""
        return f"{self.row.week_on}-batch-{self.row.number}"

    @property
    def list_path(self) -> Path:
        """Return where the list lies; the pages and the keys are named like it."""
        return self.folder / f"letters-{self.stem}.csv"

    @property
    def good(self) -> dict[str, tables.Letter]:
        """Return what may leave, by its number."""
        return {number_of(r): r for r in self.rows if not r.held_why and not r.pulled_why}


@needs(Right.SEND_POST, for_the_others=True)
def print_batch(desk: Desk, batch_id: int) -> Printed:
    """Make the pages, the list and the cover sheet of a batch in the letters folder.

    Raises:
        NotFound: no such batch.
        Refused: it was posted.
        LetterError: the pages or the list cannot be written.
    """
    batch = _opened(desk, batch_id)
    good = batch.good
    paper = {n: r for n, r in good.items() if r.format not in BY_EMAIL}
    feet = feet_of(paper, on_letters)
    ordered = in_posting_order(from_json(r.body) for r in paper.values())
    pdfs, pages_ = _pages(desk, batch, [replace(x, edge=feet.get(x.number, "")) for x in ordered])
    emails = _emails(batch.folder / f"letters-{batch.stem}-by-email", good)
    done = {n: r for n, r in good.items() if n not in pages_.refused}
    differs = _differs(batch, first := batch.first, (done, feet), pages_.refused)
    edges = {paper[n].id: foot for n, foot in feet_of(paper, marks).items()}
    lines = lines_of(batch.rows, pages_, batch.references, edges, batch.head)
    write_csv(batch.list_path, LetterLine, lines, named_here=True)
    held = tuple(line for line in lines if line.held_back)
    sides = desk.config.letters.whole_sheets
    counted = Made(
        batch=batch.row,
        on=desk.today,
        practice=desk.config.practice.name,
        paper=tuple(OnPaper(paper[n], n, p, sides) for n, p in pages_.placed.items()),
        emails=emails,
        held={line.number: line.held_back for line in held},
        differs=differs,
        sites=batch.sites,
        head=batch.head,
        left_out=desk.store.left_out,
    )
    beside = write_beside(counted, batch.folder, batch.stem)
    _record(desk, batch, first, done, pages_.refused)
    _keep_keys(desk, batch, first or {}, done)
    paths = pdfs, batch.list_path, beside
    counts = len(pages_.placed), emails
    return Printed(batch.row.number, *paths, *counts, held, differs, counted.left_out)


def _opened(desk: Desk, batch_id: int) -> _Batch:
    """Take out of a batch what must not go any more, and return what is left with what was."""
    desk.store.look_through()
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
        ids = [r.person_id for r in rows]
        people = person_headers(session, ids, desk.today, desk.protocol.contact)
        references = {n: p.reference for n, p in people.items()}
        names = {one.handle: one.name for one in desk.config.sites}
        of = {r.id: people[r.person_id].site for r in rows if r.person_id in people}
        sites = {n: names.get(site, ALL_SITES) for n, site in of.items()} if len(names) > 1 else {}
        return _Batch(batch, tuple(rows), references, told(session), letters_folder(desk), sites)


def _differs(
    batch: _Batch,
    first: Mapping[str, str] | None,
    printed: tuple[dict[str, tables.Letter], dict[str, str]],
    refused: Mapping[str, str],
) -> tuple[str, ...]:
    """Say in what the batch, as it is `printed` with its feet, is not what was printed first."""
    done, feet = printed
    left_out = {number_of(r): r.pulled_why or r.held_why or "" for r in batch.rows} | {**refused}
    now = {n: Sheet(r.body, feet.get(n, "")) for n, r in done.items()}
    if first is None:
        ever = {number_of(r): Sheet(r.body) for r in batch.rows if r.printed_at is not None}
        return differences(batch.row, None, ever, left_out)
    paper = {number_of(r): r for r in batch.rows if r.format not in BY_EMAIL}
    then = feet_of({n: r for n, r in paper.items() if n in first}, on_letters)
    before = {n: Sheet(body, then.get(n, "")) for n, body in first.items()}
    return differences(batch.row, before, now, left_out)


def _keep_keys(
    desk: Desk, batch: _Batch, first: Mapping[str, str], done: Mapping[str, tables.Letter]
) -> None:
    """Leave beside the pages what went onto them, for a register that is restored one day."""
    ids = [r.id for r in batch.rows if number_of(r) in done or number_of(r) in first]
    with desk.store.read() as session:
        row = _batch_row(session, batch.row.id)
        write_keys(session, row, ids, batch.list_path.with_suffix(ENDING), first)


def _batch_row(session: Session, batch_id: int) -> tables.Batch:
    wanted = select(whole(tables.Batch)).where(tables.Batch.id == batch_id, stands(tables.Batch))
    row = session.scalars(wanted).one_or_none()
    if row is None:
        raise NotFound(f"There is no batch {batch_id}.", hint="See recall letters list.")
    return row


def _letters(session: Session, batch_id: int) -> list[tables.Letter]:
    wanted = select(whole(tables.Letter)).where(
        tables.Letter.batch_id == batch_id,
        stands(tables.Letter),
        *readable(session, tables.Letter.person_id),
    )
    return list(session.scalars(wanted.order_by(tables.Letter.id)))


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
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise LetterError(
            f"The folder {folder} cannot be made: {error.strerror or error}.",
            hint="Choose another under files.letters, then print the same batch again.",
        ) from None
    return folder


def _pages(
    desk: Desk, batch: _Batch, letters: Sequence[ComposedLetter]
) -> tuple[tuple[Path, ...], Pages]:
    """Make one PDF, or several where it is too large for one."""
    pdfs: list[Path] = []
    placed: dict[str, Placed] = {}
    refused: dict[str, str] = {}
    stem, whole_sheets = batch.list_path.stem, desk.config.letters.whole_sheets
    portions = [letters[n : n + LARGEST_BATCH] for n in range(0, len(letters), LARGEST_BATCH)]
    for number, portion in enumerate(portions, 1):
        name = f"{stem}.pdf" if len(portions) == 1 else f"{stem}-part-{number}.pdf"
        out = batch.folder / name
        report = make_pdf(portion, out, named_here=True, whole_sheets=whole_sheets)
        pdfs += [report.path] if report.path else []
        placed |= {p.number: p for p in report.placed}
        refused |= {h.number: h.because for h in report.held}
    return tuple(pdfs), Pages(placed, refused)


def _emails(folder: Path, good: dict[str, tables.Letter]) -> int:
    """Write the letters that are wanted by e-mail as plain text, ready to be sent."""
    wanted = {n: r for n, r in good.items() if r.format in BY_EMAIL}
    if wanted:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for number, row in wanted.items():
        letter = from_json(row.body)
        address = msgspec.json.decode(row.fields)["email"]
        text = f"To: {address}\nSubject: {letter.practice_name}\n\n{plain(letter.body)}\n"
        output.write(folder / f"{number}.txt", text.encode(), named_here=True)
    return len(wanted)


def _record(
    desk: Desk,
    batch: _Batch,
    first: Mapping[str, str] | None,
    done: dict[str, tables.Letter],
    refused: Mapping[str, str],
) -> None:
    """Keep that it was printed, with a digest of the text, and what the pages refused."""
    good = batch.good
    digest = digest_after(batch.row, first, {n: r.body for n, r in done.items()})
    with desk.store.write() as session:
        unfit = {good[n].id: why for n, why in refused.items()}
        _pull(desk, session, unfit, {row.id: row.person_id for row in good.values()})
        for some in pages(r.id for r in done.values()):
            anew = tables.Letter.id.in_(some), tables.Letter.printed_at.is_(None)
            session.execute(
                update(table_of(tables.Letter)).where(*anew).values(printed_at=desk.now)
            )
        values = {"printed_at": desk.now, "text_digest": digest}
        session.execute(
            update(table_of(tables.Batch))
            .where(tables.Batch.id == batch.row.id)
            .values(**values, file_name=batch.list_path.stem)
        )
        said = {"letters": len(done)}
        history.append(session, desk.by.id, desk.now, "printed", "batch", batch.row.id, now=said)


@needs(Right.LOOK)
def unprinted(desk: Desk, week_on: date) -> tuple[int, ...]:
    """Return the batches of a week whose pages were never made, or are gone from the folder."""
    c = tables.Batch
    wanted = select(whole(c)).where(c.week_on == week_on, stands(c), c.posted_on.is_(None))
    with desk.store.read() as session:
        only_shown(desk, session)
        rows = session.scalars(wanted.where(*of_shown(session)).order_by(c.id)).all()
    folder = desk.config.files.letters
    return tuple(
        row.id
        for row in rows
        if row.printed_at is None or not (folder / f"{row.file_name}.csv").is_file()
    )
