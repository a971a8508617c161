"""What people are found by: folded name parts, their sound, and digits.

The same on every database: the keys are worked out here and compared as plain text.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date
from functools import lru_cache

_LETTERS = str.maketrans(
    {
        "ø": "o",
        "ł": "l",
        "đ": "d",
        "ð": "d",
        "þ": "th",
        "æ": "ae",
        "œ": "oe",
        "ı": "i",
        "ə": "e",
        "ى": "ي",
        "ی": "ي",
        "ک": "ك",
        "ة": "ه",
        "ـ": "",
    }
)
"""Letters that do not come apart into a plain one and a mark; Arabic spelling variants."""
_APOSTROPHES = re.compile("['’‘ʼʻʹ′＇`´]")
_WORD = re.compile(r"[^\W_]+")
_ARTICLE = "ال"
_JOINED = 3
"""So many words of a name in a row are also known as one: De la Cruz, Delacruz."""
_MARKS = ("", "-", " ", "/", ".")
"""What may stand between the letters and the digits of a reference."""
_WIDEST = 8
"""So many digits has a number of a reference at most, with the zeros in front."""
_MOST_SPELLINGS = 400
_SOUNDS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern), sound)
    for pattern, sound in (
        (r"^(ma?c)(?=[bcdfghjklmnpqrstvwxz])", "mk"),
        (r"^(kn|gn|pn)", "n"),
        (r"^wr", "r"),
        (r"^rh", "r"),
        (r"ph", "f"),
        (r"gh", ""),
        (r"th", "t"),
        (r"s?ch", "k"),
        (r"sh", "s"),
        (r"ck", "k"),
        (r"c(?=[eiy])", "s"),
        (r"[cq]", "k"),
        (r"x", "ks"),
        (r"z", "s"),
        (r"v", "f"),
        (r"j|g(?=[ei])", "j"),
        (r"p(?=s)|(?<=m)p(?=[st])", ""),
        (r"d(?=t)|t(?=d)", ""),
    )
)


_NO_DIGIT, _NO_WORD = re.compile(r"\D"), re.compile(r"\W")
_TRUNK = re.compile(r"^(00)?440?|^00?")


@lru_cache(maxsize=1 << 10)
def fold(text: str) -> str:
    """Return text without case, accents and marks; letters of every script stay.

    Signs that only say which way text runs or where it may break go as well, and digits of
    any script become ours.

    >>> fold("Siân Ó Néill"), fold("Łukasz"), fold("٠١٦٣٢")
    ('sian o neill', 'lukasz', '01632')
    """
    if text.isascii():
        return text.casefold()
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(map(_plain, apart)).translate(_LETTERS)


@lru_cache(maxsize=1 << 12)
def _plain(char: str) -> str:
    """Return a character as it is compared: nothing for a mark, our own digits for all."""
    if unicodedata.combining(char) or unicodedata.category(char) == "Cf":
        return ""
    return str(unicodedata.decimal(char, char))


def said_words(text: str) -> list[str]:
    """Return the words of a name in their order, folded, apostrophes left out.

    >>> said_words("D’Arcy Smith-Jones")
    ['darcy', 'smith', 'jones']
    """
    return _WORD.findall(fold(_APOSTROPHES.sub("", text)))


def joined_words(words: Sequence[str]) -> set[str]:
    """Return the words of a name that stand side by side as one: Ó Dálaigh is O'Dalaigh too.

    >>> sorted(joined_words(["de", "la", "cruz"]))
    ['dela', 'delacruz', 'lacruz']
    """
    return {
        "".join(words[start : start + many])
        for many in range(2, _JOINED + 1)
        for start in range(len(words) - many + 1)
    }


def name_parts(*names: str) -> set[str]:
    """Return the words of names, folded; what follows an apostrophe counts by itself too.

    >>> sorted(name_parts("O'Neil [/b]", "Smith-Jones"))
    ['b', 'jones', 'neil', 'oneil', 'smith']
    """
    parts: set[str] = set()
    for name in names:
        folded = fold(name)
        parts.update(_WORD.findall(_APOSTROPHES.sub("", folded)))
        for word in folded.split():
            after = _APOSTROPHES.split(word)[1:]
            parts.update(p for piece in after for p in _WORD.findall(piece) if len(p) > 2)
    parts.update(
        part.removeprefix(_ARTICLE) for part in list(parts) if len(part) > len(_ARTICLE) + 2
    )
    return parts


@lru_cache(maxsize=1 << 10)
def sound(part: str) -> str:
    """Return how a name part sounds, roughly; nothing for scripts without our letters.

    A scheme of our own, made to forgive: vowels, doubled letters and silent ones go.

    >>> sound("thompson") == sound("tomson"), sound("phillips") == sound("filips")
    (True, True)
    >>> sound("llewellyn") == sound("llywelyn"), sound("sean") == sound("shaun")
    (True, True)
    """
    if not part.isascii() or not part.isalpha():
        return ""
    for pattern, said in _SOUNDS:
        part = pattern.sub(said, part)
    part = re.sub(r"(.)\1+", r"\1", part)
    if not part:
        return ""
    first = "a" if part[0] in "aeiouy" else part[0]
    return first + re.sub(r"[aeiouywh]", "", part[1:])


@lru_cache(maxsize=1 << 10)
def phone_key(digits: str) -> str:
    """Return a number's digits backwards, without country and trunk prefix.

    Backwards, because people give the end of a number.

    >>> phone_key("+441632960123") == phone_key("01632 960123")
    True
    >>> phone_key("+353 1 234 5678") == phone_key("00353 (0)1 234 5678")
    True
    """
    plain = _NO_DIGIT.sub("", fold(digits).replace("(0)", ""))
    return _TRUNK.sub("", plain)[::-1]


@lru_cache(maxsize=1 << 10)
def postcode_key(text: str) -> str:
    """Return a postcode without space and case."""
    return _NO_WORD.sub("", fold(text))


def ref_key(text: str) -> str:
    """Return a reference without case and surrounding space."""
    return fold(text).strip()


def ref_spellings(text: str) -> set[str]:
    """Return the keys of references that somebody may mean: other zeros in front, other marks.

    >>> sorted(ref_spellings("W 042") & {"w42", "w042", "w00042", "w-42", "w43", "v42"})
    ['w-42', 'w00042', 'w042', 'w42']
    """
    parts = re.findall(r"\d+|[^\W\d]+", ref_key(text))
    if not parts:
        return {ref_key(text)}
    found = {""}
    for before, part in zip(("", *parts), parts, strict=False):
        # Two numbers stay two numbers.
        marks = _MARKS[before.isdigit() and part.isdigit() :] if before else ("",)
        found = {f"{said}{mark}{way}" for said in found for mark in marks for way in _zeros(part)}
        if len(found) > _MOST_SPELLINGS:
            return {ref_key(text)}
    return found


def _zeros(part: str) -> tuple[str, ...]:
    """Return a part of a reference with as many zeros in front as references have."""
    if not part.isdigit():
        return (part,)
    plain = part.lstrip("0") or "0"
    return tuple(plain.zfill(width) for width in range(len(plain), _WIDEST + 1)) or (plain,)


def keys_of(
    *,
    ref: str,
    names: Iterable[str],
    born: date,
    phones: Iterable[str] = (),
    postcodes: Iterable[str] = (),
    nhs_number: str | None = None,
) -> set[tuple[str, str]]:
    """Return everything that one person is found by, as pairs of kind and key."""
    keys = {("ref", ref_key(ref)), ("born", born.isoformat())}
    for name in names:
        keys |= _name_keys(name)
    keys |= {("phone", phone_key(p)) for p in phones}
    keys |= {("postcode", postcode_key(p)) for p in postcodes}
    keys.add(("nhs", _NO_DIGIT.sub("", nhs_number or "")))
    return {pair for pair in keys if pair[1]}


@lru_cache(maxsize=1 << 10)
def _name_keys(name: str) -> frozenset[tuple[str, str]]:
    """Return what somebody is found by for one of their names; many people share one."""
    parts = name_parts(name) | joined_words(said_words(name))
    sounds = {("sound", sound(part)) for part in parts}
    return frozenset({("name", part) for part in parts} | sounds)


def distance_within(one: str, other: str, most: int) -> bool:
    """Return whether so few letters are wrong, missing, too many or swapped with a neighbour.

    >>> distance_within("marhs", "marsh", 1), distance_within("marsh", "munro", 1)
    (True, False)
    """
    if abs(len(one) - len(other)) > most:
        return False
    before: list[int] = []
    last = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        row = [i]
        for j, b in enumerate(other, 1):
            cost = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and one[i - 2] == b:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return False
        before, last = last, row
    return last[-1] <= most
