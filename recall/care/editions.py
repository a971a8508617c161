"""What each published edition calls an asymmetric or a conductive hearing loss. Pure data.

How each number is known: R read in the source, R2 read in somebody else's
quotation of it, M from memory (to be checked by the clinical lead).
"""

from __future__ import annotations

from typing import Literal

import msgspec

from recall.care.measured import Hz


class AsymmetryRule(msgspec.Struct, frozen=True, kw_only=True):
    """What one edition calls an asymmetric hearing loss."""

    scheme: str
    edition: str
    conduction: Literal["air", "bone"]
    frequencies: tuple[Hz, ...]
    limit_dB: float  # noqa: N815
    known_by: str
    adjacent: bool = True
    """Whether the two frequencies must be next to each other in the list."""


class GapRule(msgspec.Struct, frozen=True, kw_only=True):
    """What one edition calls a conductive loss, from the largest gaps it asks for."""

    scheme: str
    edition: str
    frequencies: tuple[Hz, ...]
    take: int
    """How many frequencies must show it."""
    how: Literal["mean", "least"]
    limit_dB: float  # noqa: N815
    known_by: str


_BAA = "British Academy of Audiology, onward referral of adults"
_ADJACENT: tuple[Hz, ...] = ("500", "1000", "2000", "4000", "8000")

ASYMMETRY_RULES: dict[str, AsymmetryRule] = {
    "BAA 2023": AsymmetryRule(
        scheme=_BAA,
        edition="2023",
        conduction="air",
        frequencies=_ADJACENT,
        limit_dB=15,
        known_by="15 dB, air conduction: R; frequencies: M",
    ),
    "NG98 2018": AsymmetryRule(
        scheme="NICE NG98 section 1.3",
        edition="2018",
        conduction="air",
        frequencies=_ADJACENT,
        limit_dB=15,
        known_by="R2",
    ),
    "BAA 2016": AsymmetryRule(
        scheme=_BAA,
        edition="2016",
        conduction="air",
        frequencies=_ADJACENT,
        limit_dB=20,
        known_by="M",
    ),
    "BAA 2009": AsymmetryRule(
        scheme=_BAA,
        edition="2009",
        conduction="bone",
        frequencies=("500", "1000", "2000", "4000"),
        limit_dB=20,
        known_by="20 dB, bone conduction: R; at any two frequencies: M",
        adjacent=False,
    ),
}

GAP_RULES: dict[str, GapRule] = {
    "BAA 2023": GapRule(
        scheme=_BAA,
        edition="2023",
        frequencies=("500", "1000", "2000"),
        take=3,
        how="mean",
        limit_dB=20,
        known_by="no 4 kHz: R; 20 dB and frequencies: M",
    ),
    "BAA 2016": GapRule(
        scheme=_BAA,
        edition="2016",
        frequencies=("500", "1000", "2000", "3000", "4000"),
        take=3,
        how="mean",
        limit_dB=20,
        known_by="M",
    ),
    "BAA 2009": GapRule(
        scheme=_BAA,
        edition="2009",
        frequencies=("500", "1000", "2000", "4000"),
        take=2,
        how="least",
        limit_dB=25,
        known_by="R",
    ),
}

CURRENT = "BAA 2023"
