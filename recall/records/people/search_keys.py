"""What people are found by: folded name parts, their sound, and digits.

The same on every database: the keys are worked out here and compared as plain text.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from datetime import date

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
        "ة": "ه",
        "ـ": "",
    }
)
"""Letters that do not come apart into a plain one and a mark; Arabic spelling variants."""
_APOSTROPHES = re.compile(r"['’‘ʼ`´]")
_WORD = re.compile(r"[^\W_]+")
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


def fold(text: str) -> str:
    """Return text without case, accents and marks; letters of every script stay.

    >>> fold("Siân Ó Néill"), fold("Łukasz")
    ('sian o neill', 'lukasz')
    """
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in apart if not unicodedata.combining(c)).translate(_LETTERS)


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
    return parts


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


def phone_key(digits: str) -> str:
    """Return a number's digits backwards, without country and trunk prefix.

    Backwards, because people give the end of a number.

    >>> phone_key("+441632960123") == phone_key("01632 960123")
    True
    """
    plain = re.sub(r"\D", "", digits)
    return re.sub(r"^(00)?44|^0", "", plain)[::-1]


def postcode_key(text: str) -> str:
    """Return a postcode without space and case."""
    return re.sub(r"\W", "", fold(text))


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
    for part in name_parts(*names):
        keys |= {("name", part), ("sound", sound(part))}
    keys |= {("phone", phone_key(p)) for p in phones}
    keys |= {("postcode", postcode_key(p)) for p in postcodes}
    keys.add(("nhs", re.sub(r"\D", "", nhs_number or "")))
    return {(kind, key) for kind, key in keys if key}


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
