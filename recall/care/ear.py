"""What was seen in one ear at one visit.

A field left out was not recorded, which is never the same as normal.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

import msgspec
from msgspec import UNSET, UnsetType

from recall.care.dates import When

Side = Literal["right", "left"]
SIDES: tuple[Side, Side] = ("right", "left")
Wax = Literal["none", "some", "partial", "occluding"]
Hz = Literal["125", "250", "500", "750", "1000", "1500", "2000", "3000", "4000", "6000", "8000"]
Level = Annotated[float, msgspec.Meta(ge=-20, le=130)] | Literal["nr"]
"""Hearing level in dB HL, or "nr" for no response at the greatest output."""
Levels = Annotated[
    dict[Hz, Level],
    msgspec.Meta(min_length=1, extra_json_schema={"propertyNames": {"enum": list(get_args(Hz))}}),
]
"""A hearing test: by frequency. An empty one would count as a test that was done."""
Grade = Annotated[int, msgspec.Meta(ge=0, le=4)]
TympanogramType = Literal["A", "As", "Ad", "B", "C1", "C2"]


class Tympanogram(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True
):
    """A trace in one of three forms: measured peak, flat, or the type somebody read off it.

    Pressure in daPa, compliance and ear canal volume in ml (226 Hz probe tone).
    """

    peak_daPa: Annotated[float, msgspec.Meta(ge=-800, le=600)] | UnsetType = UNSET  # noqa: N815
    compliance_ml: Annotated[float, msgspec.Meta(ge=0, le=20)] | UnsetType = UNSET
    volume_ml: Annotated[float, msgspec.Meta(ge=0, le=20)] | UnsetType = UNSET
    flat: Literal[True] | UnsetType = UNSET
    type: TympanogramType | UnsetType = UNSET

    def __post_init__(self) -> None:
        """Refuse a mixture: a blank must not become a flat trace."""
        forms = (self.peak_daPa is not UNSET, self.flat is not UNSET, self.type is not UNSET)
        if sum(forms) != 1:
            raise ValueError("give exactly one of peak_daPa, flat or type")
        if self.peak_daPa is not UNSET and self.compliance_ml is UNSET:
            raise ValueError("a peak_daPa needs its compliance_ml")
        if self.peak_daPa is UNSET and self.compliance_ml is not UNSET:
            raise ValueError("compliance_ml belongs to a trace with peak_daPa")


class Ear(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True
):
    """The findings of one ear. `None` means not recorded."""

    examined: bool | None = None
    not_examined: Literal["refused", "not_attempted"] | None = None
    wax_found: Wax | None = None
    wax_left: Wax | None = None
    clearance: Literal["cleared", "failed", "not_attempted"] | None = None
    clearance_tries: Annotated[int, msgspec.Meta(ge=0, le=50)] | None = None
    hearing_after: Literal["better", "same", "worse"] | None = None
    drum_seen: Literal["full", "part", "none"] | None = None
    attic_seen: bool | None = None
    effusion: Literal["absent", "suspected", "present"] | None = None
    red: bool | None = None
    bulging: bool | None = None
    bullae: bool | None = None
    tensa_grade: Grade | None = None
    """Pars tensa retraction after Sadé, 0 to 4."""
    tensa_mobile: bool | None = None
    attic_grade: Grade | None = None
    """Pars flaccida retraction after Tos, 0 to 4."""
    pocket_base_seen: bool | None = None
    scutum_erosion: bool | None = None
    attic_crust: bool | None = None
    granulation: bool | None = None
    polyp: bool | None = None
    keratin: bool | None = None
    """Keratin in a pocket or at a perforation's edge; loose skin elsewhere does not count."""
    mass_behind_drum: Literal["none", "white", "red"] | None = None
    blood_behind_drum: bool | None = None
    perforation: Literal["none", "central", "marginal", "attic", "healed"] | None = None
    perforation_cause: Literal["trauma", "infection", "unknown"] | None = None
    perforation_new: bool | None = None
    discharge: Literal["none", "clear", "purulent", "blood"] | None = None
    discharge_since: When | None = None
    canal_skin: Literal["normal", "inflamed", "fungal"] | None = None
    canal_swollen_shut: bool | None = None
    canal_narrow: bool | None = None
    exostoses: bool | None = None
    cellulitis: bool | None = None
    mastoid_swelling: bool | None = None
    pinna_lesion: bool | None = None
    treated: bool | None = None
    foreign_body: Literal["none", "button_battery", "unidentified", "other"] | None = None
    tympanosclerosis: bool | None = None
    grommet: Literal["none", "in_place", "blocked", "in_canal", "gone"] | None = None
    grommet_on: When | None = None
    grommet_long_term: bool | None = None
    cavity: bool | None = None
    cavity_quiet: bool | None = None
    hearing_aid_fitted_on: When | None = None
    tympanogram: Tympanogram | None = None
    hearing_dB: Levels | None = None  # noqa: N815
    bone_dB: Levels | None = None  # noqa: N815
    hearing_screen: Literal["passed", "not_passed", "could_not_test"] | None = None


EAR_FIELDS: tuple[str, ...] = Ear.__struct_fields__


def recorded(ear: Ear | None) -> dict[str, Any]:
    """Return the fields of an ear that were recorded, by name.

    >>> recorded(Ear(effusion="present"))
    {'effusion': 'present'}
    """
    if ear is None:
        return {}
    values = msgspec.structs.astuple(ear)
    return {n: v for n, v in zip(EAR_FIELDS, values, strict=True) if v is not None}
