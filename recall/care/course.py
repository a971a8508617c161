"""The history of one ear: clocks, counts and grades, brought on visit by visit.

A clock starts at the first documented finding of an episode, goes on through visits at
which the thing was not seen or not recorded, and ends only when it is documented gone: for
what is on the drum or behind it, with the drum recorded as seen in full.
"""

from __future__ import annotations

from datetime import date, timedelta
from itertools import chain
from operator import attrgetter

import msgspec

from recall.care.case import ToldByOthers
from recall.care.catalogue import CATALOGUE
from recall.care.dates import add, resolve
from recall.care.ear import Ear
from recall.care.episodes import with_day
from recall.care.grades import WORSE_FROM_DB, Grades
from recall.care.hearing import air_bone_gap, four_frequency_average, high_tone_average
from recall.care.one_look import (
    cleared_of_wax,
    drum_in_full_view,
    drum_in_view,
    hearing_was_tested,
    lowered_by_suction,
    suction_was_used,
    tried_at_an_object,
    was_opened,
    wax_stays,
)

OPEN_PERFORATIONS = frozenset({"central", "marginal", "attic"})
BLOCKING_WAX = frozenset({"partial", "occluding"})
LITTLE_WAX = frozenset({"none", "some"})
LOSS_FROM_DB = 20
"""Four-frequency mean from which there is a loss: WHO, World report on hearing 2021."""
INFECTED_SKIN = frozenset({"inflamed", "fungal"})
SUSPECTED_LONG = timedelta(weeks=6)
"""Found as late as this after the first look, suspected fluid was there from the first on:
common practice, no source."""


_AGAINST_DROPS = {n: f.signs["no_drops"] for n, f in CATALOGUE.items() if "no_drops" in f.signs}
"""Findings for which an ear is given no drops, with their values."""
_AGAINST_VALUES = frozenset(chain(*_AGAINST_DROPS.values()))
"""The same at one go: a word against drops in one of these is so in every other that has it."""
_may_be_against = attrgetter(*_AGAINST_DROPS)


