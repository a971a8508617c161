"""What was seen in one ear at one visit.

A field left out was not recorded, which is never the same as normal. The fields, and all that
is known of each, stand in the catalogue: `care.findings`.
"""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from recall.care.findings.hearing import HearingFindings

Side = Literal["right", "left"]
SIDES: tuple[Side, Side] = ("right", "left")


class Ear(
    HearingFindings, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True
):
    """The findings of one ear. `None` means not recorded."""


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
