"""The entries that are measured: hearing, tympanograms, and the day of a hearing aid."""

from __future__ import annotations

from typing import Annotated, Literal

from recall.care.dates import When
from recall.care.findings.canal import CanalFindings
from recall.care.findings.entry import Finding, names, scale
from recall.care.measured import Levels, Tympanogram


class HearingFindings(
    CanalFindings, frozen=True, forbid_unknown_fields=True, omit_defaults=True, kw_only=True
):
    """What was measured of one ear."""

    hearing_aid_fitted_on: Annotated[
        When | None,
        Finding(
            means="The day or month the hearing aid was fitted, or how long before the visit.",
            label="Aid fitted",
        ),
    ] = None
    tympanogram: Annotated[
        Tympanogram | None,
        scale(
            means="The trace of tympanometry: pressure in daPa, compliance and volume in ml.",
            label="Tympanogram",
            look="trace",
            usual=13,
            steps=("A", "C1", "C2", "flat"),
        ),
    ] = None
    hearing_dB: Annotated[  # noqa: N815
        Levels | None,
        Finding(
            means="Hearing by air: dB HL by frequency in Hz.",
            plain="a loss of hearing",
            label="Hearing dB",
            look="hearing",
            usual=12,
            letter="hearing, air conduction (dB HL)",
            column="hearing",
        ),
    ] = None
    bone_dB: Annotated[  # noqa: N815
        Levels | None,
        Finding(
            means="Hearing by bone: dB HL by frequency in Hz.",
            label="Bone dB",
            letter="hearing, bone conduction (dB HL)",
            column="bone",
        ),
    ] = None
    hearing_screen: Annotated[
        Literal["passed", "not_passed", "could_not_test"] | None,
        names(
            means="What came of a hearing screen of this ear.",
            plain="a hearing check that did not come out well",
            label="Screening",
            look="hearing",
            normal="passed",
        ),
    ] = None
    loss_treated_on: Annotated[
        When | None,
        Finding(
            means="The day or month the treatment of a sudden loss ended, or how long before.",
            label="Loss treated to",
        ),
    ] = None
    """The day on which the treatment of a sudden loss ended in this ear."""
