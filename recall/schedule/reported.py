"""What was told at a visit, as it counts for each ear."""

from __future__ import annotations

from datetime import date, timedelta

from recall.care.case import Reported, Visit
from recall.care.course import BLOCKING_WAX
from recall.care.dates import resolve
from recall.care.ear import Ear, Side
from recall.protocol.context import ANY_OF
from recall.protocol.onset import Onset
from recall.schedule.explained import explains
from recall.schedule.known import last_day

EXPLAINED = "loss_explained"
PAIN = frozenset(ANY_OF["any_pain"])
CONCERN = frozenset({"hearing_concern"})
DIFFICULTY = CONCERN | {"worsening_hearing_loss"}
BLOCKED = frozenset({"blocked_feeling"})
WAX_CAUSES = CONCERN | BLOCKED
NEW = timedelta(days=3)
"""What came on or began within as long may be a sudden loss: NICE NG98 (2018) 1.1.2."""


def reports_of(
    visit: Visit,
    side: Side,
    ears: tuple[Ear | None, Ear | None],
    of_other: frozenset[str],
    sure: bool,
) -> dict[str, Onset]:
    """Return what was reported for an ear, each word the way that asks for more.

    `ears` are this one and the other; `of_other` are words that belong to the other one where
    nobody said of which ear they were told. `sure` is how strictly a loss counts as explained.
    """
    found: dict[str, Onset] = {}
    for item in visit.reported:
        if isinstance(item, str):
            if item != EXPLAINED and item not in of_other:
                found.setdefault(item, Onset())
        elif item.ear is None and item.what in of_other and not _is_new_blockage(item, visit.on):
            continue
        elif item.ear in (None, side) and (item.what != EXPLAINED or explains(item, *ears, sure)):
            told = _onset(item, visit.on)
            found[item.what] = found[item.what].strictest(told) if item.what in found else told
    return found


def of_other_ear(
    ear: Ear | None, other: Ear | None, told: frozenset[str], sure: bool
) -> frozenset[str]:
    """Return what of all that was told belongs to the other ear where nobody said of which.

    Pain is of the ear that is infected, where just one is and nothing else in this one may hurt. A
    concern about hearing is of the ear that hears better once its wax is out, where nothing was
    cleared from this one and it is seen to be free: common practice, no source; NICE QS185
    statement 4 (difficulty that wax causes needs no assessment). So is a blocked feeling of the
    ear that wax blocks, from the first day of `sure` on.
    """
    found: frozenset[str] = frozenset()
    if told & PAIN and _is_infected(other) and not _may_hurt(ear):
        found = PAIN
    if not told & WAX_CAUSES or other is None or not _is_free(ear):
        return found
    if other.hearing_after == "better":
        found |= told & CONCERN
    blocked = other.wax_found in BLOCKING_WAX or other.wax_left in BLOCKING_WAX
    return found | (told & BLOCKED) if sure and blocked else found


def _is_free(ear: Ear | None) -> bool:
    """Return whether an ear was seen to be free of wax and normal, with nothing done to it."""
    if ear is None:
        return False
    free = ear.wax_found in ("none", "some") and ear.wax_left in (None, "none", "some")
    untouched = ear.clearance in (None, "not_attempted")
    seen = ear.drum_seen == "full" and ear.effusion in (None, "absent")
    return free and untouched and seen and ear.hearing_after is None and not _may_dull(ear)


def _is_new_blockage(item: Reported, on: date) -> bool:
    """Return whether a blocked feeling may be a sudden loss: then it is of either ear."""
    if item.what not in BLOCKED:
        return False
    began = None if item.since is None else last_day(item.since, on)
    quick = item.onset_days is not None and item.onset_days <= NEW.days
    return quick or (began is not None and on - began <= NEW)


def _may_dull(ear: Ear) -> bool:
    """Return whether anything else was found in an ear that may lower its hearing."""
    hole = ear.perforation not in (None, "none") or ear.grommet not in (None, "none")
    drawn_in = (ear.tensa_grade or 0) > 1 or (ear.attic_grade or 0) > 1
    return hole or drawn_in or ear.cavity is True or _may_hurt(ear)


def told_at(visit: Visit) -> frozenset[str]:
    """Return the words of all that was told at a visit, of whichever ear."""
    if not visit.reported:
        return frozenset()
    return frozenset([r if isinstance(r, str) else r.what for r in visit.reported])


def is_told(visit: Visit, side: Side, words: frozenset[str]) -> bool:
    """Return whether one of some words was told of an ear, or of none by name."""
    return any(
        item in words if isinstance(item, str) else item.what in words and item.ear in (None, side)
        for item in visit.reported
    )


def _is_infected(ear: Ear | None) -> bool:
    if ear is None:
        return False
    ill = ear.canal_skin in ("inflamed", "fungal") or ear.bulging or ear.bullae
    return bool(ill or ear.canal_swollen_shut or ear.cellulitis or ear.mastoid_swelling)


def _may_hurt(ear: Ear | None) -> bool:
    """Return whether anything that may hurt was found in an ear, or hides what may."""
    if ear is None:
        return False
    signs = (ear.red, ear.granulation, ear.polyp, ear.keratin, ear.attic_crust, ear.scutum_erosion)
    words = (ear.discharge, ear.foreign_body, ear.mass_behind_drum)
    found = any(signs) or any(word not in (None, "none") for word in words)
    return found or ear.drum_seen == "none" or ear.pinna_lesion is True or _is_infected(ear)


def _onset(item: Reported, on: date) -> Onset:
    onset = item.onset_days
    if item.since is None:
        return Onset(onset_days=onset, sure_onset_days=onset)
    return Onset(resolve(item.since, on).on, last_day(item.since, on), onset, onset)
