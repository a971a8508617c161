"""What of the configuration says which sites a practice has, where it has several."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import Annotated

import msgspec

from recall.capacity import Section, Text
from recall.errors import InputError

ALL = "all"
"""In the place of handles: whoever works for every site, those to come as well."""
_HANDLE = re.compile(r"[a-z0-9]([a-z0-9-]{0,18}[a-z0-9])?")


class Site(Section, frozen=True, kw_only=True):
    """One place at which the practice sees people, as its letters name it."""

    handle: str
    """The short word for it on the command line and in files."""
    name: Text
    address: Annotated[tuple[Text, ...], msgspec.Meta(min_length=1, max_length=5)]
    postcode: Text
    phone: Text
    opening_hours: str = ""
    """As a sentence, for the letters; left out, the practice's."""
    opening_hours_in: dict[str, str] = msgspec.field(default_factory=dict)
    """The same in other languages of the letters."""

    def __post_init__(self) -> None:
        """Refuse a handle that could not be typed, or that means every site."""
        if not _HANDLE.fullmatch(self.handle) or self.handle == ALL:
            words = "is a short word of small letters and digits, and not `all`"
            raise ValueError(f"`handle` {self.handle!r} cannot be used: it {words}")


def refuse_twins(sites: Sequence[Site]) -> None:
    """Refuse two sites of one handle or one name.

    Raises:
        ValueError: there are two.
    """
    for what in ("handle", "name"):
        count = Counter(getattr(one, what).casefold() for one in sites)
        twice = [each for each, times in count.items() if times > 1]
        if twice:
            raise ValueError(f"`sites` has two with the {what} {twice[0]!r}")


def site_meant(sites: Sequence[Site], given: str) -> str:
    """Return the handle of the site that a text names by its handle or its name.

    Where the practice lists no sites, the text stays as it is; nothing stays nothing.

    Raises:
        InputError: the practice has no such site.
    """
    text = " ".join(given.split())
    if not text or not sites:
        return text
    for one in sites:
        if text.casefold() in (one.handle, one.name.casefold()):
            return one.handle
    known = ", ".join(one.handle for one in sites)
    raise InputError(f"{text!r} is no site of this practice.", hint=f"It may be: {known}.")
