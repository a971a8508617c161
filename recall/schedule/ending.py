"""What ends beside what a visit answers: a tail of what is gone, what others told, an early look.

Nothing here closes what a worse finding would have kept open: each needs a thing documented as
gone, tested, or no worse than before.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date

from recall.care.case import ToldByOthers, Track, Visit
from recall.care.course import Course
from recall.care.ear import Ear, Side
from recall.care.one_look import drum_in_full_view, wax_stays
from recall.care.tympanogram import classify
from recall.protocol.loading import Protocol
from recall.schedule.answering import missing
from recall.schedule.one_place import in_one_place
from recall.schedule.plan import Due

QUIET_TRACES = ("A", "C1")
"""A trace done elsewhere answers with one of these alone: any other is looked into here."""
EARLY = 4
"""A look that comes this part of the days from anchor to target early answers: a quarter."""
VIEWS = frozenset({"view-adult", "view-child"})
"""Second looks for a drum that was not seen: one that wax hides is a wax problem."""
WORSE_DB = 10
"""A mean that is worse by as much is worse, as the protocol's own rules have it."""


def restrained(protocol: Protocol, on: date) -> bool:
    """Return whether a day is judged by the readings that came with the second protocol."""
    since = protocol.file.restrained_from
    return since is not None and since <= on


def gives_way(protocol: Protocol, on: date) -> bool:
    """Return whether a try gives way, on a day, to who sees into that ear, and a test to a test."""
    since = protocol.file.gives_way_from
    return since is not None and since <= on


def lacking(due: Due, ear: Ear | None, on: date, protocol: Protocol) -> tuple[str, ...]:
    """Return what a visit did not look at of what a due needs.

    Fluid that was seen behind the whole drum needs no trace beside it.
    """
    found = missing(due.needs, ear)
    if found == ("trace",) and ear is not None and in_one_place(protocol, on):
        seen = ear.effusion == "present" and drum_in_full_view(ear)
        return () if seen else found
    return found


def fluid_is_gone(ear: Ear | None, course: Course) -> bool:
    """Return whether fluid is documented gone, the whole drum seen, and no loss was measured."""
    if ear is None or ear.effusion != "absent" or not drum_in_full_view(ear):
        return False
    return course.loss_since is None and not course.screens_failed


def of_fluid_alone(due: Due, protocol: Protocol) -> bool:
    """Return whether nothing but fluid asked for a due."""
    return due.kind == "recheck" and protocol.of_fluid.issuperset({due.rule, *due.beaten})


NOT_KNOWN = frozenset({"grommet-not-tested-here"})
"""Rules that ask for a test only because nobody knows of one, counted from the visit."""


def of_unknown_test(due: Due, protocol: Protocol) -> bool:
    """Return whether a test is due only because none was known of: any test answers it."""
    if due.needs != ("hearing",):
        return False
    if NOT_KNOWN.issuperset({due.rule, *due.beaten}):
        return True
    asks = protocol.asks.get((due.rule, due.rule_version))
    return asks is not None and asks.never is not None and due.counted_from == due.asked_on


def told_answers(due: Due, told: ToldByOthers, on: date, protocol: Protocol) -> bool:
    """Return whether what others told, within a due's window, is what the due is about."""
    if due.kind != "recheck" or due.ear != told.ear:
        return False
    if on < due.earliest and not of_unknown_test(due, protocol):
        return False
    if due.needs == ("hearing",):
        return bool(told.hearing_dB or told.hearing_tested)
    if due.needs == ("trace",) and told.tympanogram is not None:
        return classify(told.tympanogram, child=False).letter in QUIET_TRACES
    return due.track == "fluid" and due.needs == ("fluid",) and told.effusion is not None


def visit_told(told: ToldByOthers, on: date) -> Visit:
    """Return what others told as a visit that saw no more: a trace asks like one of our own."""
    if told.tympanogram is None:
        return Visit(on=on)
    ear = Ear(tympanogram=told.tympanogram)
    return Visit(on=on, right=ear) if told.ear == "right" else Visit(on=on, left=ear)


def early_enough(due: Due, on: date) -> bool:
    """Return whether a look before a window opens is at most a quarter of its days early."""
    early, days = (due.earliest - on).days, (due.target - due.counted_from).days
    return due.asked_on < on and EARLY * early <= days


def comes_early(due: Due, ear: Ear, course: Course, on: date, protocol: Protocol) -> bool:
    """Return whether a look comes early, but not too early, and finds nothing worse."""
    if of_unknown_test(due, protocol):
        return True
    return early_enough(due, on) and as_it_should_be(due, ear, course)


def as_it_should_be(due: Due, ear: Ear, course: Course) -> bool:
    """Return whether a look found what a due watches no worse than it was known to be."""
    no_worse = _NO_WORSE.get(due.track)
    return no_worse is not None and no_worse(ear, course)


def _no_worse_hearing(ear: Ear, course: Course) -> bool:
    drop = course.hearing_drop
    return ear.hearing_screen != "not_passed" and drop is not None and drop < WORSE_DB


def _no_worse_grades(ear: Ear, course: Course) -> bool:
    steps = [g.step for g in (course.tensa, course.attic) if g.step is not None]
    graded = [g for g in (ear.tensa_grade, ear.attic_grade) if g is not None]
    return len(steps) == len(graded) > 0 and max(steps) <= 0 and max(graded) <= 2


def _in_place(ear: Ear, course: Course) -> bool:
    return ear.grommet == "in_place"


def _quiet(ear: Ear, course: Course) -> bool:
    return ear.cavity_quiet is True


_NO_WORSE: Mapping[Track, Callable[[Ear, Course], bool]] = {
    "hearing": _no_worse_hearing,
    "surveillance": _no_worse_hearing,
    "retraction": _no_worse_grades,
    "grommet": _in_place,
    "cavity": _quiet,
}
"""What shows that a thing is as it should be; a hole and a drum at large have their own day."""


def tails(
    open_dues: Iterable[Due],
    ears: Mapping[Side, Ear | None],
    courses: Mapping[Side, Course],
    protocol: Protocol,
) -> Iterator[Due]:
    """Yield the dues that fluid alone asked for, in ears where a visit found it gone."""
    gone = {side for side, ear in ears.items() if fluid_is_gone(ear, courses[side])}
    for due in open_dues:
        if due.ear in gone and of_fluid_alone(due, protocol):
            yield due


def hidden_by_wax(open_dues: Iterable[Due], ears: Mapping[Side, Ear | None]) -> Iterator[Due]:
    """Yield the second looks for a drum that a visit found hidden by wax, which stayed in."""
    hidden = {s for s, e in ears.items() if e and e.drum_seen == "none" and wax_stays(e)}
    for due in open_dues:
        looks = {due.rule, *due.beaten} - {"retry"}
        if due.ear in hidden and due.track == "view" and due.kind != "loop" and looks <= VIEWS:
            yield due
