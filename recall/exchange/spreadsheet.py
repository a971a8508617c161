"""What a spreadsheet program opens: its accents right, and no cell run as a formula.

A cell that begins with = + - @ (or a tab or line break) is written with an
apostrophe before it. Reading takes exactly one away again, so that what was
written always comes back as it was. Plain negative numbers are left alone.
"""

from __future__ import annotations

import re

_RUNS = re.compile(r"'*[=+\-@\t\r\n＝＋－＠]")
_ESCAPED = re.compile(r"'+[=+\-@\t\r\n＝＋－＠]")
_NEGATIVE = re.compile(r"-[0-9]+([.,][0-9]+)?\Z")


def for_spreadsheets(text: str) -> bytes:
    """Return CSV as it is written to a file: UTF-8 with the mark by which accents come out right.

    >>> for_spreadsheets("Zoë")[:3] == b"\\xef\\xbb\\xbf"
    True
    """
    return text.encode("utf-8-sig")


def escape(cell: str) -> str:
    """Return the cell as it is safe to open in a spreadsheet.

    >>> escape("=1+1"), escape("-10.5"), escape("Ann")
    ("'=1+1", '-10.5', 'Ann')
    """
    if _RUNS.match(cell) and not _NEGATIVE.match(cell):
        return "'" + cell
    return cell


def unescape(cell: str) -> str:
    """Return the cell as it was before `escape`.

    >>> unescape("'=1+1"), unescape("'t Hooft")
    ('=1+1', "'t Hooft")
    """
    if cell.startswith("'") and _ESCAPED.match(cell):
        return cell[1:]
    return cell
