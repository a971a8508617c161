"""Judging lines of the plan while a visit is typed: strike out, raise, lower, each with a reason.

A line is chosen by its digit and the reason by another. What was judged stays with the form, by
the line's name, and is worked into the plan on every key.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Literal

from recall.care.case import URGENCIES
from recall.care.ear import Ear
from recall.errors import InputError
from recall.schedule.judging import explained_away
from recall.schedule.plan import BECAUSE_WORDS, Because, Decision, Plan
from recall.schedule.plan_lines import Judgement, Line, decided, line_named, lines_of
from tui.dialogs.digits import Digits, Question
from tui.dialogs.form import Field, Form, Values
from tui.ears.form import VisitForm
from tui.words.text import short_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk

Way = Literal["strike", "raise", "lower"]
MOST = 9
"""Lines that a digit can choose."""
TITLES: dict[Way, str] = {
    "strike": "Strike out",
    "raise": "Raise: more urgent",
    "lower": "Lower: less urgent",
}
REASONS: tuple[tuple[str, str], ...] = tuple(BECAUSE_WORDS.items())
TO_RAISE = len(REASONS) - 1
"""From this one on reasons make a line more urgent, too; the others only end one or lower it."""
STRUCK, RAISED, LOWERED = "✗", "↑", "↓"
"""The marks of what was made of a line."""
STANDS = "An emergency stands until something explains it for that ear"


def choices(plan: Plan, way: Way) -> tuple[Line, ...]:
    """Return the lines that may be chosen, as they are shown."""
    lines = lines_of(plan)
    if way == "raise":
        lines = tuple(line for line in lines if line.urgency != URGENCIES[0])
    if way == "lower":
        lines = tuple(line for line in lines if line.urgency != URGENCIES[-1])
    return lines[:MOST]


def sheet(lines: Sequence[Line], way: Way, today: date) -> Digits:
    """Return the two questions: which line, and why."""
    shown = [
        (line.name, f"{line.words()}: {line.urgency}, by {short_day(line.latest, today)}")
        for line in lines
    ]
    first = TO_RAISE if way == "raise" else 0
    why = Question("Why?", REASONS[first:], first=1)
    return Digits(TITLES[way], (Question("Which line?", shown, first=1), why))


def judgement(line: Line, way: Way, because: str, why: str = "") -> Judgement:
    """Return what a choice makes of a line; raised and lowered by one step."""
    reason: Because = next(word for word in BECAUSE_WORDS if word == because)
    if way == "strike":
        return Judgement("strike", reason, why)
    step = URGENCIES.index(line.urgency) + (-1 if way == "raise" else 1)
    return Judgement("weigh", reason, why, urgency=URGENCIES[step])


def stands(form: VisitForm, line: Line, made: Judgement) -> str:
    """Say why an emergency stands all the same; nothing where the line may be judged so.

    Where nothing but the words is missing, these are asked for: see `explains`.
    """
    if line.urgency != "emergency":
        return ""
    told = replace(made, why=made.why or "…")
    for decision in decided(line, told, form.on):
        ears: tuple[Ear, Ear] = (form.right, form.left)
        pair = ears if decision.ear == "right" else ears[::-1]
        tracks = (decision.track or "drum",)
        if not explained_away(line.urgency, tracks, decision, pair, sure=True):
            needs = "better once cleared, both measured well, or a screen passed"
            return f"{STANDS}: {needs}; then reason 3."
    return ""


def explains(form: VisitForm, line: Line, made: Judgement) -> Form:
    """Return the sheet on which it is said what explains an emergency."""
    return _saying(form, line, made, "An emergency", "What explains it, in that ear")


def reasons(form: VisitForm, line: Line, made: Judgement) -> Form:
    """Return the sheet on which a judgement is given in words: the reason of the list says none."""
    return _saying(form, line, made, "Clinical judgement", "Why, in a few words")


def elsewhere(form: VisitForm, line: Line, made: Judgement) -> Form:
    """Return the sheet on which it is said where a thing is known, and when it is seen there."""

    def store(_desk: Desk, values: Values) -> VisitForm:
        seen = values["next_seen"]
        if seen is not None and seen < form.on:
            raise InputError("That day has gone by.", hint="Give the next day there, or none.")
        told = replace(made, where=values["where"], next_seen=seen)
        return with_judged(form, line.name, told)

    fields = [
        Field("where", "Where", needed=True, hint="the clinic or hospital, in a few words"),
        Field("next_seen", "Seen there next", "day", hint="empty where nobody knows"),
    ]
    return Form("Known elsewhere", fields, store, lines=[line.words()], does="Enter Write it")


def _saying(form: VisitForm, line: Line, made: Judgement, title: str, asks: str) -> Form:
    def store(_desk: Desk, values: Values) -> VisitForm:
        return with_judged(form, line.name, replace(made, why=values["why"]))

    field = Field("why", asks, needed=True)
    return Form(title, [field], store, lines=[line.words()], does="Enter Write it")


def with_judged(form: VisitForm, name: str, made: Judgement) -> VisitForm:
    """Return the form with a line judged; a later judgement of the same sort takes its place."""
    kept = [
        (n, j)
        for n, j in form.judged
        if n != name or (j.does != made.does and made.does != "strike")
    ]
    return replace(form, judged=(*kept, (name, made)))


def in_force(form: VisitForm, plan: Plan) -> tuple[tuple[Line, Judgement], ...]:
    """Return what was judged of the lines of a plan as the rules make it."""
    lines = lines_of(plan)
    found = [(line_named(lines, name), made) for name, made in form.judged]
    return tuple(
        (line, made)
        for line, made in found
        if line is not None and (made.does != "weigh" or made.urgency != line.urgency)
    )


def decisions(form: VisitForm, plan: Plan) -> tuple[Decision, ...]:
    """Return what the judgements come to, for the plan as one types."""
    return tuple(d for line, made in in_force(form, plan) for d in decided(line, made, form.on))


def judged_words(form: VisitForm, plan: Plan) -> list[str]:
    """Return what was judged, line by line, in words."""
    return [_words(*each) for each in in_force(form, plan)]


def judged_marked(form: VisitForm, plan: Plan) -> list[str]:
    """Return the same, each behind the mark of what was made of it."""
    return [f"{_mark(*each)} {_words(*each)}" for each in in_force(form, plan)]


def _words(line: Line, made: Judgement) -> str:
    did = "struck out" if made.does == "strike" else f"made {made.urgency}"
    more = f" ({made.words})" if made.words else ""
    return f"{line.words()}: {did}, {BECAUSE_WORDS[made.because]}{more}"


def _mark(line: Line, made: Judgement) -> str:
    if made.does == "strike" or made.urgency is None:
        return STRUCK
    return RAISED if URGENCIES.index(made.urgency) < URGENCIES.index(line.urgency) else LOWERED
