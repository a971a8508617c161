"""What one look at an ear says for itself: what was in view, what was cleared, how and of what."""

from __future__ import annotations

from datetime import date, timedelta

from recall.care.ear import Ear
from recall.care.hearing import four_frequency_average

SUCTION_LASTS = timedelta(days=7)
"""For how long suction may have lowered the hearing of an ear."""


def drum_in_view(ear: Ear) -> bool:
    """Return whether nothing says that the drum could not be seen: enough for what was found."""
    return ear.drum_seen != "none" and ear.examined is not False


def drum_in_full_view(ear: Ear) -> bool:
    """Return whether the drum is recorded as seen in full: nothing less shows that it is clear."""
    return ear.drum_seen == "full" and ear.examined is not False


def hearing_was_tested(ear: Ear) -> bool:
    """Return whether hearing was measured or screened with a result."""
    if ear.hearing_dB is not None and four_frequency_average(ear.hearing_dB) is not None:
        return True
    return ear.hearing_screen in ("passed", "not_passed")


def tried_at_an_object(ear: Ear) -> bool:
    """Return whether what did not come out was an object, with no wax recorded beside it."""
    no_wax = ear.wax_found in (None, "none") and ear.wax_left in (None, "none")
    return no_wax and ear.foreign_body not in (None, "none")


def clears_an_object(ear: Ear) -> bool:
    """Return whether what was cleared was an object, which says nothing of wax."""
    object_in = ear.foreign_body not in (None, "none")
    return object_in and ear.clearance == "cleared" and ear.wax_left is None


def cleared_of_wax(ear: Ear) -> bool:
    """Return whether the ear was cleared, and not merely of an object."""
    return ear.clearance == "cleared" and not clears_an_object(ear)


def wax_stays(ear: Ear) -> bool:
    """Return whether the ear was left blocked by wax, or what was tried did not come out."""
    return ear.wax_left == "occluding" or ear.clearance == "failed"


def wax_lies_in(ear: Ear) -> bool:
    """Return whether wax is in the way at the end of a look: left so, or found and not cleared."""
    if ear.wax_left is not None:
        return ear.wax_left in ("partial", "occluding")
    if ear.clearance == "failed":
        return not tried_at_an_object(ear)
    return ear.wax_found in ("partial", "occluding") and ear.clearance != "cleared"


def wax_was_left_alone(ear: Ear, before: bool) -> bool:
    """Return whether wax in the way was found and nobody tried to take it out, as drops come first.

    A visit that recorded nothing of wax leaves it as it was `before`.
    """
    if ear.wax_found is None and ear.clearance is None and ear.wax_left is None:
        return before
    if ear.wax_found not in ("partial", "occluding") or ear.wax_left in ("none", "some"):
        return False
    hidden = ear.clearance is None and ear.drum_seen == "none"
    return hidden or ear.clearance == "not_attempted"


def suction_was_used(ear: Ear) -> bool:
    """Return whether the ear was cleared, or was tried to be, by suction.

    Where nobody recorded by what, suction is meant: thresholds can be down for days after it.
    """
    if ear.clearance in ("cleared", "failed"):
        return ear.clearance_by in (None, "suction")
    return ear.clearance_by == "suction"


def lowered_by_suction(ear: Ear, used_before: date | None, on: date) -> bool:
    """Return whether suction of the day, or of the week before it, may have lowered hearing.

    It shifts thresholds for some days (Cronin and Zhao, Int J Audiol 2020;59:713-8); that it is
    over after a week is common practice.
    """
    used = on if suction_was_used(ear) else used_before
    return used is not None and on - used < SUCTION_LASTS


def was_opened(ear: Ear) -> bool:
    """Return whether the drum had a hole or a grommet, or the ear was operated on."""
    hole = ear.perforation not in (None, "none")
    grommet = ear.grommet not in (None, "none") or ear.grommet_on is not None
    return hole or grommet or ear.cavity is True
