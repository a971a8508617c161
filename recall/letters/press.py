"""Setting the pages, in a process of its own that ends when the batch is done.

The page library keeps what it laid out for as long as its process lives, so this file is run as a
script: JSON on standard input; on standard output one line of JSON (which letters cannot be set,
on which page each letter begins and ends), then the PDF. It imports nothing of ours.
"""

from __future__ import annotations

import json
import sys
from typing import Any

import typst

Letters = list[dict[str, Any]]


def compile_pdf(order: dict[str, Any], letters: Letters) -> tuple[bytes, list[int], list[int]]:
    """Return the tagged PDF of some letters and the pages on which each begins and ends.

    Laid out once to learn which letters take several sheets, so that only those carry numbers;
    what did not change is not laid out again.
    """
    made = typst.Compiler(
        order["layout"],
        root=order["root"],
        font_paths=_fonts(order),
        sys_inputs=_inputs(order, letters),
    )
    (ends,) = json.loads(made.query("<ends>", field="value"))
    starts = _starts(order, ends)
    # A fixed instant: the same letters are the same bytes whenever they are printed again.
    pdf = made.compile(
        format="pdf",
        sys_inputs=_inputs(order, _counted(letters, starts, ends)),
        pdf_standards=["ua-1"],
        timestamp=0,
    )
    assert isinstance(pdf, bytes)
    return pdf, starts, ends


def _fonts(order: dict[str, Any]) -> typst.Fonts:
    """Return our fonts and no others."""
    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[order["fonts"]]
    )


def _inputs(order: dict[str, Any], letters: Letters) -> dict[str, str]:
    told = {"title": order["title"], "letters": json.dumps(letters)}
    return told | {"whole_sheets": "yes" if order.get("whole_sheets") else "no"}


def _starts(order: dict[str, Any], ends: list[int]) -> list[int]:
    """Return the page on which each letter begins: the next one, or the next front of a sheet."""
    behind = [end + end % 2 if order.get("whole_sheets") else end for end in ends[:-1]]
    return [1, *(page + 1 for page in behind)][: len(ends)]


def _counted(letters: Letters, starts: list[int], ends: list[int]) -> Letters:
    """Tell each letter of several sheets how many it has, and how many pages come before it."""
    return [
        {**letter, "before": start - 1, "sheets": end - start + 1} if end > start else letter
        for letter, start, end in zip(letters, starts, ends, strict=True)
    ]


def unsettable(order: dict[str, Any], letters: Letters, first: int = 0) -> dict[int, str]:
    """Return the letters that cannot be set, by halving until each is alone."""
    try:
        compile_pdf(order, letters)
    except typst.TypstError as error:
        if len(letters) == 1:
            return {first: error.message}
        half = len(letters) // 2
        return unsettable(order, letters[:half], first) | unsettable(
            order, letters[half:], first + half
        )
    return {}


def press(order: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
    """Return what came of an order, and its PDF (empty where no letter could be set)."""
    letters: Letters = order["letters"]
    bad: dict[int, str] = {}
    try:
        pdf, starts, ends = compile_pdf(order, letters)
    except typst.TypstError:
        bad = unsettable(order, letters)
        good = [letter for index, letter in enumerate(letters) if index not in bad]
        pdf, starts, ends = compile_pdf(order, good) if good else (b"", [], [])
    return {"bad": sorted(bad.items()), "starts": starts, "ends": ends}, pdf


def main() -> None:
    """Read an order from standard input and answer it on standard output."""
    head, pdf = press(json.loads(sys.stdin.buffer.read()))
    sys.stdout.buffer.write(json.dumps(head).encode() + b"\n" + pdf)


if __name__ == "__main__":
    main()
