"""British postcodes: the published forms, and which letter may stand where.

Sources: the six forms and the letters by position are Royal Mail's note on the postcode
format, which BS 7666 follows; GIR 0AA is kept from its time. The UK government's own pattern
(Bulk data transfer: additional validation for CAS upload, 2015, section 3) knows the same
forms with fewer exclusions. P in the third place came after the note, for district N1P.
"""

from __future__ import annotations

import re

FORMS = ("A9 9AA", "A99 9AA", "AA9 9AA", "AA99 9AA", "A9A 9AA", "AA9A 9AA")
"""Every form but GIR 0AA: A is a letter, 9 a digit."""
FIRST = "[A-PR-UWYZ]"
"""Never Q, V, X."""
SECOND = "[A-HK-Y]"
"""Never I, J, Z."""
THIRD = "[A-HJKPSTUW]"
"""The letter that ends A9A."""
FOURTH = "[ABEHMNPRVWXY]"
"""The letter that ends AA9A."""
INWARD = "[ABD-HJLNP-UW-Z]"
"""Never C, I, K, M, O, V."""
_OUTWARD = (
    f"{FIRST}[0-9]{{1,2}}",
    f"{FIRST}{SECOND}[0-9]{{1,2}}",
    f"{FIRST}[0-9]{THIRD}",
    f"{FIRST}{SECOND}[0-9]{FOURTH}",
)
_POSTCODE = re.compile(rf"({'|'.join(_OUTWARD)}) ?([0-9]{INWARD}{{2}})|(GIR) ?(0AA)")
_READ_AS = {"A": {"0": "O", "1": "I"}, "9": {"O": "0", "I": "1"}}
"""What is easily taken for what, by what should stand there."""


def tidied(text: str) -> str:
    """Return a postcode in capitals with one space, or nothing where it is none.

    >>> tidied("ec1a1bb"), tidied("Q1 1AA")
    ('EC1A 1BB', '')
    """
    one_space = " ".join(text.split())
    # Other scripts have letters whose capital is one of these.
    found = _POSTCODE.fullmatch(one_space.upper()) if one_space.isascii() else None
    if found is None:
        return ""
    return f"{found[1] or found[3]} {found[2] or found[4]}"


def perhaps(text: str) -> tuple[str, ...]:
    """Return what it would be with letter O or I and digit 0 or 1 taken for each other.

    >>> perhaps("M1 IAA")
    ('M1 1AA',)
    """
    bare = "".join(text.split())
    if not bare.isascii():
        return ()
    found = (tidied(_read_as(bare.upper(), form.replace(" ", ""))) for form in FORMS)
    return tuple(dict.fromkeys(filter(None, found)))


def _read_as(bare: str, form: str) -> str:
    """Return a text with each sign read as what its place in a form asks for."""
    if len(bare) != len(form):
        return ""
    return "".join(_READ_AS[kind].get(sign, sign) for sign, kind in zip(bare, form, strict=True))