class Course(msgspec.Struct):
    """One ear up to and including the visit in hand."""

    fluid_since: date | None = None
    fluid_found_since: date | None = None
    """The first look of this episode at which it was suspected or present."""
    fluid_visits: int = 0
    hearing_on: date | None = None
    hearing_last: float | None = None
    measured_on: date | None = None
    """The last day on which levels were measured, other than within a week of suction."""
    hearing_settled: float | None = None
    """As `hearing_last`, but a worse level within a week of suction does not take its place."""
    high_tones_last: float | None = None
    loss_since: date | None = None
    """The first test with a loss since the last one without."""
    mean_today: float | None = None
    """This visit's four-frequency mean, in dB HL."""
    gap_today: float | None = None
    """This visit's air-bone gap, in dB."""
    hearing_drop: float | None = None
    """Today's four-frequency mean less the one before, in dB."""
    settled_drop: float | None = None
    """The same, less the last one that suction had not lowered."""
    gap_last: float | None = None
    gap_growth: float | None = None
    """Today's air-bone gap less the one before (or 0), in dB."""
    tensa: Grades = msgspec.field(default_factory=Grades)
    attic: Grades = msgspec.field(default_factory=Grades)
    failed_clearances: int = 0
    failed_visits: int = 0
    """Visits in a row that left the ear blocked by wax, today's included."""
    left_visits: int = 0
    """Visits in a row, none half a year after the last, that left wax in the way, even in part."""
    left_on: date | None = None
    blockages_on: tuple[date, ...] = ()
    """As `wax_blocked_on`, without visits that found the wax which the one before had left."""
    wax_waits: bool = False
    """Whether the last visit found wax in the way that nobody tried to take out."""
    cleared_on: date | None = None
    """The last visit at which this ear was cleared, or was tried to be."""
    suction_on: date | None = None
    """The last visit at which suction was used in this ear."""
    wax_blocked_on: tuple[date, ...] = ()
    """Days of the last 12 months on which wax was partial or occluding."""
    screens_failed: int = 0
    """Hearing screens in a row that were not passed or could not be done."""
    object_visits: int = 0
    """Visits in a row, none half a year after the last, that left an object in the canal."""
    object_on: date | None = None
    unseen_visits: int = 0
    pus_hid_visits: int = 0
    grommet_on: date | None = None
    blocked_visits: int = 0
    grommet_looked_on: date | None = None
    grommet_seen_since: date | None = None
    """The first visit that found this grommet in the drum."""
    grommet_out_since: date | None = None
    """The first visit that found the grommet in the canal or gone."""
    perforation_since: date | None = None
    new_hole_since: date | None = None
    """As `perforation_since`, unless the hole was recorded as an old one then."""
    perforation_visits: int = 0
    """Earlier visits of this episode at which the hole was seen open."""
    hole_quiet: int = 0
    """Looks in a row, each half a year or more after the last that counts, that found the hole dry
    and hearing no worse."""
    hole_quiet_on: date | None = None
    discharge_since: date | None = None
    canal_ill_on: tuple[date, ...] = ()
    """Days of the last 12 months on which the canal was infected."""
    acute_on: tuple[date, ...] = ()
    """Days of the last 12 months on which the middle ear was acutely infected."""
    skin_since: date | None = None
    fungal_since: date | None = None
    aid_fitted_on: date | None = None
    loss_treated_on: date | None = None
    """When the treatment of a sudden loss of this ear ended."""
    concern_on: date | None = None
    """The last visit at which a concern about hearing was told for this ear."""
    difficulty_on: date | None = None
    """The last visit at which such a concern, or that hearing got worse, was told."""
    concern_waits_on: date | None = None
    """The last of these at which wax stayed in the ear, until hearing is better or tested."""
    not_whole_since: date | None = None
    """The first day on which a hole, a grommet, a cavity or an operation is on record: for good."""
    against_drops_on: date | None = None
    """The last visit that found something for which an ear is given no drops."""
    trace_of_hole_on: date | None = None
    """The last trace that was read as one of a hole, until the drum was seen in full and whole."""
    told: bool = False
    """Whether somebody else's finding stands in one of the clocks."""

    def see(self, ear: Ear, on: date, examiner: str | None, *, untried: bool = False) -> None:
        """Take in one visit's findings of this ear; wax that nobody tried at is no failed try."""
        in_view, in_full = drum_in_view(ear), drum_in_full_view(ear)
        if in_view or ear.effusion == "suspected":
            self._see_fluid(ear, on, in_full)
        if in_view:
            self._see_perforation(ear, on, in_full)
        self.tensa.step = self.attic.step = None
        self._see_hearing(ear, on)
        if self.concern_waits_on is not None:
            self._see_concern(ear)
        self._see_against_drops(ear, on)
        if ear.tensa_grade is not None:
            self._see_grade(self.tensa, ear.tensa_grade, ear, examiner)
        if ear.attic_grade is not None:
            self._see_grade(self.attic, ear.attic_grade, ear, examiner)
        self._see_wax(ear, on, untried)
        self._see_view(ear)
        self._see_object(ear, on)
        if ear.grommet is not None or ear.grommet_on is not None:
            self._see_grommet(ear, on)
        self._see_discharge(ear, on)
        if self.perforation_since is not None or self.hole_quiet:
            self._see_quiet_hole(ear, on)
        if ear.canal_skin is not None:
            self._see_skin(ear, on)
        self._see_infections(ear, on)
        self._see_days(ear, on)

    def hear_concern(self, ear: Ear | None, on: date) -> None:
        """Take in a concern about hearing of this ear, told at a visit."""
        self.concern_on = on
        if ear is not None and wax_stays(ear):
            self.concern_waits_on = on

    def forget_today(self) -> None:
        """Drop what belongs to one visit only, for an ear that this visit did not look at."""
        self.tensa.step = self.attic.step = None
        self._forget_levels()

    def _forget_levels(self) -> None:
        self.mean_today = self.gap_today = self.gap_growth = None
        self.hearing_drop = self.settled_drop = None

    def hear(self, told: ToldByOthers, on: date) -> None:
        """Take in something documented elsewhere, dated `on`."""
        self.told = True
        if told.surgery is not None or told.grommet_on is not None:
            self.not_whole_since = min(on, self.not_whole_since or on)
        if told.effusion == "present" and self.fluid_since is None:
            self.fluid_since = on
        elif told.effusion == "absent":
            self._fluid_gone()
        if told.hearing_dB is not None:
            average = four_frequency_average(told.hearing_dB)
            if average is not None and (self.hearing_on is None or on >= self.hearing_on):
                self.hearing_on, self.hearing_last = on, average
                self.hearing_settled, self.measured_on = average, on
                self.high_tones_last = high_tone_average(told.hearing_dB)
                self._see_loss(average, on)
        elif told.hearing_tested:
            self.hearing_on = max(on, self.hearing_on or on)
        if told.grommet_on is not None:
            self._insert_grommet(resolve(told.grommet_on, on).on)

    def hand_back_wax(self) -> None:
        """Count anew how often wax is left: it came out, is another's no more, or is a new one."""
        self.left_visits, self.left_on = 0, None

    def _see_fluid(self, ear: Ear, on: date, in_full: bool) -> None:
        if ear.effusion == "absent":
            if in_full:
                self._fluid_gone()
        elif ear.effusion is not None:
            self.fluid_visits += 1
            first = self.fluid_found_since = self.fluid_found_since or on
            if ear.effusion == "present" and self.fluid_since is None:
                self.fluid_since = on
            if on - first >= SUSPECTED_LONG:
                self.fluid_since = min(first, self.fluid_since or first)

    def _fluid_gone(self) -> None:
        self.fluid_since = self.fluid_found_since = None
        self.fluid_visits = 0

    def _see_perforation(self, ear: Ear, on: date, in_full: bool) -> None:
        if ear.perforation in ("none", "healed"):
            if in_full:
                self.perforation_since = self.new_hole_since = self.trace_of_hole_on = None
                self.perforation_visits = 0
        elif ear.perforation is not None:
            if self.perforation_since is None:
                self.perforation_since, self.perforation_visits = on, 0
                self.new_hole_since = None if ear.perforation_new is False else on
            else:
                self.perforation_visits += 1

    def _see_quiet_hole(self, ear: Ear, on: date) -> None:
        """Count the looks at an open hole that found it quiet; one that did not begins anew."""
        worse = self.hearing_drop is not None and self.hearing_drop >= WORSE_FROM_DB
        if self.perforation_since is None or self.discharge_since is not None or worse:
            self.hole_quiet, self.hole_quiet_on = 0, None
        elif ear.perforation in OPEN_PERFORATIONS and ear.discharge == "none":
            last = self.hole_quiet_on
            if last is None or on >= add(last, months=6):
                self.hole_quiet, self.hole_quiet_on = self.hole_quiet + 1, on

    def _see_hearing(self, ear: Ear, on: date) -> None:
        self._forget_levels()
        if ear.hearing_dB is None and ear.hearing_screen is None:
            return
        if ear.hearing_dB is not None:
            self._see_audiogram(ear, on)
        if self.mean_today is not None or ear.hearing_screen in ("passed", "not_passed"):
            self.hearing_on = on
        if self.mean_today is not None or ear.hearing_screen == "passed":
            self.screens_failed = 0
        elif ear.hearing_screen is not None:
            self.screens_failed += 1

    def _see_against_drops(self, ear: Ear, on: date) -> None:
        since = self.not_whole_since
        if (since is None or on < since) and was_opened(ear):
            self.not_whole_since = on
        if not _AGAINST_VALUES.isdisjoint(_may_be_against(ear)):
            self.against_drops_on = on

    def _see_concern(self, ear: Ear) -> None:
        if ear.hearing_after == "better" or hearing_was_tested(ear):
            self.concern_waits_on = None

    def _see_audiogram(self, ear: Ear, on: date) -> None:
        average = self.mean_today = four_frequency_average(ear.hearing_dB)
        if average is not None:
            if self.hearing_last is not None:
                self.hearing_drop = average - self.hearing_last
            self._see_settled(average, ear, on)
            self.hearing_last, self.high_tones_last = average, high_tone_average(ear.hearing_dB)
            self._see_loss(average, on)
        if ear.bone_dB is not None:
            gap = self.gap_today = air_bone_gap(ear.hearing_dB, ear.bone_dB)
            if gap is not None:
                self.gap_growth = gap - (self.gap_last or 0)
                self.gap_last = gap

    def _see_settled(self, average: float, ear: Ear, on: date) -> None:
        """Compare with the last level that suction had not lowered; keep today's if no worse."""
        before = self.hearing_settled
        self.settled_drop = None if before is None else average - before
        lowered = lowered_by_suction(ear, self.suction_on, on)
        self.measured_on = self.measured_on if lowered else on
        if before is None or average <= before or not lowered:
            self.hearing_settled = average

    def _see_loss(self, average: float, on: date) -> None:
        self.loss_since = (self.loss_since or on) if average >= LOSS_FROM_DB else None

    def _see_wax(self, ear: Ear, on: date, untried: bool) -> None:
        failed = ear.clearance == "failed" and not tried_at_an_object(ear)
        out = ear.wax_left in LITTLE_WAX or cleared_of_wax(ear)
        if ear.wax_found in BLOCKING_WAX:
            if not (self.failed_visits or self.wax_waits):
                self.blockages_on = with_day(self.blockages_on, on)
            self.wax_blocked_on = with_day(self.wax_blocked_on, on)
        if failed:
            self.failed_clearances += max(1, ear.clearance_tries or 1)
        elif out:
            self.failed_clearances = 0
        if failed or ear.wax_left == "occluding":
            self.failed_visits += 1
        elif out:
            self.failed_visits = 0
        if ear.clearance in ("cleared", "failed"):
            self.cleared_on = on
        if suction_was_used(ear):
            self.suction_on = on
        self._see_left(ear, on, failed or (ear.wax_left in BLOCKING_WAX and not untried), out)

    def _see_left(self, ear: Ear, on: date, left: bool, out: bool) -> None:
        if self.left_on is not None and on >= add(self.left_on, months=6):
            self.hand_back_wax()
        if left:
            self.left_visits, self.left_on = self.left_visits + 1, on
        elif out or (ear.wax_found in LITTLE_WAX and ear.wax_left not in BLOCKING_WAX):
            self.hand_back_wax()

    def _see_grade(self, course: Grades, grade: int, ear: Ear, examiner: str | None) -> None:
        """Take in a grade of one part of the drum, once the hearing of the day is taken in."""
        course.see(grade, examiner)
        failed = ear.hearing_screen == "not_passed"
        course.compare(hearing_was_tested(ear), failed, self.mean_today)

    def _see_object(self, ear: Ear, on: date) -> None:
        if ear.clearance == "cleared" or ear.foreign_body == "none":
            self.object_visits, self.object_on = 0, None
        elif ear.foreign_body is not None:
            if self.object_on is not None and on >= add(self.object_on, months=6):
                self.object_visits = 0
            self.object_visits, self.object_on = self.object_visits + 1, on

    def _see_view(self, ear: Ear) -> None:
        if ear.drum_seen in ("full", "part"):
            self.unseen_visits = self.pus_hid_visits = 0
        elif ear.not_examined == "not_attempted":
            return
        elif ear.drum_seen == "none" or ear.examined is False:
            self.unseen_visits += 1
            self.pus_hid_visits = self.pus_hid_visits + 1 if ear.discharge == "purulent" else 0

    def _see_grommet(self, ear: Ear, on: date) -> None:
        if ear.grommet_on is not None:
            self._insert_grommet(resolve(ear.grommet_on, on).on)
        if ear.grommet is None or (ear.grommet == "none" and not drum_in_full_view(ear)):
            return
        inside = ear.grommet in ("in_place", "blocked")
        self.grommet_seen_since = (self.grommet_seen_since or on) if inside else None
        self.grommet_looked_on = on
        self.blocked_visits = self.blocked_visits + 1 if ear.grommet == "blocked" else 0
        out = ear.grommet in ("in_canal", "gone")
        self.grommet_out_since = (self.grommet_out_since or on) if out else None
        if ear.grommet == "none":
            self.grommet_on = None

    def _insert_grommet(self, on: date) -> None:
        """Take in the day of insertion; what was seen before it was another grommet."""
        self.grommet_on = on
        if self.grommet_seen_since is not None and self.grommet_seen_since < on:
            self.grommet_seen_since = None

    def _see_discharge(self, ear: Ear, on: date) -> None:
        if ear.discharge == "none":
            self.discharge_since = None
        elif ear.discharge is not None or ear.discharge_since is not None:
            known = [d for d in (self.discharge_since, on) if d]
            if ear.discharge_since is not None:
                known.append(resolve(ear.discharge_since, on).on)
            self.discharge_since = min(known)

    def _see_days(self, ear: Ear, on: date) -> None:
        """Take in the days told with an ear of which clocks run."""
        if ear.hearing_aid_fitted_on is not None:
            self.aid_fitted_on = resolve(ear.hearing_aid_fitted_on, on).on
        if ear.loss_treated_on is not None:
            self.loss_treated_on = resolve(ear.loss_treated_on, on).on

    def _see_infections(self, ear: Ear, on: date) -> None:
        if ear.canal_skin in INFECTED_SKIN or ear.canal_swollen_shut:
            self.canal_ill_on = with_day(self.canal_ill_on, on)
        if ear.bulging or ear.bullae:
            self.acute_on = with_day(self.acute_on, on)

    def _see_skin(self, ear: Ear, on: date) -> None:
        ill = ear.canal_skin in INFECTED_SKIN
        self.skin_since = (self.skin_since or on) if ill else None
        self.fungal_since = (self.fungal_since or on) if ear.canal_skin == "fungal" else None
