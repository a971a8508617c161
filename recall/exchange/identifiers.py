"""NHS numbers, phones, postcodes and e-mail addresses, checked.

General libraries do it, but for postcodes, whose published forms are a page of ours.
All are optional: a wrong one is kept as it was written, with what is wrong, so that
nobody is lost for a mistyped digit. The libraries are imported when first needed, and
repeated values (families, one surgery) are checked once.
"""

from __future__ import annotations

import re
from functools import lru_cache

import msgspec

from recall.exchange import postcodes

_CACHED = 1 << 16


class Identifier(msgspec.Struct, frozen=True, kw_only=True):
    """An identifier as it was written, and as it reads when it is right."""

    raw: str
    value: str = ""
    """The one form for storing and comparing; empty where it is wrong."""
    shown: str = ""
    """The form for people to read; `raw` where it is wrong."""
    wrong: str = ""
    right: str = ""

    @property
    def is_right(self) -> bool:
        """Return whether it passed its check."""
        return not self.wrong


def _bad(raw: str, wrong: str, right: str) -> Identifier:
    """Return an identifier that is kept as written."""
    return Identifier(raw=raw, shown=raw, wrong=wrong, right=right)


_TEN_DIGITS = re.compile("[0-9]{10}")


@lru_cache(_CACHED)
def nhs_number(raw: str) -> Identifier:
    """Return an NHS number, its check digit verified.

    >>> nhs_number("9434765919").shown
    '943 476 5919'
    """
    from stdnum.gb import nhs

    if _TEN_DIGITS.fullmatch(raw) and not nhs.checksum(raw):
        return Identifier(raw=raw, value=raw, shown=f"{raw[:3]} {raw[3:6]} {raw[6:]}")
    return _odd_nhs_number(raw)


def _odd_nhs_number(raw: str) -> Identifier:
    """Return an NHS number with anything beside its digits, or one that is wrong."""
    from stdnum.exceptions import InvalidChecksum, InvalidLength, ValidationError
    from stdnum.gb import nhs

    try:
        value = nhs.validate(raw)
    except InvalidLength:
        return _bad(raw, "does not have 10 digits", "the 10 digits, with or without spaces")
    except InvalidChecksum:
        return _bad(raw, "its check digit does not fit", "compare it with the person's own letter")
    except ValidationError:
        return _bad(raw, "holds something other than digits", "10 digits and nothing else")
    return Identifier(raw=raw, value=value, shown=nhs.format(value))


_SHORTENED = re.compile(r"\d[.,]?\d*E\+\d+", re.I)
# Ofcom sets these ranges aside for drama, so numbering plans do not list them as given out:
# "Telephone numbers for use in TV and radio drama programmes", Wrenfield's among them.
_DRAMA = re.compile(r"\+44(1632960|7700900)\d{3}")


@lru_cache(_CACHED)
def phone(raw: str, country: str = "GB") -> Identifier:
    """Return a phone number: stored in E.164, shown as it is dialled in `country`.

    >>> phone("07700 900123").value
    '+447700900123'
    """
    import phonenumbers as pn

    if _SHORTENED.search(raw):
        return _bad(raw, "was shortened by a spreadsheet", "all digits; format the column as text")
    if sum(c.isdigit() for c in raw) > 18:
        return _bad(raw, "more than one number", "one number in each phone column")
    try:
        number = pn.parse(raw, country)
    except pn.NumberParseException:
        return _bad(raw, "is not a phone number", "digits with the area code")
    value = pn.format_number(number, pn.PhoneNumberFormat.E164)
    if not (pn.is_valid_number(number) or _DRAMA.fullmatch(value)):
        return _bad(raw, "no such number can exist", "all digits, with the area code")
    home = number.country_code == pn.country_code_for_region(country)
    style = pn.PhoneNumberFormat.NATIONAL if home else pn.PhoneNumberFormat.INTERNATIONAL
    return Identifier(raw=raw, value=value, shown=pn.format_number(number, style))


_FORCES = re.compile(r"BFPO ?([0-9]{1,4})", re.I)


@lru_cache(_CACHED)
def postcode(raw: str, country: str = "GB") -> Identifier:
    """Return a postcode in capitals with one space; other countries' are taken as written.

    >>> postcode("ec1a1bb").value
    'EC1A 1BB'
    """
    tidy = " ".join(raw.split()).upper()
    if country != "GB":
        return Identifier(raw=raw, value=tidy, shown=tidy)
    if forces := _FORCES.fullmatch(tidy):
        tidy = f"BFPO {forces[1]}"
        return Identifier(raw=raw, value=tidy, shown=tidy)
    if spaced := postcodes.tidied(raw):
        return Identifier(raw=raw, value=spaced, shown=spaced)
    near = " or ".join(postcodes.perhaps(raw))
    as_on_post = "for example WF99 4ZZ: letters and digits as on an envelope"
    return _bad(raw, "is not a postcode", f"perhaps {near}" if near else as_on_post)


@lru_cache(_CACHED)
def email(raw: str) -> Identifier:
    """Return an e-mail address of valid form; nothing is sent or looked up.

    >>> email("Desk@Example.ORG").value
    'Desk@example.org'
    """
    from email_validator import EmailNotValidError, validate_email

    try:
        value = validate_email(raw, check_deliverability=False).normalized
    except EmailNotValidError as error:
        return _bad(raw, str(error).rstrip(".").lower(), "one address, like name@example.org")
    return Identifier(raw=raw, value=value, shown=value)
