"""All that a letter needs to be told."""

from __future__ import annotations

from datetime import date, time
from typing import Literal, get_args

import msgspec

from recall.care.audiogram import Audiogram

Kind = Literal[
    "invitation_adult",
    "invitation_child",
    "reminder",
    "last_letter",
    "booking_confirmation",
    "was_not_brought",
    "did_not_attend",
    "moved_check",
    "own_contact_16",
    "hand_back_to_gp",
    "referral",
]
Page = Kind | Literal["visit_sheet"]
"""What may be printed: a letter, or the sheet that is handed over and never posted or kept."""
Size = Literal["standard", "large"]

KINDS: tuple[Kind, ...] = get_args(Kind)
SIZES: tuple[Size, ...] = get_args(Size)
TO_COLLEAGUES: frozenset[Kind] = frozenset({"hand_back_to_gp", "referral"})
"""Letters from one clinician to another: they say who is meant and what was seen."""
RECALL_KINDS: tuple[Kind, ...] = tuple(k for k in KINDS if k not in TO_COLLEAGUES)
"""Letters to the person or the responsible adult: neutral, in plain words."""
ABOUT_ANOTHER: frozenset[Kind] = frozenset(
    {"invitation_child", "was_not_brought", "own_contact_16"}
)
"""Letters that always go to the responsible adult, and so must name the person."""


class _Value(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What every value of a letter shares."""


class Practice(_Value, frozen=True, kw_only=True):
    """The practice as a letter shows it."""

    name: str
    address: tuple[str, ...]
    phone: str
    email: str = ""
    opening_hours: str = ""
    opening_hours_in: dict[str, str] = {}
    """The practice's own words for them in other languages."""


class Appointment(_Value, frozen=True, kw_only=True):
    """A booked time and place, local to the practice."""

    on: date
    at: time
    place: str


class Subject(_Value, frozen=True, kw_only=True):
    """Who a letter between clinicians is about; never used in a letter to the person."""

    name: str
    born: date
    reference: str
    address: tuple[str, ...] = ()
    nhs_number: str = ""
    adult: str = ""
    """Who answers for a child."""
    phone: str = ""
    """A number that is safe to ring: of the child's adult, or the person's own."""
    gp: str = ""
    """The person's own GP with their practice, as it is on record."""


class Seen(_Value, frozen=True, kw_only=True):
    """What was found and tried, in ready-made lines; the wording adds no opinion to it."""

    visit_on: date
    """The day of the newest visit; findings that are older say so themselves."""
    not_examined: str = ""
    """Says so where nobody looked into the ears on that day."""
    reported: tuple[str, ...] = ()
    """What was reported, with the ear and since when; it leads the history as well."""
    right: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    audiogram: Audiogram | None = None
    """The newest hearing tests, which a letter may draw."""
    tested_on: date | None = None
    tested_before: date | None = None
    """The days of the newest test and of the one behind it."""
    reasons: tuple[str, ...] = ()
    asks: str = ""
    """What the colleague is asked to do, and how soon."""
    is_emergency: bool = False
    is_urgent: bool = False
    """Pressing, and no emergency: its letter is headed so."""
    questions: tuple[str, ...] = ()
    """What the colleague is asked, one question for each thing that is followed."""
    words: str = ""
    """The clinician's own, for this letter."""
    beside: tuple[str, ...] = ()
    """Where else the person was referred on the same day, with how soon."""
    trends: tuple[str, ...] = ()
    """The course of what was graded or measured more than once."""
    tried: tuple[str, ...] = ()
    """How the person was contacted, one line each."""
    spoken_to: str = ""
    """Whom the practice spoke to there, and when."""


class Told(_Value, frozen=True, kw_only=True):
    """What a person takes home in plain words."""

    visit_on: date
    whose: str = "Your"
    """How the sheet begins: "Your", or "Your child's"."""
    found: tuple[str, ...] = ()
    """As far as whoever examined chose to write it down."""
    following: tuple[str, ...] = ()
    """What happens when."""
    meanwhile: tuple[str, ...] = ()
    """What to do until then."""
    runs: bool = False
    """Whether an ear runs or bleeds already, so that only more of it is a warning."""


class LetterData(_Value, frozen=True, kw_only=True):
    """One letter, before it has any words."""

    number: str
    """The letter's own reference, safe to be seen by anybody."""
    kind: Page
    language: str = "en"
    size: Size = "standard"
    recipient: tuple[str, ...]
    """The lines of the address, the addressee's name first."""
    salutation: str
    """Who is greeted: "Mrs O'Neil", "the parent or carer of Aoife Quill"."""
    person: str = ""
    """Whose appointment it is, where somebody else is written to; empty where they are the same."""
    practice: Practice
    on: date
    """The date of the letter."""
    appointment: Appointment | None = None
    """The booked or missed time; without one the letter asks for a call."""
    call_by: date | None = None
    """The day by which to call; in a call, by which to come. None where it is to be soon."""
    soon: bool = False
    """What they are asked for is late or about to be: as soon as they can."""
    cautions: tuple[str, ...] = ()
    """What to know before the visit, in words meant for the person."""
    what_for: tuple[str, ...] = ()
    """Why the person is asked to come, in plain words; empty where letters are neutral."""
    matters: bool = False
    """Whether what is followed can do harm if it is left: urgent or high."""
    signed_by: str = ""
    signed_role: str = ""
    subject: Subject | None = None
    seen: Seen | None = None
    told: Told | None = None
    """Only of a sheet that is handed over."""
