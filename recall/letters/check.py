"""Trying out all wording, in every kind, language and size, against awkward samples."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from recall.errors import LetterError
from recall.letters import sample
from recall.letters.compose import compose, mail, script
from recall.letters.composed import ComposedLetter
from recall.letters.data import KINDS, RECALL_KINDS, SIZES, Kind, LetterData
from recall.letters.pages import LARGEST_BATCH, make_pdf
from recall.letters.wording import Wording, languages
from recall.letters.wording.environment import SHIPPED

_SELLING = re.compile(
    r"[£$€]|\b(discounts?|special offers?|vouchers?|promotions?|sale|free of charge|half price)\b",
    re.IGNORECASE,
)
"""Signs that a letter sells something. With them a service message becomes marketing, which
needs another consent (PECR 2003, regulation 22). English words and any currency."""


class Problem(NamedTuple):
    """Something in the wording that somebody should put right."""

    where: str
    """The kind, language and size, or the file."""
    says: str


def check_all(own: Path | None = None) -> list[Problem]:
    """Return what is wrong with the shipped wording and a practice's own copies."""
    if own is not None and not own.is_dir():
        raise LetterError(
            f"The practice's own wording folder {own} does not exist.",
            hint="Make it, or take it out of the configuration.",
        )
    wording = Wording(own)
    problems = [*_stray_files(own), *_selling(wording)]
    to_print: list[ComposedLetter] = []
    for data in _tried(wording):
        try:
            composed = compose(data, wording)
            if data.size == "standard":
                mail(data, wording)
                script(data, wording)
        except LetterError as error:
            problems.append(Problem(_where(data), str(error)))
        else:
            if _worth_paper(data):
                to_print.append(composed)
    return list(dict.fromkeys([*problems, *_on_paper(to_print)]))


def _tried(wording: Wording) -> Iterator[LetterData]:
    for language in languages(wording):
        for kind in KINDS:
            for size in SIZES:
                yield from sample.letters(kind, language, size)


def _worth_paper(data: LetterData) -> bool:
    """Say whether to set the pages too: every name once, and what is long or short in each kind."""
    ends = (sample.PLAIN.recipient, sample.LONGEST.recipient)
    return data.kind == KINDS[0] or data.recipient in ends


def _where(data: LetterData | ComposedLetter) -> str:
    return f"{data.kind}, {data.language}, {data.size}"


def _on_paper(composed: list[ComposedLetter]) -> Iterator[Problem]:
    """Make the pages in a folder that goes away, and look at what was held back or ran over."""
    by_number = {letter.number: letter for letter in composed}
    for start in range(0, len(composed), LARGEST_BATCH):
        with tempfile.TemporaryDirectory() as folder:
            portion = composed[start : start + LARGEST_BATCH]
            made = make_pdf(portion, Path(folder) / "check.pdf")
        for held in made.held:
            yield Problem(_where(by_number[held.number]), f"It is held back: {held.because}.")
        for placed in made.placed:
            letter = by_number[placed.number]
            one_page = letter.size == "standard" and letter.kind in RECALL_KINDS
            if one_page and placed.last_page > placed.first_page:
                yield Problem(_where(letter), "It runs over its page; shorten the wording.")


def _selling(wording: Wording) -> Iterator[Problem]:
    for root in wording.roots():
        for path in sorted(root.glob("*/*.txt")):
            found = _SELLING.search(path.read_text("utf-8-sig", errors="replace"))
            if found:
                where = f"{path.parent.name}/{path.name}"
                yield Problem(where, f"{found[0]!r} reads like an offer; keep letters neutral.")


def _stray_files(own: Path | None) -> Iterator[Problem]:
    """Name files of the practice's own that no letter will ever use."""
    if own is None:
        return
    known = {path.stem for path in SHIPPED.glob("*/*.txt")} | set(_names(KINDS))
    for path in sorted(own.rglob("*")):
        if not path.is_file() or path.name.startswith("."):
            continue
        where = path.relative_to(own).as_posix()
        used = path.suffix == ".txt" and path.parent.parent == own
        if not used or not (path.stem in known or "part_" in path.stem):
            yield Problem(where, "No letter uses this file; correct its name, or remove it.")


def _names(kinds: tuple[Kind, ...]) -> Iterator[str]:
    for kind in kinds:
        yield kind
        yield f"spoken_{kind}"
