"""What is counted on the sheet that lies on a batch: letters, sheets of paper, envelopes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from recall.desk.post.envelopes import beside
from recall.letters.composed import from_json
from recall.letters.cover_pages import Counted, Cover, Listed, make_cover, make_labels
from recall.letters.pages import Placed
from recall.records.tables import Batch, Letter
from recall.schedule.calendar import say_day

WINDOW = "With a window (DL), folded twice"
LARGE = "Large (C4), not folded: a label each"
ALL_SITES = "Of no site"
BY_HAND = ("Printed and counted by", "Put into envelopes by", "To the post on, by")


@dataclass(frozen=True)
class OnPaper:
    """A letter that was printed, where it lies among the pages."""

    letter: Letter
    number: str
    placed: Placed
    both_sides: bool = False
    """The paper is printed on both sides, and every letter begins on a sheet of its own."""

    @property
    def pages(self) -> int:
        """Return how many pages it has."""
        return self.placed.last_page - self.placed.first_page + 1

    @property
    def sheets(self) -> int:
        """Return how many sheets of paper it takes."""
        return (self.pages + 1) // 2 if self.both_sides else self.pages


@dataclass(frozen=True)
class Made:
    """A batch as it was made."""

    batch: Batch
    on: date
    practice: str
    paper: tuple[OnPaper, ...]
    emails: int
    held: Mapping[str, str]
    """Why what was held back is not among the pages, by letter."""
    differs: tuple[str, ...]
    """In what it is not what was printed first."""
    sites: Mapping[int, str]
    """By letter, the site of whom it is about, where there are several; empty otherwise."""
    head: str
    """The last line of the history when it was made."""
    left_out: tuple[str, ...] = ()
    """Whose record cannot be read, each with the row."""


def write_beside(made: Made, folder: Path, stem: str) -> tuple[Path, ...]:
    """Write the cover sheet of a batch, and labels where large print needs them.

    Raises:
        LetterError: they cannot be made, or not written there.
    """
    cover, labels = folder / f"cover-{stem}.pdf", folder / f"labels-{stem}.pdf"
    make_cover(cover_of(made), cover)
    large = [one for one in made.paper if one.letter.format == "large"]
    first = {some[0].id for some in beside(one.letter for one in large).values()}
    wanted = [from_json(one.letter.body) for one in large if one.letter.id in first]
    if not wanted:
        labels.unlink(missing_ok=True)  # of an earlier printing
        return (cover,)
    make_labels(wanted, labels)
    return cover, labels


def cover_of(made: Made) -> Cover:
    """Return the cover sheet of a batch."""
    told = [f"{_whose(made)}. Made on {say_day(made.on)}.", _on_paper(made)]
    if made.emails:
        told.append(f"{made.emails} more are sent by e-mail.")
    lists = (
        Listed("No letter made: this record cannot be read", made.left_out),
        Listed("Differs from what was printed first", made.differs),
        Listed("Together in one envelope", _together(made.paper)),
        Listed("Not among the pages", tuple(f"{n}: {why}" for n, why in made.held.items())),
    )
    return Cover(
        title=f"Post of the week from {say_day(made.batch.week_on)}: batch {made.batch.number}",
        told=tuple(told),
        parts=(*_by_site(made), _by_letter(made.paper), _by_envelope(made.paper)),
        lists=tuple(one for one in lists if one.rows),
        by_hand=BY_HAND,
        foot=made.head,
    )


def _on_paper(made: Made) -> str:
    """Say how many letters lie on how many sheets, as the pages are made."""
    sheets, pages = (sum(getattr(o, each) for o in made.paper) for each in ("sheets", "pages"))
    letters, several = ("s" * (count != 1) for count in (len(made.paper), sheets))
    said = f"{len(made.paper)} letter{letters} on {sheets} sheet{several} of paper, printed on"
    if not any(one.both_sides for one in made.paper):
        return f"{said} one side."
    return f"{said} both sides: {pages} pages, each letter on sheets of its own."


def _whose(made: Made) -> str:
    """Return the practice, with the site where all letters are of one."""
    names = set(made.sites.values())
    return f"{made.practice}, {names.pop()}" if len(names) == 1 else made.practice


def _by_site(made: Made) -> tuple[Counted, ...]:
    """Count letters and sheets by site; nothing where there is one place."""
    letters, sheets = Counter[str](), Counter[str]()
    for one in made.paper if made.sites else ():
        site = made.sites.get(one.letter.id, ALL_SITES)
        letters[site] += 1
        sheets[site] += one.sheets
    rows = tuple((site, str(letters[site]), str(sheets[site])) for site in sorted(letters))
    return (Counted("Sites", ("Site", "Letters", "Sheets"), rows),) if rows else ()


def _by_letter(paper: Sequence[OnPaper]) -> Counted:
    """Count letters and sheets by kind of letter."""
    letters, sheets = Counter[str](), Counter[str]()
    for one in paper:
        kind = one.letter.kind.replace("_", " ")
        letters[kind] += 1
        sheets[kind] += one.sheets
    rows = [(kind, str(letters[kind]), str(sheets[kind])) for kind in sorted(letters)]
    total = ("All", str(letters.total()), str(sheets.total()))
    return Counted("Letters", ("Kind", "Letters", "Sheets"), (*rows, total))


def _by_envelope(paper: Sequence[OnPaper]) -> Counted:
    """Count envelopes by kind: what shares one is counted once."""
    known = {one.letter.id: one for one in paper}
    envelopes = {tuple(x.id for x in some) for some in beside(o.letter for o in paper).values()}
    count: dict[str, Counter[str]] = {WINDOW: Counter(), LARGE: Counter()}
    for some in envelopes:
        ours = [known[number] for number in some]
        kind = LARGE if ours[0].letter.format == "large" else WINDOW
        sheets = sum(one.sheets for one in ours)
        count[kind] += Counter(envelopes=1, letters=len(ours), sheets=sheets)
    rows = [(kind, *_three(found)) for kind, found in count.items() if found]
    total = ("All", *_three(count[WINDOW] + count[LARGE]))
    return Counted("Envelopes", ("Kind", "Envelopes", "Letters", "Sheets"), (*rows, total))


def _three(found: Counter[str]) -> tuple[str, str, str]:
    return str(found["envelopes"]), str(found["letters"]), str(found["sheets"])


def _together(paper: Sequence[OnPaper]) -> tuple[str, ...]:
    """Return the numbers that share an envelope, in the order of the pages."""
    number = {one.letter.id: one.number for one in paper}
    shared = beside(one.letter for one in paper)
    rows = (" and ".join(number[x.id] for x in shared[one.letter.id]) for one in paper)
    return tuple(row for row in dict.fromkeys(rows) if " and " in row)
