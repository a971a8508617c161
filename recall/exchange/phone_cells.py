"""What people write where a phone number belongs: one number, several, and whose each is.

A checker reads digits and nothing else; a person reads "07700 900004 (mum)" or two numbers in
one cell. Here such text is taken apart, each number with the words that stand by it. What
cannot be taken apart without guessing stays as it was written, so that whoever rings can read
it: nothing is dropped.
"""

from __future__ import annotations

import re
from functools import lru_cache

import msgspec

from recall.exchange.identifiers import Identifier, phone

_RUN = re.compile(r"\(?\+?\d(?:(?:[^\S\n]|[\d().\-\u2010-\u2015])*\d)?")
_LOOKS_LIKE_A_DIGIT = re.compile(r"(?<![A-Za-z])[OoIl](?=\d)|(?<=\d)[OoIl](?![A-Za-z])")
_EXTENSION = re.compile(r"(?i)\b(?:ext(?:ension|n)?|x)\b\.?\s*\d{1,6}\s*$")
_BETWEEN = re.compile(r"(?i)[,;/|&\n]|\b(?:or|and|also|else)\b")
_EDGES = " \t\n,;:/|&()[]<>-\u2010\u2011\u2012\u2013\u2014=."
_LINKS = re.compile(r"(?i)^(?:or|and|also|else)\b|\b(?:or|and|also|else)$")
FEWEST = 7
"""Digits of the shortest number that can be dialled from anywhere; fewer are words."""
_NOTE = 3
"""Digits that may stand by a number without being one, such as an hour."""
_MOST = 7
"""Groups of digits that one number is written in."""


class Number(msgspec.Struct, frozen=True):
    """One number of a cell, right or not, and the words that stood by it."""

    given: Identifier
    label: str = ""


class PhoneCell(msgspec.Struct, frozen=True):
    """A cell of phone numbers as it was written, and what it holds, in its order."""

    raw: str
    numbers: tuple[Number, ...]

    @property
    def wrong(self) -> str:
        """Return what is wrong with the first number that is; empty where all are right."""
        return next((n.given.wrong for n in self.numbers if n.given.wrong), "")

    @property
    def right(self) -> str:
        """Return what would be right in its place."""
        return next((n.given.right for n in self.numbers if n.given.wrong), "")


@lru_cache(1 << 16)
def phone_cell(raw: str, country: str = "GB") -> PhoneCell:
    """Return the numbers of a cell.

    >>> [(n.given.value, n.label) for n in phone_cell("07700 900004 (mum)").numbers]
    [('+447700900004', 'mum')]
    >>> [n.given.shown for n in phone_cell("07700 900004 or 01632 960123").numbers]
    ['07700 900004', '01632 960123']
    """
    whole = phone(raw, country)
    if whole.is_right and not any(c.isalpha() for c in _EXTENSION.sub("", raw)):
        return PhoneCell(raw, (Number(whole),))
    texts, found = _taken_apart(raw, country)
    if not any(number.is_right for number in found) or _LOOKS_LIKE_A_DIGIT.search(raw):
        return PhoneCell(raw, (Number(whole),))
    shown = " ".join(raw.split())
    labels = [shown if _is_number_like(label) else label for label in _labels(texts)]
    return PhoneCell(raw, tuple(map(Number, found, labels)))


def _is_number_like(label: str) -> bool:
    """Return whether digits stand by a number that no word explains, as in "900004/5"."""
    return any(c.isdigit() for c in label) and not any(c.isalpha() for c in label)


def _taken_apart(raw: str, country: str) -> tuple[list[str], list[Identifier]]:
    """Return the numbers of a text, and the texts before, between and after them."""
    texts, found, at = [""], list[Identifier](), 0
    for run in _RUN.finditer(raw):
        if sum(c.isdigit() for c in run[0]) < FEWEST:
            continue
        texts[-1] += raw[at : run.start()]
        at = run.end()
        for piece in _pieces(run[0], country):
            if isinstance(piece, str):
                texts[-1] += f" {piece} "
            else:
                found.append(piece)
                texts.append("")
    texts[-1] += raw[at:]
    return texts, found


def _pieces(run: str, country: str) -> list[Identifier | str]:
    """Return a run of digits as one number, or as several that are right, with notes between.

    Where there is no such way, or more than one, it stays the one number that it was.
    """
    whole = phone(run.strip(), country)
    if whole.is_right:
        return [whole]
    tokens = run.split()
    ways = [way for way in _ways(tokens, country) if any(not isinstance(p, str) for p in way)]
    fewest = min((len(way) for way in ways), default=0)
    best = [way for way in ways if len(way) == fewest]
    return best[0] if len(best) == 1 else [whole]


def _ways(tokens: list[str], country: str) -> list[list[Identifier | str]]:
    """Return every way to read tokens as right numbers and short notes."""
    if not tokens:
        return [[]]
    found: list[list[Identifier | str]] = []
    if len(tokens[0]) <= _NOTE:
        found += [[tokens[0], *rest] for rest in _ways(tokens[1:], country)]
    for n in range(1, min(len(tokens), _MOST) + 1):
        number = phone(" ".join(tokens[:n]), country)
        if number.is_right and sum(c.isdigit() for c in number.raw) >= FEWEST:
            found += [[number, *rest] for rest in _ways(tokens[n:], country)]
    return found


def _labels(texts: list[str]) -> list[str]:
    """Return the words that belong to each number, given what stands around them all.

    A comma or "or" parts what belongs to the number before from what belongs to the next. Where
    there is none, words stand before their numbers if they do so before the first.
    """
    leads = bool(_tidy(texts[0]))
    before, after = [texts[0]], list[str]()
    for gap in texts[1:-1]:
        mark = _BETWEEN.search(gap)
        end = mark.start() if mark else 0 if leads else len(gap)
        after.append(gap[:end])
        before.append(gap[end:])
    after.append(texts[-1])
    pairs = zip(before, after, strict=True)
    return [", ".join(filter(None, map(_tidy, pair))) for pair in pairs]


def _tidy(words: str) -> str:
    """Return words without the marks and link words around them."""
    text, was = " ".join(words.split()), None
    while text != was:
        was, text = text, _LINKS.sub("", text.strip(_EDGES))
    return text
