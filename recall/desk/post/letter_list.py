"""The list that lies beside the pages of a batch: each letter, where it is, or why it is not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import msgspec

from recall.letters.pages import Placed
from recall.records.tables import Letter


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
    history: str
    """The last line of the register's history before the pages were made, with its digest."""


@dataclass(frozen=True)
class Pages:
    """What came of making the pages, by the number of a letter."""

    placed: Mapping[str, Placed]
    refused: Mapping[str, str]
    """What cannot be set on a page, and why."""


def number_of(row: Letter) -> str:
    """Return the number at the top of a letter."""
    number: str = msgspec.json.decode(row.fields)["number"]
    return number


def lines_of(
    rows: Sequence[Letter],
    made: Pages,
    references: Mapping[int, str],
    edges: Mapping[int, str],
    head: str,
) -> list[LetterLine]:
    """Return the list in the order of the pages, what was held back at the end."""
    lines = [_line(r, made, references[r.person_id], edges.get(r.id, ""), head) for r in rows]
    return sorted(lines, key=lambda x: (bool(x.held_back), x.page is None, x.page or 0, x.number))


def _line(row: Letter, made: Pages, reference: str, edge: str, head: str) -> LetterLine:
    number = number_of(row)
    placed, lines = made.placed.get(number), row.to_lines
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
        held_back=row.pulled_why or row.held_why or made.refused.get(number, ""),
        envelope=edge if placed else "",
        history=head,
    )
