"""Looking through history: what is read for the screen, and the sheets of the answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil
from typing import TYPE_CHECKING, Any

from textual.content import Content

from recall.care.services import SERVICES
from recall.schedule.plan import BECAUSE_WORDS
from tui.dialogs.form import Checks, Field, Form, Values
from tui.manager.lists import labelled, right
from tui.widgets.row_list import Part
from tui.words.signs import LOUDNESS, URGENCY_KINDS, URGENCY_WORDS, words
from tui.words.text import full_day, several

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.plans.changeover import OldKind, OldLine
    from recall.desk.plans.confirming import PlanLine
    from recall.desk.plans.looking_through import Answer, What

MOST_KINDS = 30
SHOWN = 6
"""How many a sheet names; the picked lines of the list are all of them."""
_WHERE = Field("where", "Where", needed=True, hint="a clinic, a ward, a practice")
_WHEN = Field("when", "When", needed=True, hint="2025-03-14, or 2025-03 where the day is not known")
_WHY = Field("why", "More words", hint="needed for clinical judgement")
_CONSIDERED = Field(
    "considered", "Children: considered?", "choice", choices=(("no", "no"), ("yes", "yes"))
)
TITLES: dict[What, str] = {
    "still_open": "Still open",
    "done": "Was done",
    "not_needed": "Not needed",
    "under_care": "Under somebody's care",
}


@dataclass(frozen=True)
class PlanRow:
    """A plan that waits to be confirmed, of somebody of whom no history is shown."""

    plan: PlanLine
    reference: str
    number: int


@dataclass(frozen=True)
class Shown:
    """What is on the screen."""

    rows: tuple[OldLine | PlanRow, ...]
    says: str
    left: int = 0
    """All that is not looked through yet."""
    portions_done: int = 0
    """As many portions as were answered today, a begun one too; a group may be many at once."""


def portion(desk: Desk, *, more: int) -> Shown:
    """Return today's portion; where it leaves room, the plans that wait to be confirmed."""
    from recall.desk.plans import changeover, confirming

    found = changeover.portion(desk, more)
    room = found.a_day * (1 + more) - found.answered_today - len(found.lines)
    rows: list[OldLine | PlanRow] = [*found.lines]
    if room > 0 and found.left == len(found.lines):
        known = {line.reference for line in found.lines}
        plans = confirming.plans(desk, room + len(known))
        rows += [_plan(p) for p in plans if p.reference not in known][:room]
    told = f"{found.left:,} to be looked through, {len(found.lines)} of them here"
    says = f"{told}; {found.answered_today} answered today, of {found.a_day} a day."
    return Shown(tuple(rows), says, found.left, ceil(found.answered_today / found.a_day))


def of_kind(desk: Desk, *, kind: str) -> Shown:
    """Return everything of one kind."""
    from recall.desk.plans import changeover

    lines = changeover.of_kind(desk, kind)
    return Shown(lines, f"{kind}: {len(lines):,}, all that are alike. * picks them all.")


def kinds(desk: Desk) -> Sequence[OldKind]:
    """Return the kinds of things in history, the most dangerous first."""
    from recall.desk.plans import changeover

    return changeover.kinds(desk)[:MOST_KINDS]


def confirm(desk: Desk, *, references: Sequence[str]) -> str:
    """Confirm the plans of some people; say how many visits that is."""
    from recall.desk.plans import confirming

    done = confirming.confirm_people(desk, references)
    return f"Confirmed: {several(done, 'visit')} of {', '.join(references)}."


def store(desk: Desk, *, lines: Sequence[OldLine], given: Answer) -> str:
    """Answer some things; say what it came to."""
    from recall.desk.plans import looking_through

    versions = {line.ask: line.version for line in lines}
    done = looking_through.answer(desk, list(versions), given, versions)
    if len(lines) == 1:
        return f"{done[0].person_ref}: {done[0].words}"
    ends = looking_through.ends_words(sum(each.ends for each in done))
    return " ".join(filter(None, (f"{len(lines)} answered: {given.words()}.", ends)))


def _plan(plan: PlanLine) -> PlanRow:
    return PlanRow(plan, plan.reference, plan.person_id + 1_000_000_000)


