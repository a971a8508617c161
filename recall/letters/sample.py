"""Invented people whose names and addresses go wrong easily, for trying wording out.

Everything here is made up: the practice, its town, the people. Telephone numbers are from the
range that the regulator keeps for drama, NHS numbers from the test range.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, time
from typing import NamedTuple

from recall.care.audiogram import audiogram
from recall.care.case import Visit
from recall.care.ear import Ear
from recall.letters.data import (
    ABOUT_ANOTHER,
    TO_COLLEAGUES,
    Appointment,
    Kind,
    LetterData,
    Practice,
    Seen,
    Size,
    Subject,
)

PRACTICE = Practice(
    name="Wrenfield Ear Care",
    address=("4 Larkspur Yard", "Wrenfield", "WR9 9ZZ"),
    phone="01632 960123",
    email="hello@example.org",
    opening_hours="Monday to Friday, 9 am to 5 pm",
)


class Sample(NamedTuple):
    """Somebody to write to."""

    recipient: tuple[str, ...]
    salutation: str
    person: str


PLAIN = Sample(
    ("Mrs Ida Thackwell", "7 Teasel Row", "Wrenfield", "WR9 9ZX"), "Mrs Thackwell", "Rowan"
)
AWKWARD: tuple[Sample, ...] = (
    PLAIN,
    Sample(("O'Neil [/b]", "7 Teasel Row", "WR9 9ZX"), "O'Neil [/b]", "<b>Bo</b>"),
    Sample(("السيدة ليلى النورس", "١٢ Teasel Row", "WR9 9ZX"), "السيدة ليلى النورس", "سمير"),
    Sample(("Siŵan Tŷ-Ŵyn", "Tŷ Ŷd", "Wrenfield", "WR9 9ZX"), "Siŵan Tŷ-Ŵyn", "Ŵyn"),
    Sample(("Ελένη Αστεριάδου", "7 Teasel Row", "WR9 9ZX"), "κυρία Αστεριάδου", "Φώτης"),
    Sample(("Ольга Щуровська-Їжак", "7 Teasel Row", "WR9 9ZX"), "Ольга Щуровська-Їжак", "Єва"),
    Sample(("Nguyễn Thị Ánh Tuyết", "7 Teasel Row", "WR9 9ZX"), "Nguyễn Thị Ánh Tuyết", "Đỗ Hữu"),
    Sample(("Łucja Žďárská-Þórsdóttir", "7 Teasel Row", "WR9 9ZX"), "Łucja Žďárská", "İğdır Ñuño"),
    Sample(
        (
            "Maximiliana-Theodosia Undershaw-Wintergreen-Harbottle of Upper Teasel Row",
            "The Old Coach House behind the Lower Mill, Larkspur Yard",
            "Wrenfield",
            "WR9 9ZX",
        ),
        "Ms Maximiliana-Theodosia Undershaw-Wintergreen-Harbottle of Upper Teasel Row",
        "Bartholomew-Peregrine Undershaw-Wintergreen",
    ),
    Sample(("Ed Fen", "", "  ", "7 Teasel Row", "", "WR9 9ZX"), "Ed Fen", "Al"),
    Sample(('#import "x"', "#panic()", "\\u{41} @ref", "WR9 9ZX"), '#import "x"', "= #x"),
    Sample(("{{7*7}}", "{% raw %}", "{# no #}", "WR9 9ZX"), "{{7*7}}", "{{ practice }}"),
    Sample(("$x^2$ *b* _i_ `c`", "// off", "WR9 9ZX"), "$x^2$ *b* _i_ `c`", "- dash > more # h"),
    Sample(("Ann\u202ekraM\x07\x00", "7\tTeasel\nRow", "WR9 9ZX"), "Ann\u202ekraM", "~ To\u2066m"),
)
LONGEST = max(AWKWARD, key=lambda sample: len(sample.person))
_SUBJECT = Subject(
    name="Rowan Thackwell",
    born=date(2018, 3, 2),
    reference="P-0042",
    address=("7 Teasel Row", "Wrenfield", "WR9 9ZX"),
    nhs_number="999 000 0018",
    adult="Ida Thackwell",
    phone="01632 960321",
    gp="Dr Quill, Mill Surgery, Wrenfield",
)
_TESTED = (
    Visit(
        on=date(2026, 3, 3),
        right=Ear(hearing_dB={"500": 15, "1000": 20, "2000": 20, "4000": 25}),
    ),
    Visit(
        on=date(2026, 9, 1),
        right=Ear(
            hearing_dB={"250": 30, "500": 35, "1000": 40, "2000": 40, "4000": 45, "8000": "nr"},
            bone_dB={"500": 10, "1000": 15, "2000": 15, "4000": 20},
        ),
        left=Ear(hearing_dB={"250": 10, "500": 15, "1000": 15, "2000": 20, "4000": 20}),
    ),
)
_SEEN = Seen(
    audiogram=audiogram(_TESTED),
    tested_on=date(2026, 9, 1),
    tested_before=date(2026, 3, 3),
    visit_on=date(2026, 9, 1),
    right=("drum seen in full", "effusion: present", "tensa grade: 2"),
    left=("drum seen in full", "effusion: absent"),
    reported=("hearing concern reported",),
    history=("hearing concern reported", "hearing aid"),
    reasons=("effusion first recorded on 1 June 2026 and present on 1 September 2026",),
    asks="Please see this person soon, by 24 November 2026.",
    questions=("Does this fluid need treatment, and who follows the hearing meanwhile?",),
    words="Struggles in class; the school has written to us.",
    beside=("Children's audiology department, routinely",),
    trends=("right ear, fluid: suspected (1 June 2026), present (1 September 2026)",),
    tried=("6 October 2026: letter", "20 October 2026: phone, no answer"),
    spoken_to="the appointments office, on 1 September 2026",
)
BOOKED = Appointment(
    on=date(2026, 10, 20), at=time(14, 30), place="Wrenfield Ear Care, 4 Larkspur Yard, Wrenfield"
)
CAUTIONS = (
    "Please tell us before we start if you take medicine that thins the blood.",
    "Please bring your hearing aids.",
)


def letter(
    kind: Kind,
    sample: Sample = PLAIN,
    *,
    language: str = "en",
    size: Size = "standard",
    number: str = "L-0001",
    full: bool = True,
) -> LetterData:
    """Return a sample letter: with everything that may be given, or only what must be."""
    needs_time = kind == "booking_confirmation"
    return LetterData(
        number=number,
        kind=kind,
        language=language,
        size=size,
        recipient=sample.recipient,
        salutation=sample.salutation,
        person=sample.person if kind in ABOUT_ANOTHER else "",
        practice=PRACTICE if full else Practice(name="W", address=(), phone=PRACTICE.phone),
        on=date(2026, 10, 6),
        appointment=BOOKED if full or needs_time else None,
        call_by=date(2026, 10, 16) if full else None,
        cautions=_cautions(kind) if full else (),
        what_for=("We would like to look at the ear again.",) if full else (),
        matters=full,
        signed_by="Ida Fenwright" if full else "",
        signed_role="ear care practitioner" if full else "",
        subject=_SUBJECT if full else Subject(name="R", born=date(2018, 3, 2), reference="P"),
        seen=_SEEN if full else Seen(visit_on=date(2026, 9, 1)),
    )


def _cautions(kind: Kind) -> tuple[str, ...]:
    return ("an anticoagulant is recorded",) if kind in TO_COLLEAGUES else CAUTIONS


def letters(kind: Kind, language: str, size: Size) -> Iterator[LetterData]:
    """Yield a kind for every sample, and once with the least that can be given."""
    for index, sample in enumerate(AWKWARD):
        number = f"{kind}.{language}.{size}.{index}"
        yield letter(kind, sample, language=language, size=size, number=number)
    number = f"{kind}.{language}.{size}.least"
    yield letter(kind, language=language, size=size, number=number, full=False)
