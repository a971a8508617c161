"""From letters in words to one PDF, whole or not at all."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from recall import output
from recall.care.audiogram import in_words
from recall.errors import LetterError
from recall.letters import address, coverage
from recall.letters.composed import ComposedLetter
from recall.letters.data import TO_COLLEAGUES
from recall.letters.one_sided import ask_one_sided

_HERE = Path(__file__).parent
LAYOUT = _HERE / "page"
LARGEST_BATCH = 1000
"""One PDF is one layout, so that its tags stay whole; this many letters take half a gigabyte."""
_SECONDS = (60, 0.2)
"""How long a batch may take: to start, and for each letter. Hundreds a second are usual."""


class Placed(NamedTuple):
    """Where a letter is in the PDF, pages counted from 1."""

    number: str
    first_page: int
    last_page: int


class Held(NamedTuple):
    """A letter that was left out, and why."""

    number: str
    because: str


class PdfReport(NamedTuple):
    """What came of a batch."""

    path: Path | None
    """The PDF, or None where every letter was held back."""
    placed: tuple[Placed, ...]
    held: tuple[Held, ...]


def make_pdf(
    letters: Sequence[ComposedLetter],
    out: Path,
    title: str = "Letters",
    *,
    named_here: bool = False,
    whole_sheets: bool = False,
) -> PdfReport:
    """Write the letters, in the order given, as one tagged PDF; hold back what cannot be set.

    The same letters make the same bytes. The file appears complete or not at all. It asks for
    one-sided printing; for a printer that does not listen, every letter can begin on a sheet of
    its own whatever is printed on the backs.
    """
    if len(letters) > LARGEST_BATCH:
        raise LetterError(
            f"A batch of {len(letters)} letters is too large for one PDF.",
            hint=f"Make portions of at most {LARGEST_BATCH}.",
        )
    reasons = [(letter, unprintable(letter)) for letter in letters]
    held = [Held(letter.number, because) for letter, because in reasons if because]
    good = [letter for letter, because in reasons if not because]
    if not good:
        return PdfReport(None, (), tuple(held))
    head, pdf = _pressed(good, title, whole_sheets)
    refused = dict(head["bad"])
    held += [Held(good[index].number, f"the page refuses it: {why}") for index, why in head["bad"]]
    set_letters = [letter for index, letter in enumerate(good) if index not in refused]
    if not set_letters:
        return PdfReport(None, (), tuple(held))
    output.write(out, ask_one_sided(pdf), named_here=named_here)
    return PdfReport(out, _placed(set_letters, head), tuple(held))


def unprintable(letter: ComposedLetter) -> str:
    """Return why a letter cannot be printed, or nothing."""
    missing = coverage.uncovered(letter.strings())
    if missing:
        return f"the fonts cannot show {coverage.described(missing)}"
    if len(letter.address) < 2:
        return "it has no postal address"
    if letter.size == "standard" and address.fit(letter.address) is None:
        return "its address does not fit the window; shorten it, or send large print"
    return ""


def order_for(
    letters: Sequence[ComposedLetter], title: str, whole_sheets: bool = False
) -> dict[str, Any]:
    """Return what the press is told: texts, sizes and where its files are."""
    return {
        "title": title,
        "whole_sheets": whole_sheets,
        "layout": str(LAYOUT / "letter.typ"),
        "root": str(LAYOUT),
        "fonts": str(coverage.FONTS),
        "letters": [_for_press(letter) for letter in letters],
    }


def _for_press(letter: ComposedLetter) -> dict[str, Any]:
    return _words_for_press(letter) | _chart_for_press(letter)


def _chart_for_press(letter: ComposedLetter) -> dict[str, Any]:
    """Return the hearing chart with what it shows in words, or nothing."""
    chart = letter.audiogram
    if chart is None:
        return {}
    return {"audiogram": msgspec.to_builtins(chart), "audiogram_told": in_words(chart)}


def _words_for_press(letter: ComposedLetter) -> dict[str, Any]:
    fitted = address.fit(letter.address) if letter.size == "standard" else None
    return {
        "number": letter.number,
        "size": letter.size,
        "to_colleague": letter.kind in TO_COLLEAGUES,
        "by_hand": letter.kind == "visit_sheet",
        "lang": letter.language.partition("-")[0],
        "address": fitted.lines if fitted else letter.address,
        "address_pt": fitted.points if fitted else 18,
        "address_step": fitted.step_mm if fitted else 8,
        "practice_name": letter.practice_name,
        "practice_lines": letter.practice_lines,
        "dated": letter.dated,
        "numbered": letter.numbered,
        "edge": letter.edge,
        "edge_lang": "en" if "envelope" in letter.edge else letter.language.partition("-")[0],
        "body": [{"kind": block.kind, "lines": block.lines} for block in letter.body],
    }


def _pressed(
    letters: Sequence[ComposedLetter], title: str, whole_sheets: bool
) -> tuple[dict[str, Any], bytes]:
    return run_press(order_for(letters, title, whole_sheets), len(letters))


def run_press(order: dict[str, Any], count: int) -> tuple[dict[str, Any], bytes]:
    """Run the press once, in a process that ends with the batch.

    Raises:
        LetterError: it could not make the pages.
    """
    told = json.dumps(order).encode()
    start, each = _SECONDS
    try:
        # -P keeps our module names out of the child's import path.
        ran = subprocess.run(
            [sys.executable, "-P", str(_HERE / "press.py")],
            input=told,
            capture_output=True,
            timeout=start + each * count,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise LetterError(
            f"The pages of {count} letters could not be made: {error}.",
            hint="Nothing was written; make the batch again, in smaller portions.",
        ) from error
    if ran.returncode != 0:
        raise LetterError(
            f"The pages of {count} letters could not be made: {_last_line(ran.stderr)}",
            hint="Nothing was written; make the batch again, in smaller portions.",
        )
    head, _, pdf = ran.stdout.partition(b"\n")
    return json.loads(head), pdf


def _last_line(told: bytes) -> str:
    lines = told.decode("utf-8", "replace").strip().splitlines()
    return lines[-1] if lines else "the process was stopped (too little memory?)."


def _placed(letters: Sequence[ComposedLetter], head: dict[str, Any]) -> tuple[Placed, ...]:
    placed = zip(letters, head["starts"], head["ends"], strict=True)
    return tuple(Placed(letter.number, first, last) for letter, first, last in placed)
