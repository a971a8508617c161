"""What is measured of an ear: hearing by frequency, and tympanograms."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

import msgspec
from msgspec import UNSET, UnsetType

Hz = Literal["125", "250", "500", "750", "1000", "1500", "2000", "3000", "4000", "6000", "8000"]
Level = Annotated[float, msgspec.Meta(ge=-20, le=130)] | Literal["nr"]
"""Hearing level in dB HL, or "nr" for no response at the greatest output."""
Levels = Annotated[
    dict[Hz, Level],
    msgspec.Meta(min_length=1, extra_json_schema={"propertyNames": {"enum": list(get_args(Hz))}}),
]
"""A hearing test: by frequency. An empty one would count as a test that was done."""
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
