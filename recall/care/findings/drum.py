"""The entries of the drum: fluid, infection, retraction, disease, holes."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from recall.care.findings.entry import EVERY, Finding, Never, Noted, Stays, flag, names, scale
from recall.care.findings.view import ViewFindings

Grade = Annotated[int, msgspec.Meta(ge=0, le=4)]
_CHOLESTEATOMA = Noted(r"\bcholesteatoma\w*", "cholesteatoma")


class DrumFindings(
    ViewFindings, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True
):
    """What was seen of the drum and behind it."""

    effusion: Annotated[
        Literal["absent", "suspected", "present"] | None,
        scale(
            means="Fluid behind the drum.",
            plain="fluid behind the eardrum",
            label="Fluid",
            look="fluid",
            usual=6,
            normal="absent",
            signs={"drum_changed": ("suspected", "present")},
            # `suspected` fluid may rest on a flat trace, so it stands beside an unseen drum
            of_drum=("absent", "present"),
            clear_in="drum",
            stays=Stays("fluid", ("present",)),
        ),
    ] = None
    red: Annotated[
        bool | None,
        flag(
            means="Whether the drum is red.",
            plain="a red eardrum",
            label="Red drum",
            signs={"drum_changed": (True,)},
            of_drum=EVERY,
            clear_in="drum",
        ),
    ] = None
    bulging: Annotated[
        bool | None,
        flag(
            means="Whether the drum bulges.",
            plain="a bulging eardrum",
            label="Bulging drum",
            signs={"acute_infection": (True,), "drum_changed": (True,), "no_drops": (True,)},
            of_drum=EVERY,
            clear_in="drum",
        ),
    ] = None
    bullae: Annotated[
        bool | None,
        flag(
            means="Whether there are blisters on the drum.",
            plain="blisters on the eardrum",
            label="Bullae",
            signs={"acute_infection": (True,), "no_drops": (True,)},
            of_ear=EVERY,
            clear_in="drum",
        ),
    ] = None
    tensa_grade: Annotated[
        Grade | None,
        scale(
            means="How far the pars tensa is sucked in: Sadé's grade, 0 (not) to 4 (stuck down).",
            plain="an eardrum that is drawn inwards",
            label="Tensa (Sadé)",
            look="tensa",
            usual=7,
            letter="pars tensa retraction, grade (Sadé)",
            normal=0,
            of_drum=EVERY,
            clear_in="drum",
            stays=Stays("a retraction", (1, 2, 3, 4)),
        ),
    ] = None
    tensa_mobile: Annotated[
        bool | None,
        Finding(
            means="Whether the pars tensa moves with pressure.",
            label="Tensa moves",
            says=("yes", "fixed"),
            letter="pars tensa mobile",
            normal=True,
            signs={"tensa_fixed": (False,)},
            of_drum=EVERY,
        ),
    ] = None
    attic_grade: Annotated[
        Grade | None,
        scale(
            means="How far the attic is sucked in: Tos' grade, 0 (not) to 4 (bone worn away).",
            plain="a small pocket at the top of the eardrum",
            label="Attic (Tos)",
            look="attic",
            usual=8,
            letter="pars flaccida retraction, grade (Tos)",
            normal=0,
            signs={"disease_sign": (3, 4)},
            of_drum=EVERY,
            clear_in="attic",
            stays=Stays("an attic pocket", (1, 2, 3, 4)),
        ),
    ] = None
    pocket_base_seen: Annotated[
        bool | None,
        Finding(
            means="Whether the whole base of the pocket was seen.",
            label="Pocket's base",
            says=("seen", "not seen"),
            normal=True,
            signs={"base_unseen": (False,)},
            of_drum=(True,),
        ),
    ] = None
    scutum_erosion: Annotated[
        bool | None,
        flag(
            means="Whether the bone of the attic's outer wall is worn away.",
            plain="bone beside the eardrum that may be worn",
            label="Bone worn away",
            signs={"disease_sign": (True,), "no_drops": (True,)},
            of_ear=EVERY,
            clear_in="attic",
            noted=(_CHOLESTEATOMA, Noted(r"\bero[ds]\w+|\bworn\b|\bscutum", "worn bone")),
        ),
    ] = None
    attic_crust: Annotated[
        bool | None,
        flag(
            means="Whether a crust lies over the attic.",
            plain="a crust at the top of the eardrum",
            label="Attic crust",
            signs={"disease_sign": (True,), "no_drops": (True,)},
            of_ear=EVERY,
            clear_in="attic",
        ),
    ] = None
    granulation: Annotated[
        bool | None,
        flag(
            means="Whether there is granulation tissue in the canal or on the drum.",
            plain="sore tissue in the ear",
            label="Granulation",
            signs={"disease_sign": (True,), "no_drops": (True,)},
            of_ear=EVERY,
            clear_in="attic",
            noted=(Noted(r"\bgranulat\w+", "granulation"),),
        ),
    ] = None
    polyp: Annotated[
        bool | None,
        flag(
            means="Whether there is a polyp.",
            plain="what may be a small growth in the ear",
            label="Polyp",
            signs={"disease_sign": (True,), "no_drops": (True,)},
            of_ear=EVERY,
            clear_in="attic",
            noted=(Noted(r"\bpolyp\w*", "polyp"),),
        ),
    ] = None
    keratin: Annotated[
        bool | None,
        # in a pocket or at a perforation's edge; loose skin elsewhere does not count
        flag(
            means="Whether there is keratin in a pocket or behind the drum.",
            plain="what may be skin growing where it should not",
            label="Keratin",
            signs={"disease_sign": (True,), "no_drops": (True,)},
            of_ear=EVERY,
            clear_in="attic",
            noted=(_CHOLESTEATOMA, Noted(r"\bkeratin\w*", "keratin")),
        ),
    ] = None
    mass_behind_drum: Annotated[
        Literal["none", "white", "red"] | None,
        names(
            means="A mass behind the drum, by its colour.",
            plain="something behind the eardrum that needs to be looked at",
            label="Mass behind",
            normal="none",
            signs={"drum_changed": ("white", "red")},
            of_drum=EVERY,
            clear_in="drum",
            noted=(_CHOLESTEATOMA, Noted(r"\b(white|pearly) mass", "white mass")),
        ),
    ] = None
    blood_behind_drum: Annotated[
        bool | None,
        flag(
            means="Whether there is blood behind the drum.",
            plain="blood behind the eardrum",
            label="Blood behind",
            signs={"drum_changed": (True,)},
            of_drum=EVERY,
            clear_in="drum",
        ),
    ] = None
    perforation: Annotated[
        Literal["none", "central", "marginal", "attic", "healed"] | None,
        names(
            means="A hole in the drum, by where it is; healed where one was known and is closed.",
            plain="a hole in the eardrum",
            label="Hole in drum",
            look="hole",
            clear=("none", "healed"),
            usual=9,
            normal="none",
            signs={
                "disease_sign": ("marginal", "attic"),
                "no_drops": ("central", "marginal", "attic"),
            },
            of_drum=EVERY,
            clear_in="drum",
            stays=Stays("a perforation", ("central", "marginal", "attic")),
            never=(
                Never(
                    ("none",),
                    "perforation_cause",
                    EVERY,
                    'Write perforation "healed" for one that has closed.',
                ),
                Never(
                    ("none", "healed"),
                    "perforation_new",
                    (True,),
                    "Write where the new perforation is.",
                ),
            ),
        ),
    ] = None
    perforation_cause: Annotated[
        Literal["trauma", "infection", "unknown"] | None,
        names(means="What made the hole.", label="Hole from", circumstance=True),
    ] = None
    perforation_new: Annotated[
        bool | None,
        flag(
            means="Whether the hole was not known before this visit.",
            label="Hole is new",
            says=("no", "new"),
            told=True,
        ),
    ] = None
