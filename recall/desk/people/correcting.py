"""A name or a birth date put right: from what to what stays in the history, by whom and why.

A changed birth date plans the person again, for rules ask by age; what that changes is shown
before it is stored. What pressed and presses less is seen by a second person, as it is after a
corrected visit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

import msgspec
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act, Next, in_words
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.replanning import decided_by_people
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.drafting import plan_of
from recall.desk.visits.milder import keep_milder
from recall.errors import InputError
from recall.exchange import identifiers
from recall.records import tables
from recall.records.facts.cases import case_for, stands
from recall.records.people.finding import rekey
from recall.schedule.calendar import say_day
from recall.schedule.milder import Milder, milder
from recall.schedule.plan import Plan
from recall.schedule.plan_lines import Line, lines_of

CORRECTED: dict[str, str] = {
    "title": "title",
    "given_names": "given name",
    "family_name": "family name",
    "known_as": "known as",
    "born": "birth date",
    "nhs_number": "NHS number",
}
"""What can be put right, and its words."""


@dataclass(frozen=True)
class Effect:
    """What another birth date would change."""

    changes: tuple[str, ...]
    """Each line of the plan that changes, in words."""
    milder: tuple[Milder, ...]
    """What pressed, and would press less."""


NOTHING = Effect((), ())


@needs(Right.LOOK)
def effect_of(desk: Desk, ref: str, born: date) -> Effect:
    """Return what another birth date would change in somebody's plan; nothing is stored.

    Raises:
        InputError: nobody can have been born then.
    """
    with desk.store.read() as session:
        person = person_row(session, ref)
        _check_born(desk, session, person.id, born)
        return _effect(desk, session, person, born)


@needs(Right.KEEP_PEOPLE)
def correct(desk: Desk, ref: str, version: int | None, why: str = "", **details: Any) -> Next:
    """Put names, birth date or NHS number right: `CORRECTED`.

    Raises:
        InputError: no such detail, one that cannot be, or a birth date without a reason.
        Conflict: somebody else changed the person meanwhile.
    """
    values = _values(details)
    with desk.store.write() as session:
        person = person_row(session, ref, version)
        was = {name: getattr(person, name) for name in values}
        wrong = [name for name in CORRECTED if name in values and values[name] != was[name]]
        if not wrong:
            return Next("Nothing was changed.", person_ref=person.ref)
        effect = NOTHING
        if "born" in wrong:
            required(why, "A birth date is put right for a reason.", hint="Say how it is known.")
            _check_born(desk, session, person.id, values["born"])
            effect = _effect(desk, session, person, values["born"])
        act = Act(desk, session, person.id)
        act.set("person", person.id, **{name: values[name] for name in values if name in was})
        if why.strip():
            act.note(why.strip(), "person", person.id)
        visit = _last_visit(session, person.id)
        if visit is not None:
            keep_milder(act, visit, effect.milder, why)
        rekey(session, [person.id])
        words = _say([CORRECTED[name] for name in wrong], effect, "born" in wrong)
        return act.finish("corrected", words, refold="born" in wrong)


def _say(wrong: list[str], effect: Effect, is_planned: bool) -> str:
    said = [f"Put right: {', '.join(wrong)}."]
    if is_planned:
        changed = f"{'; '.join(effect.changes)}." if effect.changes else "nothing changes."
        said.append(f"Planned again: {changed}")
    if effect.milder:
        said.append("A second person looks at what presses less now (recall line milder).")
    return in_words(said)


def _values(details: dict[str, Any]) -> dict[str, Any]:
    """Return the columns that are to be set, each tidied."""
    unknown = [name for name in details if name not in CORRECTED]
    if unknown:
        hint = f"It may be: {', '.join(CORRECTED)}."
        raise InputError(f"{unknown[0]!r} is not put right here.", hint=hint)
    values: dict[str, Any] = {
        name: " ".join(value.split()) if isinstance(value, str) else value
        for name, value in details.items()
    }
    if not values.get("family_name", "x"):
        raise InputError("The family name is empty.")
    if "nhs_number" in values:
        values |= _nhs_number(values["nhs_number"])
    return values


def _nhs_number(text: str) -> dict[str, Any]:
    found = identifiers.nhs_number(text) if text else None
    if found is not None and found.wrong:
        raise InputError(f"The NHS number {found.wrong}.", hint=f"It is {found.right}.")
    value = found.value if found else None
    return {"nhs_number": value, "nhs_number_raw": None, "nhs_number_problem": None}


def _check_born(desk: Desk, session: Session, person_id: int, born: date) -> None:
    """Refuse a birth date ahead, or after somebody was seen."""
    if born > desk.today:
        raise InputError(f"{say_day(born)} is ahead.", hint="A birth date lies in the past.")
    v = tables.Visit
    first = session.scalar(
        select(func.min(v.on)).where(v.person_id == person_id, stands(tables.Visit))
    )
    if first is not None and first < born:
        raise InputError(
            f"They were seen on {say_day(first)}, before {say_day(born)}.",
            hint="Look again at the year.",
        )


def _effect(desk: Desk, session: Session, person: tables.Person, born: date) -> Effect:
    if born == person.born:
        return NOTHING
    case = case_for(session, person.id)
    decisions = decided_by_people(session, [person.id]).get(person.id, ())
    before = plan_of(desk, case, decisions)
    after = plan_of(desk, msgspec.structs.replace(case, born=born), decisions)
    return Effect(tuple(_differences(before, after)), milder(before, after))


def _differences(before: Plan, after: Plan) -> Iterator[str]:
    """Give in words what one plan asks otherwise than another."""
    was, now = _by_name(before), _by_name(after)
    for name, line in was.items():
        other = now.get(name)
        if other is None:
            yield f"{line.words()}: no longer asked for (was by {say_day(line.latest)})"
        elif (other.latest, other.urgency) != (line.latest, line.urgency):
            yield (
                f"{line.words()}: by {say_day(other.latest)}, {other.urgency} "
                f"(was by {say_day(line.latest)}, {line.urgency})"
            )
    for name, line in now.items():
        if name not in was:
            yield f"{line.words()}: new, by {say_day(line.latest)}, {line.urgency}"


def _by_name(plan: Plan) -> dict[str, Line]:
    """Return the lines of a plan by name, of each the one that comes first."""
    found: dict[str, Line] = {}
    for line in lines_of(plan):
        found.setdefault(line.name, line)
    return found


def _last_visit(session: Session, person_id: int) -> int | None:
    """Return the last visit: what is milder is listed with it."""
    v = tables.Visit
    wanted = select(v.id).where(v.person_id == person_id, stands(tables.Visit))
    return session.scalars(wanted.order_by(v.on.desc(), v.id.desc()).limit(1)).one_or_none()
