"""Asking the printer to leave every back empty: no letter lies on the back of another's.

The page library cannot ask for it, so the wish is put into the finished PDF: a name in the
viewer preferences (ISO 32000-1, 12.8.2, table 150: Duplex, Simplex).
"""

from __future__ import annotations

import re

from recall.errors import LetterError

_PREFERENCES = b"/ViewerPreferences<<"
_WISH = b"/Duplex/Simplex"
_END = re.compile(rb"startxref\n(\d+)\n%%EOF\s*\Z")


def ask_one_sided(pdf: bytes) -> bytes:
    """Return a PDF of the page library that asks to be printed on one side of the paper.

    The preferences stand in the last object of the file, behind everything that its table of
    places names: only the place of the table itself moves.

    Raises:
        LetterError: the file is not built so; nothing is printed without the wish.
    """
    at, end = pdf.rfind(_PREFERENCES), _END.search(pdf)
    table = int(end[1]) if end else 0
    last_object = pdf.rfind(b" obj\n", 0, table)
    if end is None or not 0 <= last_object < at < table or not pdf.startswith(b"xref", table):
        raise LetterError(
            "The pages cannot be made to ask for one-sided printing.",
            hint="Install the version of typst that this program names.",
        )
    place = at + len(_PREFERENCES)
    moved = str(table + len(_WISH)).encode()
    return pdf[:place] + _WISH + pdf[place : end.start(1)] + moved + pdf[end.end(1) :]
