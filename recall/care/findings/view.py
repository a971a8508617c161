"""The first entries: wax, its clearing, and what came into view."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from recall.care.findings.entry import EVERY, Finding, Never, names, scale

Wax = Literal["none", "some", "partial", "occluding"]


class ViewFindings(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True
):
    """What was looked at in one ear, and what stood in the way."""

    examined: Annotated[
        bool | None,
        Finding(
            means="Whether the ear was looked into.",
            of_day=True,
            label="Looked into",
            normal=True,
            signs={"could_not_examine": (False,), "drum_unseen": (False,)},
            answers=(
                ("yes", {"examined": True, "not_examined": None}),
                ("refused", {"examined": False, "not_examined": "refused"}),
                ("not tried", {"examined": False, "not_examined": "not_attempted"}),
                ("no", {"examined": False, "not_examined": None}),
            ),
        ),
    ] = None
    not_examined: Annotated[
        Literal["refused", "not_attempted"] | None,
        names(
            means="Why it was not looked into: refused, or not attempted.",
            of_day=True,
            circumstance=True,
            never=(Never(EVERY, "examined", (None, True), "Write examined false beside it."),),
        ),
    ] = None
    wax_found: Annotated[
        Wax | None,
        scale(
            means="How much wax was found: occluding blocks the canal, partial a part of it.",
            of_day=True,
            plain="ear wax",
            label="Wax found",
            look="wax",
            clear=("none", "some"),
            usual=1,
            normal="none",
            of_ear=EVERY,
            never=(
                Never(
                    ("none",),
                    "wax_left",
                    ("some", "partial", "occluding"),
                    "Write what wax was found at first.",
                ),
            ),
        ),
    ] = None
    wax_left: Annotated[
        Wax | None,
        scale(
            means="How much wax was left at the end of the visit, in the words of `wax_found`.",
            of_day=True,
            label="Wax left",
            look="wax",
            clear=("none", "some"),
            usual=3,
            normal="none",
            signs={
                "wax_out": ("none", "some"),
                "wax_stays": ("occluding",),
                "wax_in_it": ("partial", "occluding"),
            },
            of_ear=EVERY,
            never=(
                Never(("occluding",), "drum_seen", ("full",), 'Write drum_seen "part" or "none".'),
                Never(
                    ("occluding",),
                    "clearance",
                    ("cleared",),
                    'Write clearance "failed", or what wax was left after it.',
                ),
            ),
        ),
    ] = None
    clearance: Annotated[
        Literal["cleared", "failed", "not_attempted"] | None,
        Finding(
            means="What became of clearing what was in the canal: wax, or an object.",
            of_day=True,
            label="Clearing",
            look="wax",
            usual=2,
            normal="cleared",
            told=True,
            signs={
                "clearance_failed": ("failed",),
                "wax_stays": ("failed",),
                "wax_in_it": ("failed",),
                "cleared": ("cleared",),
                "wax_out": ("cleared",),
            },
            of_ear=("cleared", "failed"),
            never=(
                Never(
                    ("failed",),
                    "wax_left",
                    ("none",),
                    'Write clearance "cleared", or what wax was left.',
                ),
                Never(("failed",), "clearance_tries", (0,), "Write how often it was tried."),
                Never(
                    ("not_attempted",),
                    "clearance_tries",
                    tuple(range(1, 51)),
                    'Write clearance "cleared" or "failed".',
                ),
            ),
        ),
    ] = None
    clearance_tries: Annotated[
        Annotated[int, msgspec.Meta(ge=0, le=50)] | None,
        Finding(
            means="How often clearing was tried at this visit: a number of tries.",
            of_day=True,
            label="Times tried",
            hint="how often clearing was tried",
        ),
    ] = None
    clearance_by: Annotated[
        Literal["suction", "irrigation", "instrument"] | None,
        Finding(
            means="By what it was cleared, or tried to be; suction where it was one of several.",
            label="Cleared by",
            circumstance=True,
            never=(
                Never(
                    EVERY,
                    "clearance",
                    ("not_attempted",),
                    'Write clearance "cleared" or "failed".',
                ),
            ),
        ),
    ] = None
    """Suction where it was one of several; hearing can be down for days after it."""
    hearing_after: Annotated[
        Literal["better", "same", "worse"] | None,
        scale(
            means="How this ear hears after clearing, as they say, against before.",
            label="Hears after",
            circumstance=True,
            normal="better",
            told=True,
            signs={"hearing_back": ("better",)},
        ),
    ] = None
    drum_seen: Annotated[
        Literal["full", "part", "none"] | None,
        scale(
            means="How much of the drum was seen.",
            of_day=True,
            circumstance=True,
            label="Drum seen",
            look="drum",
            usual=4,
            says=("whole", "part", "not"),
            normal="full",
            signs={"drum_unseen": ("none",)},
            of_ear=("full", "part"),
        ),
    ] = None
    attic_seen: Annotated[
        bool | None,
        Finding(
            means="Whether the attic, the upper part of the drum, was seen.",
            of_day=True,
            label="Attic",
            usual=5,
            says=("seen", "not seen"),
            normal=True,
            signs={"attic_unseen": (False,)},
            of_drum=(True,),
            never=(
                Never(
                    (False,),
                    "attic_grade",
                    EVERY,
                    "Write attic_seen true where it could be graded, or leave the grade out.",
                ),
            ),
        ),
    ] = None
