"""One person's history as a case file, version 1: the contract of `recall plan`."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

import msgspec

from recall.care.dates import When
from recall.care.ear import Ear, Side
from recall.care.measured import Levels, Tympanogram

CASE_VERSION = 1

ReportWord = Literal[
    "hearing_concern",
    "speech_concern",
    "sudden_hearing_loss",
    "worsening_hearing_loss",
    "fluctuating_hearing",
    "facial_weakness",
    "facial_numbness",
    "vertigo",
    "sudden_vertigo",
    "pain",
    "night_pain",
    "severe_pain",
    "tinnitus_one_sided",
    "tinnitus_pulsatile",
    "recent_cold",
    "head_injury",
    "bled",
    "loss_explained",
    "bled_by_itself",
    "blocked_feeling",
    "itch",
    "barotrauma",
    "dizzy_after_care",
    "hurt_by_care",
    "first_hearing_aid",
    "own_injury",
    "not_tested_since_grommet",
]
RiskWord = Literal[
    "hearing_aid",
    "recurrent_wax",
    "narrow_canal",
    "learning_disability",
    "dementia",
    "care_home",
    "down_syndrome",
    "cleft_palate",
    "craniofacial",
    "autism",
    "developmental_delay",
    "speech_delay",
    "visual_impairment",
    "permanent_hearing_loss",
    "only_hearing_ear",
    "immunocompromised",
    "diabetes",
    "anticoagulant",
    "head_neck_radiotherapy",
    "previous_grommet",
    "previous_ear_surgery",
    "previous_cholesteatoma",
    "chinese_or_se_asian_origin",
]
Track = Literal[
    "wax",
    "fluid",
    "retraction",
    "perforation",
    "canal_skin",
    "grommet",
    "cavity",
    "hearing",
    "drum",
    "view",
    "surveillance",
]
Category = Literal[
    "fluid_recheck",
    "retraction_watch",
    "wax_routine",
    "wax_retry",
    "healing_check",
    "skin_check",
    "grommet_check",
    "cavity_care",
    "hearing_check",
    "view_retry",
    "refer",
    "come_back_if",
]
To = Literal[
    "ent",
    "emergency",
    "stroke",
    "audiology",
    "paediatric_audiology",
    "gp",
    "dentist",
    "pharmacy",
    "ear_care",
]
Do = Literal[
    "otoscopy", "hearing_test", "tympanometry", "clear_wax", "clean", "call", "ask_after_care"
]
"""What is to be done at a re-check."""
Urgency = Literal["emergency", "urgent", "high", "medium", "low"]
URGENCIES: tuple[Urgency, ...] = ("emergency", "urgent", "high", "medium", "low")
"""Most pressing first."""


class _Part(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True
):
    """What every part of a case file shares."""


DAYS_IN = {"day": 1, "week": 7, "month": 30, "year": 365}
"""In how many days something came on that was told in longer units: the shorter reading."""


class Reported(_Part, frozen=True, kw_only=True):
    """Something the person, or whoever came with them, said."""

    what: ReportWord
    ear: Side | None = None
    since: When | None = None
    onset_days: Annotated[int, msgspec.Meta(ge=0, le=40000)] | None = None
    """Over how many days it came on."""
    because: str | None = None
    """For `loss_explained`: what a clinician found to explain it."""


class Risk(_Part, frozen=True, kw_only=True):
    """Something about the person, or one ear of theirs, that changes the follow-up."""

    what: RiskWord
    ear: Side | None = None
    since: When | None = None
    until: When | None = None


class UnderCare(_Part, frozen=True, kw_only=True):
    """Already assessed or followed elsewhere, so that a known thing is not referred again."""

    of: To
    ear: Side | None = None
    track: Track | None = None
    since: When | None = None
    until: When | None = None
    where: str | None = None
    """At which clinic or hospital, as it was told."""
    next_seen: date | None = None
    """When they are seen there next, as it was told."""


class ToldByOthers(_Part, frozen=True, kw_only=True):
    """Something documented elsewhere, for the clocks."""

    on: When
    ear: Side
    source: str
    effusion: Literal["absent", "suspected", "present"] | None = None
    hearing_dB: Levels | None = None  # noqa: N815
    grommet_on: When | None = None
    surgery: str | None = None
    hearing_tested: Literal[True] | None = None
    """That hearing was tested, where the levels are not known."""
    tympanogram: Tympanogram | None = None

    def __post_init__(self) -> None:
        """Refuse an entry that tells nothing."""
        names = (
            *("effusion", "hearing_dB", "grommet_on", "surgery", "hearing_tested"),
            "tympanogram",
        )
        if all(getattr(self, name) is None for name in names):
            raise ValueError(f"tell at least one of {', '.join(names)}")


class Visit(_Part, frozen=True, kw_only=True):
    """One attendance, closed by a practitioner."""

    on: date
    examiner: str | None = None
    reported: tuple[ReportWord | Reported, ...] = ()
    right: Ear | None = None
    left: Ear | None = None


class Case(_Part, frozen=True, kw_only=True):
    """One person's history."""

    born: date
    case_version: Literal[1] = 1
    risks: tuple[RiskWord | Risk, ...] = ()
    visits: tuple[Visit, ...] = ()
    under_care: tuple[UnderCare, ...] = ()
    told_by_others: tuple[ToldByOthers, ...] = ()
    loss_treated_on: When | None = None
    """When the treatment of a sudden loss ended, of an ear that nobody named: it counts for both.
    Of one ear it is a finding, and that stands above this one."""
