"""When a hearing loss that was reported counts as explained: by evidence for that ear alone."""

from __future__ import annotations

from datetime import date

from recall.care.case import Reported
from recall.care.ear import Ear
from recall.care.hearing import asymmetry_dB, four_frequency_average
from recall.protocol.loading import Protocol

NORMAL_BELOW_DB = 25
"""Four-frequency mean below which a measured level explains: common practice, no source."""
APART_DB = 15
"""Difference between the ears, as the protocol's classifier reads it, from which it explains
nothing: NICE NG98 (2018), 15 dB or more at two adjacent frequencies."""


def only_sure(protocol: Protocol, on: date) -> bool:
    """Return whether a day is judged so that only what is sure silences what presses."""
    since = protocol.file.sure_from
    return since is not None and since <= on


def explains(item: Reported, ear: Ear | None, other: Ear | None, sure: bool) -> bool:
    """Return whether a loss counts as explained: the cause named, and hearing known to be back.

    Wax that was found explains nothing by itself.
    """
    return bool((item.because or "").strip()) and hearing_is_back(ear, other, sure)


def hearing_is_back(ear: Ear | None, other: Ear | None, sure: bool) -> bool:
    """Return whether this visit shows that an ear hears well, or does again.

    One result that is not good outweighs others that are; what was not recorded is no evidence.
    Nor is hearing that got better in an ear that wax still hides. Where only what is `sure` counts,
    it is none in an ear from which nothing came out, nor is a level of one ear alone, for a
    difference between the two is then not known.
    """
    if ear is None or ear.hearing_after in ("same", "worse"):
        return False
    if ear.hearing_dB is not None or ear.hearing_screen in ("passed", "not_passed"):
        if not tested_well(ear, other):
            return False
        if not sure or ear.hearing_screen == "passed" or _difference(ear, other) is not None:
            return True
    hidden = ear.wax_left == "occluding" or ear.clearance == "failed"
    out = ear.clearance == "cleared" or ear.wax_left in ("none", "some")
    return ear.hearing_after == "better" and not hidden and (out or not sure)


def tested_well(ear: Ear | None, other: Ear | None) -> bool:
    """Return whether an ear was tested, and nothing that was tested is not good."""
    if ear is None or ear.hearing_screen == "not_passed":
        return False
    if ear.hearing_dB is not None:
        return _measured_well(ear, other)
    return ear.hearing_screen == "passed"


def _measured_well(ear: Ear, other: Ear | None) -> bool:
    mean = four_frequency_average(ear.hearing_dB)
    if mean is None or mean >= NORMAL_BELOW_DB:
        return False
    apart = _difference(ear, other)
    return apart is None or apart < APART_DB


def _difference(ear: Ear, other: Ear | None) -> float | None:
    """Return by how many dB an ear hears worse than the other, where both were measured."""
    return asymmetry_dB(ear.hearing_dB, other.hearing_dB if other is not None else None)
