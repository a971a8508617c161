"""Lists of words in one cell: `narrow_canal left since 2024-03; hearing_aid`.

Words are apart by semicolons, line breaks or commas. After a word may stand an ear
(`right`, `left`), `since` and `until` with a day, a month or "6 weeks", and
`over 3 days` (weeks, months, years) for how long something took to come on.
"""

from __future__ import annotations

import re
from typing import Any, get_args

import msgspec

from recall.care.case import DAYS_IN, Reported, ReportWord, Risk, RiskWord
from recall.exchange.cells import Cells, not_a_word
from recall.exchange.problem import Wrong

_ITEM = re.compile(
    r"(?P<what>.+?)"
    r"(?:[ _,]+(?P<ear>right|left))?"
    r"(?:[ ,]+since (?P<since>.+?))?"
    r"(?:[ ,]+until (?P<until>.+?))?"
    r"(?:[ ,]+over (?P<onset>[0-9]{1,5}) (?P<unit>day|week|month|year)s?)?",
    re.I,
)
_SAID_OF_IT = re.compile(r"\s*(?:right|left|since|until|over)\b", re.I)
_RISKS = frozenset(get_args(RiskWord))
_REPORTS = frozenset(get_args(ReportWord))


def risks(cells: Cells, cell: str) -> tuple[RiskWord | Risk, ...]:
    """Return the risks of a person."""
    return tuple(_item(cells, part, _RISKS, Risk) for part in _parts(cell))


def reports(cells: Cells, cell: str) -> tuple[ReportWord | Reported, ...]:
    """Return what was reported at a visit."""
    return tuple(_item(cells, part, _REPORTS, Reported) for part in _parts(cell))


def _parts(cell: str) -> list[str]:
    """Return the items of a list; what is said of an item may stand behind a comma, too."""
    found: list[str] = []
    for part in re.split(r"[;\n]", cell):
        first = len(found)
        for piece in part.split(","):
            if len(found) > first and _SAID_OF_IT.match(piece):
                found[-1] += f",{piece}"
            else:
                found.append(piece)
    return [tidy for item in found if (tidy := " ".join(item.split()))]


def _word(said: str) -> str:
    return re.sub(r"[\s\-]+", "_", said).casefold()


def _item(cells: Cells, part: str, words: frozenset[str], kind: type[Any]) -> Any:
    """Return one item: the plain word where nothing more is said about it."""
    found = _ITEM.fullmatch(part)
    if found is None:
        raise not_a_word(part, words)
    what = _word(found["what"])
    if what not in words:
        raise not_a_word(what, words)
    said: dict[str, Any] = {"what": what}
    if found["ear"]:
        said["ear"] = found["ear"].lower()
    for name in ("since", "until"):
        if found[name]:
            said[name] = cells.when(found[name])
    if found["onset"]:
        said["onset_days"] = int(found["onset"]) * DAYS_IN[found["unit"].lower()]
    if len(said) == 1:
        return what
    try:
        return msgspec.convert(said, kind)
    except msgspec.ValidationError:
        raise Wrong(f"{part!r} says more than this list takes", "word, ear, since, until") from None
