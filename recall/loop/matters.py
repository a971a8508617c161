"""Matters: what somebody has to see to that is no recall, by kind, owner and named close.

An interpreter to be booked, a complaint, an incident, a message: each has an owner (a person
or a role), a day, and ends only by one of the closes of its kind, by name. Who owns what at
first is common practice, no source; the days are, but for complaints.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

MatterKind = Literal[
    "interpreter", "complaint", "incident", "message", "errand", "answer", "untyped_visit"
]
Owner = Literal["reception", "practitioner", "clinical_lead", "manager"]
"""A role that may own a matter; the words of the staff table."""


@dataclass(frozen=True)
class Kind:
    """One kind of matter."""

    id: MatterKind
    title: str
    """What the sheet that writes it down is called."""
    asks: str
    """What its text is to say."""
    owner: Owner
    """Whose it is where nobody else is named."""
    days: int
    """Working days until it is due, where no day is given."""
    closes: tuple[tuple[str, str], ...]
    """How it may end, and in which words."""
    says_how: bool = False
    """Whether it closes only with words of its own: an answer, what was found."""
    by_hand: bool = True
    """Whether somebody writes it down; the others follow from what was done."""


TELL_THEM = "tell_them"
"""The close of a message that goes back to whoever took it, to be passed on."""
_NOT_NEEDED = ("not_needed", "not needed any more")
KINDS: tuple[Kind, ...] = (
    Kind(
        "interpreter",
        "An interpreter to book",
        "Which language, for which day, by telephone or in the room",
        "reception",
        2,
        (("booked", "booked"), ("none_to_be_had", "none to be had; said so"), _NOT_NEEDED),
    ),
    Kind(
        "complaint",
        "A complaint",
        "What they complain of, in their words, and what they want done",
        "manager",
        # The Local Authority Social Services and National Health Service Complaints (England)
        # Regulations 2009, regulation 13(3): acknowledged not later than 3 working days after.
        3,
        (
            ("answered", "answered"),
            ("settled", "settled at once, and they agree"),
            ("withdrawn", "withdrawn by whoever complained"),
            ("passed_on", "passed to whoever answers it outside"),
        ),
        says_how=True,
    ),
    Kind(
        "incident",
        "An incident",
        "What happened, to whom, and what was done at once",
        "manager",
        1,
        (("looked_into", "looked into"), ("passed_on", "passed to whoever looks into it outside")),
        says_how=True,
    ),
    Kind(
        "message",
        "A message",
        "What they ask or tell, and how to answer them",
        "practitioner",
        1,
        (
            ("answered", "answered by whoever saw to it"),
            (TELL_THEM, "answered; whoever took it tells them"),
            _NOT_NEEDED,
        ),
        says_how=True,
    ),
    Kind(
        "errand",
        "Something else to see to",
        "What is to be done",
        "reception",
        3,
        (("done", "done"), _NOT_NEEDED),
    ),
    Kind(
        "answer",
        "An answer to pass on",
        "What they are to be told",
        "reception",
        0,
        (("done", "they were told"), _NOT_NEEDED),
        by_hand=False,
    ),
    Kind(
        "untyped_visit",
        "A visit to type",
        "Whose visit of which day is not in the register",
        "practitioner",
        1,
        (("done", "typed"), ("none_to_type", "no visit is to be typed")),
        by_hand=False,
    ),
)
"""Every kind, in the order in which they are offered."""
KIND: dict[str, Kind] = {kind.id: kind for kind in KINDS}
KIND_IDS: tuple[str, ...] = tuple(KIND)
BY_HAND: tuple[str, ...] = tuple(kind.id for kind in KINDS if kind.by_hand)
"""What somebody may write down."""
OWNERS: tuple[Owner, ...] = ("reception", "practitioner", "clinical_lead", "manager")
OWNER_WORDS: dict[Owner, str] = {
    "reception": "reception",
    "practitioner": "clinicians",
    "clinical_lead": "clinical lead",
    "manager": "manager",
}
"""Owners as people read them: whoever examines is called a clinician wherever work is passed on."""
CLOSE_IDS: tuple[str, ...] = tuple(dict.fromkeys(c for kind in KINDS for c, _ in kind.closes))
SEES: dict[str, frozenset[str]] = {
    "reception": frozenset({"reception"}),
    "practitioner": frozenset({"practitioner", "clinical_lead"}),
    "clinical_lead": frozenset({"clinical_lead"}),
    "manager": frozenset({"manager"}),
}
"""Which roles a matter of a role is shown to: what is for clinicians is for the lead too."""
STANDS_IN: tuple[Owner, ...] = ("manager", "clinical_lead", "practitioner", "reception")
"""Who sees to what a role owns that nobody here has: the first of these that somebody has."""


def seen_by(owner: str, here: frozenset[str]) -> frozenset[str]:
    """Return the roles that see a role's matters, where these roles are filled.

    >>> sorted(seen_by("practitioner", frozenset({"clinical_lead", "reception"})))
    ['clinical_lead', 'practitioner']
    >>> sorted(seen_by("manager", frozenset({"clinical_lead", "reception"})))
    ['clinical_lead', 'manager']
    """
    own = SEES[owner]
    if own & here:
        return own
    return own | {next((role for role in STANDS_IN if role in here), owner)}


def owner_of_word(word: str) -> Owner | None:
    """Return the role that a word means as an owner; None where it means none.

    >>> owner_of_word("Clinicians"), owner_of_word("clinical-lead"), owner_of_word("quill")
    ('practitioner', 'clinical_lead', None)
    """
    meant = word.strip().lower().replace("-", " ").replace("_", " ")
    for role, words in OWNER_WORDS.items():
        if meant in (role.replace("_", " "), words, words.removesuffix("s")):
            return role
    return None


def close_words(kind: str, how: str) -> str:
    """Return a close in words.

    >>> close_words("interpreter", "none_to_be_had")
    'none to be had; said so'
    """
    return dict(KIND[kind].closes).get(how, how)
