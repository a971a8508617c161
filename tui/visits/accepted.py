"""What is accepted when a visit is closed: each thing once, as new, open already or otherwise."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from recall.schedule.plan import FollowUp
from recall.schedule.plan_lines import Judgement, Line, lines_of
from recall.schedule.reading import as_read
from tui.visits.plan_text import seen_words
from tui.visits.ready import Ready
from tui.words.text import short_day

PLACES = (
    "New", "Second try", "Asked again", "Open already", "Falls away", "Other days", "Struck out",
    "Weighed otherwise",
)  # fmt: skip
"""In this order; a thing stands in one of them alone."""
Told = tuple[str, str]
"""Its place, and the thing in words."""


def accepted_lines(ready: Ready, today: date) -> list[str]:
    """Return what is accepted, ear by ear, each thing in one place."""
    told = sorted(_told(ready, today), key=lambda each: PLACES.index(each[0]))
    return [f"{place}: {words}" for place, words in told]


def _told(ready: Ready, today: date) -> Iterator[Told]:
    read = as_read(ready.plan)
    judged = dict(ready.judged)
    struck = [name for name, made in judged.items() if made.does == "strike"]
    after = [line for line in lines_of(read) if not _is_over(line, judged)]
    after.sort(key=lambda line: _order(line, read.follow_ups))
    tries = {about for line in after for about in _about(line) if _is_try(line)}
    for line in after:
        if not _is_try(line) and tries.issuperset(_about(line)):
            continue
        words = _said(line, today, read.follow_ups)
        if _is_moved(line, ready):
            yield "Other days", words + _by_rule(line, ready, today)
        elif (made := judged.get(line.name)) is not None and made.does == "weigh":
            yield "Weighed otherwise", f"{words}, {made.urgency}"
        else:
            yield _place(line, ready), words
    left = {part[:2] for line in after for part in line.parts()}
    for line in ready.before:
        if line.name not in struck and not any(part[:2] in left for part in line.parts()):
            why = dict(ready.fallen).get(line.name, "")
            yield "Falls away", f"{line.words()}: {why}" if why else line.words()
    asked = {line.name: line.words() for line in lines_of(ready.draft.plan)}
    for name in struck:
        if name in asked:
            more = f" ({judged[name].words})" if judged[name].words else ""
            yield "Struck out", asked[name] + more


def _place(line: Line, ready: Ready) -> str:
    """Return where a line stands that nobody changed by hand."""
    if _is_try(line):
        return "Second try"
    if line.asked_on != ready.draft.visit.on or _stood(line, ready):
        return "Open already"
    before = {about for was in ready.before for about in _about(was)}
    return "New" if before.isdisjoint(_about(line)) else "Asked again"


def _about(line: Line) -> set[tuple[str, str]]:
    """Return what a line is about, ear by ear: where it is referred to, or what is looked at."""
    if line.referral is not None:
        return {(ear, f"to {line.referral.to}") for ear in line.ears}
    return {(due.ear, due.track) for due in line.dues if due.kind != "loop"}


def _is_try(line: Line) -> bool:
    """Return whether it is a second try at what could not be looked at: its own last day stands."""
    return bool(line.dues) and line.dues[0].kind == "retry"


def _is_over(line: Line, judged: Mapping[str, Judgement]) -> bool:
    made = judged.get(line.name)
    return made is not None and made.does == "strike" and made.until is None


def _stood(line: Line, ready: Ready) -> bool:
    """Return whether a line stood so before: an earlier visit of that day may have asked for it."""
    return any(
        (was.name, was.urgency, was.latest) == (line.name, line.urgency, line.latest)
        for was in ready.before
    )


def _is_moved(line: Line, ready: Ready) -> bool:
    """Return whether days of a line were set by hand in this form."""
    moved = {(m.ear, m.track, m.kind) for m in ready.changes if m.action == "move"}
    return any((due.ear, due.track, due.kind) in moved for due in line.dues)


def _by_rule(line: Line, ready: Ready, today: date) -> str:
    """Return the day that a line would have had, where days were set by hand."""
    before = next((each for each in lines_of(ready.draft.plan) if each.name == line.name), None)
    return f"; by rule {short_day(before.dues[0].target, today)}" if before and before.dues else ""


def _order(line: Line, visits: Sequence[FollowUp]) -> tuple[bool, date]:
    """Return where a line stands: what presses first, then by its day."""
    presses_ = line.urgency in ("emergency", "urgent")
    visit = next((v for v in visits if any(due in v.dues for due in line.dues)), None)
    good = line.latest if visit is None else visit.offer_on or visit.target
    return not presses_, good


def _said(line: Line, today: date, visits: Sequence[FollowUp]) -> str:
    """Return a line with its days: those of the one appointment, where it shares that."""
    loud = f"{line.urgency}: " if line.urgency in ("emergency", "urgent") else ""
    if line.referral is not None:
        return (
            f"{loud}{line.words()}, {seen_words(line.urgency, line.latest, line.asked_on, today)}"
        )
    due = line.dues[0]
    visit = next((each for each in visits if due in each.dues), None)
    good = due.target if visit is None else visit.offer_on or visit.target
    when = visit or due
    window = f"{short_day(when.earliest, today)} to {short_day(when.latest, today)}"
    return f"{loud}{line.words()}, {short_day(good, today)} ({window})"
