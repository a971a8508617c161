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

    hearing_aid_fitted_on: Annotated[When | None, Finding(label="Aid fitted")] = None
    tympanogram: Annotated[
        Tympanogram | None,
        scale(label="Tympanogram", look="trace", usual=13, steps=("A", "C1", "C2", "flat")),
    ] = None
    hearing_dB: Annotated[  # noqa: N815
        Levels | None,
        Finding(
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
        Finding(label="Bone dB", letter="hearing, bone conduction (dB HL)", column="bone"),
    ] = None
    hearing_screen: Annotated[
        Literal["passed", "not_passed", "could_not_test"] | None,
        names(
            plain="a hearing check that did not come out well",
            label="Screening",
            look="hearing",
            normal="passed",
        ),
    ] = None
    loss_treated_on: Annotated[When | None, Finding(label="Loss treated to")] = None
    """The day on which the treatment of a sudden loss ended in this ear."""
