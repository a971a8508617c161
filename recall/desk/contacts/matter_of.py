"""What a call leaves for somebody to see to: an interpreter to book, in whichever language."""

from __future__ import annotations

from sqlalchemy import select

from recall.desk.core.acting import Act, in_words
from recall.loop.languages import language_named
from recall.loop.matters import KIND
from recall.records import tables
from recall.records.facts.cases import stands
from recall.schedule.calendar import say_day

NOT_SAID = "The language or kind of call was not said: ask, before anybody is booked."
INTERPRETER = "Interpreter: "
"""How what somebody needs begins where it is somebody who interprets."""


def matter_of(act: Act, kind_id: str, note: str, language: str = "") -> str:
    """Make the matter that an outcome leaves, where none such is open; return it in words.

    The language stands among what they need, at every contact from then on.
    """
    language, is_known = language_named(language)
    told = _keep_language(act, language, is_known) if language else ""
    return in_words((told, _matter(act, kind_id, ". ".join(filter(None, (language, note))))))


def _keep_language(act: Act, language: str, is_known: bool) -> str:
    p = tables.Person
    needs = tuple(act.session.scalars(select(p.needs).where(p.id == act.person_id)).one())
    need = f"{INTERPRETER}{language}"
    if need not in needs:
        kept = tuple(each for each in needs if not each.startswith(INTERPRETER))
        act.set("person", act.person_id, needs=(*kept, need))
    return "" if is_known else f"“{language}” is no language known here, and kept as typed."


def _matter(act: Act, kind_id: str, note: str) -> str:
    kind, m = KIND[kind_id], tables.Matter
    wanted = select(m.id).where(m.person_id == act.person_id, m.kind == kind.id, m.is_open)
    if act.session.scalar(wanted.where(stands(m)).limit(1)) is not None:
        return ""
    due = act.desk.calendar.working_days_after(act.desk.today, kind.days)
    text = note.strip() or NOT_SAID
    values = {"kind": kind.id, "text": text, "due_on": due, "owner_role": kind.owner}
    act.add("matter", person_id=act.person_id, owner_id=None, **values)
    return f"{kind.title}, for {kind.owner} by {say_day(due, weekday=True)}."
