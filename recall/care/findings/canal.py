"""The entries of the canal and around it: discharge, skin, foreign bodies, grommets, cavities."""

from __future__ import annotations

from typing import Annotated, Literal

from recall.care.dates import When
from recall.care.findings.drum import DrumFindings
from recall.care.findings.entry import EVERY, Caution, Finding, Never, Noted, Stays, flag, names

_INFLAMED = Caution("inflamed ear canal")


class CanalFindings(
    DrumFindings, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True
):
    """What was seen of the canal, around the ear, and of what was put into it."""

    discharge: Annotated[
        Literal["none", "clear", "purulent", "blood"] | None,
        names(
            means="What runs from the ear.",
            plain="fluid running from the ear",
            label="Discharge",
            usual=10,
            normal="none",
            signs={"no_drops": ("clear", "purulent", "blood")},
            clear_in="canal",
            never=(
                Never(("none",), "discharge_since", EVERY, "Write which discharge began then."),
            ),
        ),
    ] = None
    discharge_since: Annotated[
        When | None,
        Finding(
            means="The day or month it began to run, or how long before the visit.",
            label="Runs since",
        ),
    ] = None
    canal_skin: Annotated[
        Literal["normal", "inflamed", "fungal", "eczema"] | None,
        names(
            means="The skin of the canal.",
            plain="sore skin in the ear canal",
            label="Canal skin",
            look="canal",
            usual=11,
            normal="normal",
            signs={
                "canal_ill": ("inflamed", "fungal"),
                "no_drops": ("inflamed", "fungal", "eczema"),
            },
            caution=_INFLAMED,
            of_ear=EVERY,
            clear_in="canal",
        ),
    ] = None
    canal_swollen_shut: Annotated[
        bool | None,
        flag(
            means="Whether the canal is swollen shut.",
            plain="an ear canal that is swollen shut",
            label="Swollen shut",
            signs={"canal_ill": (True,), "no_drops": (True,)},
            caution=_INFLAMED,
            of_ear=EVERY,
            clear_in="canal",
            never=(Never((True,), "drum_seen", ("full",), 'Write drum_seen "part" or "none".'),),
        ),
    ] = None
    canal_narrow: Annotated[
        bool | None,
        flag(
            means="Whether the canal is narrow.",
            plain="a narrow ear canal",
            label="Narrow canal",
            caution=Caution("narrow ear canal", no_water=False),
        ),
    ] = None
    exostoses: Annotated[
        bool | None,
        flag(
            means="Whether there are bony swellings of the canal.",
            plain="bony lumps in the ear canal",
            label="Exostoses",
            caution=Caution("exostoses: narrow canal", no_water=False),
        ),
    ] = None
    cellulitis: Annotated[
        bool | None,
        flag(
            means="Whether the skin around the ear is infected.",
            plain="sore, red skin around the ear",
            label="Cellulitis",
            clear_in="canal",
        ),
    ] = None
    mastoid_swelling: Annotated[
        bool | None,
        flag(
            means="Whether it is swollen behind the ear.",
            plain="a swelling behind the ear",
            label="Mastoid swells",
            noted=(
                Noted(r"\bmastoid\w*", "mastoid"),
                Noted(r"\bswell\w*\W+(\w+\W+){0,2}behind", "swelling behind the ear"),
            ),
        ),
    ] = None
    pinna_lesion: Annotated[
        bool | None,
        flag(
            means="Whether there is a lesion of the outer ear's skin that may be cancer.",
            plain="a place on the outer ear that a doctor should look at",
            label="Pinna lesion",
        ),
    ] = None
    treated: Annotated[
        bool | None,
        flag(
            means="Whether an infection that was found is being treated, here or elsewhere.",
            label="Treated here",
            told=True,
            circumstance=True,
        ),
    ] = None
    foreign_body: Annotated[
        Literal["none", "button_battery", "unidentified", "other", "aid_part"] | None,
        names(
            means="What was put, or got, into the canal: an object, by what it is.",
            plain="something that does not belong in the ear",
            label="Foreign body",
            normal="none",
            signs={
                "object_in_canal": ("button_battery", "unidentified", "other", "aid_part"),
                "no_drops": ("button_battery", "unidentified", "other", "aid_part"),
            },
            clear_in="canal",
            noted=(Noted(r"\bbatter(y|ies)\b", "battery"),),
            caution=Caution("foreign body"),
        ),
    ] = None
    tympanosclerosis: Annotated[
        bool | None,
        flag(
            means="Whether there are white patches in the drum.",
            plain="white scars on the eardrum, which do no harm",
            label="White patches",
            of_drum=EVERY,
        ),
    ] = None
    grommet: Annotated[
        Literal["none", "in_place", "blocked", "in_canal", "gone"] | None,
        names(
            means="Where a grommet is, or that it is gone.",
            plain="a grommet",
            label="Grommet",
            look="grommet",
            normal="none",
            of_drum=("in_place", "blocked"),
            of_ear=("in_place", "blocked", "in_canal"),
            clear_in="drum",
            signs={"no_drops": ("in_place", "blocked")},
            stays=Stays("a grommet", ("in_place", "blocked")),
            never=(
                Never(
                    ("none",), "grommet_on", EVERY, 'Write grommet "gone" for one that was there.'
                ),
                Never(("none",), "grommet_long_term", (True,), "Write which grommet is meant."),
            ),
        ),
    ] = None
    grommet_on: Annotated[
        When | None,
        Finding(
            means="The day or month the grommet was put in, or how long before the visit.",
            label="Grommet since",
        ),
    ] = None
    grommet_long_term: Annotated[
        bool | None,
        flag(
            means="Whether it is a grommet made to stay for years.",
            label="Long-term one",
            told=True,
            circumstance=True,
        ),
    ] = None
    cavity: Annotated[
        bool | None,
        flag(
            means="Whether there is an open mastoid cavity.",
            plain="an open space from an earlier operation",
            label="Open cavity",
            look="cavity",
            signs={"no_drops": (True,)},
            stays=Stays("an open cavity", (True,)),
            caution=Caution("open mastoid cavity", ever=True),
        ),
    ] = None
    cavity_quiet: Annotated[
        bool | None,
        flag(
            means="Whether the cavity is dry, clean and without disease.",
            label="Cavity is",
            look="cavity",
            says=("quiet", "not quiet"),
            normal=True,
            of_ear=EVERY,
            never=(Never(EVERY, "cavity", (None, False), "Write cavity true beside it."),),
        ),
    ] = None
    keratin_plug: Annotated[
        bool | None,
        flag(
            means="Whether a plug of skin fills the canal.",
            plain="a plug of dry skin",
            label="Keratin plug",
            of_ear=EVERY,
            clear_in="canal",
        ),
    ] = None
    """Keratosis obturans: layers of skin that fill and widen the canal."""
