"""What was seen in one ear at one visit.

A field left out was not recorded, which is never the same as normal. The fields, and all that
is known of each, stand in the catalogue: `care.findings`.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, Literal

import msgspec

from recall.care.findings.hearing import HearingFindings

Side = Literal["right", "left"]
SIDES: tuple[Side, Side] = ("right", "left")


def ears_of(ears: Collection[str], the: str = "") -> str:
    """Return which ear or ears are meant.

    >>> ears_of(("left",)), ears_of(("left",), "the "), ears_of(("right", "left"), "the ")
    ('left ear', 'the left ear', 'both ears')
    """
    return "both ears" if len(set(ears)) > 1 else f"{the}{next(iter(ears))} ear"


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
