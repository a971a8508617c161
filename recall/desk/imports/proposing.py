"""What a file would do to the register, before anything of it lands.

Pages that touch what is known are rehearsed: written, planned, compared, and rolled back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Generic, TypeVar

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.imports.file_digests import Fresh, Importer, Loss
from recall.desk.imports.importers import IMPORTERS, Kind
from recall.desk.imports.known_bookings import gone_at_the_source
from recall.desk.imports.lost_letters import lost_letters
from recall.desk.imports.pages import Page, Taken, take_page
from recall.desk.imports.reading import Found, Looks, Progress, read_whole
from recall.desk.imports.runs import new_run
from recall.exchange.day_order import Order
from recall.exchange.problem import Problem, Wrong

Row = TypeVar("Row")
AT_ONCE = 1000
"""Rows that land in one go, all or nothing."""
NEW_AT_ONCE = 2000
"""Rows of a page of a longer file that touches nothing known: written in half a second or less."""
PAGE = 120
"""Rows of a page of a longer file that touches what is known: no desk waits longer than it takes
to write and plan them, a second or two on a busy machine."""


@dataclass
class Proposal(Generic[Row]):
    """A file, and the difference that it would make."""

    found: Found[Row]
    kind: Kind
    pages: list[Page] = field(default_factory=list)
    added: int = 0
    changed: int = 0
    unchanged: int = 0
    answered: int = 0
    """Dues that newer visits answer."""
    losses: list[Loss] = field(default_factory=list)
    """What it would take away, or leaves to be asked."""
    kept: list[Problem] = field(default_factory=list)

    told: list[str] = field(default_factory=list)
    """What is recognised: known already, moved, or gone at the source."""

    @property
    def path(self) -> Path:
        """Return the file."""
        return self.found.path

    @property
    def looks(self) -> Looks:
        """Return how the file looks to the program."""
        return self.found.looks

    @property
    def rejected(self) -> int:
        """Return how many rows would be sent back."""
        return len(self.found.refused)

    @property
    def changes_anything(self) -> bool:
        """Return whether anything would land."""
        return bool(self.added or self.changed)

    @property
    def taken_away(self) -> dict[str, int]:
        """Return what would go, by kind, with how much."""
        return dict(sorted(Counter(each.what for each in self.losses).items()))


@needs(Right.TAKE_IN_FILES)
def propose(
    desk: Desk,
    path: Path,
    kind: Kind,
    progress: Progress | None = None,
    *,
    order: Order | None = None,
) -> Proposal[Any]:
    """Return what a file of a kind would do; nothing of it is kept.

    Raises:
        InputError: the file as a whole cannot be read.
        WhichOrder: its dates fit both ways, and nobody has said which comes first.
    """
    found = read_whole(desk, path, IMPORTERS[kind], progress, order=order)
    made: Proposal[Any] = Proposal(found, kind, unchanged=found.unchanged, kept=[*found.kept])
    made.told += found.told
    if kind == "bookings":
        with desk.store.read() as session:
            made.told += gone_at_the_source(
                session, found.keys, found.looks.first_day, found.looks.last_day, desk.today
            )
    done = 0
    for rows, touches in _pages(desk, found):
        _rehearse(desk, made, rows, touches)
        done += len(rows)
        if progress:
            progress(done, len(found.fresh))
    made.pages = _joined(made.pages)
    return made


def _pages(desk: Desk, found: Found[Any]) -> Iterator[tuple[Sequence[Fresh[Any]], bool]]:
    """Give the rows that are tried together, and whether they could change anything known."""
    for rows in paged(found.fresh, AT_ONCE):
        touches = _touches(desk, found.importer, rows)
        if touches and len(found.fresh) > AT_ONCE:
            for part in paged(rows, PAGE):
                yield part, _touches(desk, found.importer, part)
        else:
            yield rows, touches


def _touches(desk: Desk, importer: Importer[Any], rows: Sequence[Fresh[Any]]) -> bool:
    with desk.store.read() as session:
        return bool(importer.about(session, rows))


def _joined(pages: list[Page]) -> list[Page]:
    """Let what is new alone land in longer pages: nobody is planned while they are written."""
    found: list[Page] = []
    for page in pages:
        last = found[-1] if found else None
        if last and _may_join(last, page):
            found[-1] = Page([*last.rows, *page.rows], touches=False)
            continue
        found.append(page)
    return found


def _may_join(one: Page, other: Page) -> bool:
    plain = not (one.touches or other.touches or one.losses or other.losses)
    return plain and len(one.rows) + len(other.rows) <= NEW_AT_ONCE


def _rehearse(desk: Desk, made: Proposal[Any], rows: Sequence[Fresh[Any]], touches: bool) -> None:
    """Add what a page would do; rows that cannot land go back."""
    importer = made.found.importer
    refused: list[tuple[Fresh[Any], Wrong]] = []
    if not touches:
        with desk.store.read() as session:
            refused += importer.check(session, rows)
    taken = Taken(refused=refused, added=len(rows) - len(refused))
    if made.kind == "people" and not touches:
        near = made.found.near
        taken.losses += near.losses(rows) + lost_letters(rows, near.known)
    if touches:
        with desk.store.rehearse() as session:
            run = new_run(desk, session, made.path, made.kind, {})
            taken = take_page(desk, session, made.found, run, Page(rows, touches=True))
        desk.store.let_others_in()
    made.found.refused += [made.found.reading.refuse(f.read, wrong) for f, wrong in taken.refused]
    wrong_keys = {id(fresh) for fresh, _wrong in taken.refused}
    good = [fresh for fresh in rows if id(fresh) not in wrong_keys]
    if good:
        made.pages.append(Page(good, touches, tuple(taken.losses)))
    made.added += taken.added
    made.changed += taken.changed
    made.unchanged += taken.unchanged
    made.answered += taken.answered
    made.losses += taken.losses
    made.kept += taken.kept
    made.told += taken.told


def paged(fresh: Sequence[Fresh[Row]], most: int) -> Iterator[Sequence[Fresh[Row]]]:
    """Give all rows, or where they are more than so many, pages of whole people."""
    if len(fresh) <= most:
        if fresh:
            yield fresh
        return
    page: list[Fresh[Row]] = []
    for mine in _by_person(fresh):
        if page and len(page) + len(mine) > most:
            yield page
            page = []
        page += mine
    if page:
        yield page


def _by_person(fresh: Sequence[Fresh[Row]]) -> list[list[Fresh[Row]]]:
    found: dict[str, list[Fresh[Row]]] = {}
    for each in fresh:
        found.setdefault(getattr(each.row, "person", each.key), []).append(each)
    return list(found.values())