def sheet(what: What, lines: Sequence[OldLine]) -> Form:
    """Return the sheet of an answer about some lines."""
    asked = {
        "still_open": [],
        "done": [_WHERE, _WHEN],
        "not_needed": [Field("because", "Because", "choice", choices=_REASONS), _WHY],
        "under_care": [Field("of", "Whose", "choice", choices=_SERVICES), _WHY],
    }
    fields: list[Field] = [*asked[what]]
    if what == "not_needed" and any(line.child for line in lines):
        fields.append(_CONSIDERED)
    if len(lines) > 1:
        hint = f"type {len(lines)}, if it is all of them that you mean"
        fields.append(Field("count", "About how many", "number", hint=hint, needed=True))
    told = [f"{line.reference}  {line.name}: {line.what}" for line in lines[:SHOWN]]
    if len(lines) > SHOWN:
        told.append(f"… and {len(lines) - SHOWN} more, picked on the list.")

    def answer(desk: Desk, values: Values) -> str:
        return store(desk, lines=lines, given=_given(what, values))

    def check(values: Values) -> str:
        if "count" in values and values["count"] != len(lines):
            return f"It is about {len(lines)}, not {values['count']}: look at the list again."
        return ""

    return Form(TITLES[what], fields, answer, lines=told, does="Answer", checks=Checks(check))


_REASONS = tuple(BECAUSE_WORDS.items())
_SERVICES = tuple((to, said.short) for to, said in SERVICES.items())


def _given(what: What, values: Mapping[str, Any]) -> Answer:
    """Return what a sheet says."""
    from recall.desk.plans.looking_through import Answer

    told = {n: values[n] for n in ("where", "when", "why", "because", "of") if values.get(n)}
    return Answer(what, considered=values.get("considered") == "yes", **told)


def draw(row: OldLine | PlanRow, width: int) -> Sequence[Part]:
    """Return one line: how urgent, whose, what was asked for, and when."""
    if isinstance(row, PlanRow):
        kind, urgency = URGENCY_KINDS.get(row.plan.urgency, ""), row.plan.urgency
        born, name = row.plan.born, row.plan.name
        what = f"plan to be confirmed: {several(len(row.plan.asks), 'ask')}"
        asked_on = row.plan.last_visit_on
    else:
        kind, urgency = URGENCY_KINDS.get(row.urgency, ""), row.urgency
        born, name, what, asked_on = row.born, row.name, row.what, row.asked_on
    sign = f"{LOUDNESS.get(urgency, ' ')} {words(URGENCY_WORDS, urgency)}"
    names = max(12, (width - 12 - 12 - 13) * 2 // 5)
    return [
        (sign, 12, kind),
        (name, names, ""),
        *right(full_day(born), 12, ""),
        ("", 1, ""),
        (what, max(12, width - 12 - names - 12 - 13 - 1), "lead"),
        *right(full_day(asked_on), 13, "quiet"),
    ]


def more(row: OldLine | PlanRow, today: date, width: int) -> list[Content]:
    """Return everything else about a line."""
    if isinstance(row, PlanRow):
        plan = row.plan
        asks = " ".join(f"{a.urgency}, {a.ear} ear, by {a.latest}: {a.says}" for a in plan.asks)
        who = f"{plan.reference}, {plan.name}, {several(plan.visits, 'visit')} not confirmed"
        told = [("Who", who), ("Asks", asks or "nothing is open")]
        if plan.alarm:
            told.append(("Mind", f"! a note speaks of {plan.alarm}"))
        return labelled([*told, *(("Note", " ".join(note.split())) for note in plan.notes)], width)
    asked = f"asked for on {full_day(row.asked_on)}, by {full_day(row.latest)}; nobody looked yet"
    waits = f"{several(row.unconfirmed, 'visit')} not confirmed: f" if row.unconfirmed else ""
    who = f"{row.reference}, {row.name}, born {full_day(row.born)}, {row.postcode or '—'}"
    told = [("Who", who), ("Asked", f"{row.what}: {asked} ({row.kind})"), ("Known", row.known)]
    mind = " ".join(filter(None, (row.contact_stopped, *row.warnings, waits)))
    return labelled([*told, ("Then", row.clinical), ("Mind", mind)], width)
