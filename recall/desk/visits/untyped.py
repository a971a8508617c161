"""The visit of somebody who came while nothing of theirs is open: somebody is asked to type it.

What is open stands on the list of calls until its visit is in the register. Where nothing is, a
matter does: until the visit is typed, or whoever has it says that none is to be.
"""

from __future__ import annotations

from datetime import date

from sqlalchemy import select

from recall.desk.core.acting import Act
from recall.loop.matters import KIND
from recall.records import tables
from recall.records.facts.cases import stands
from recall.schedule.calendar import say_day

UNTYPED = KIND["untyped_visit"]


def ask_to_type(act: Act, on: date, staff_id: int | None) -> str:
    """Ask whoever saw them on a day to type the visit, or those who examine; return it in words."""
    found = act.session.get(tables.Staff, staff_id) if staff_id is not None else None
    here = found if found is not None and found.left_on is None else None
    due = act.desk.calendar.working_days_after(act.desk.today, UNTYPED.days)
    text = f"Type the visit of {say_day(on)}: they came, and nothing of theirs is open."
    act.add(
        "matter",
        person_id=act.person_id,
        kind=UNTYPED.id,
        text=text,
        visit_on=on,
        due_on=due,
        owner_id=here.id if here else None,
        owner_role=None if here else UNTYPED.owner,
    )
    return f"{here.handle if here else 'A practitioner'} types the visit, by {say_day(due)}."


def typed(act: Act, on: date) -> None:
    """Close what asks for the visit of a day, which is typed now."""
    m = tables.Matter
    asked = m.kind == UNTYPED.id, m.visit_on == on
    wanted = select(m.id).where(m.person_id == act.person_id, m.is_open, stands(m), *asked)
    ended = {"closed_on": act.desk.today, "closed_at": act.at, "closed_by_id": act.desk.by.id}
    for number in act.session.scalars(wanted).all():
        act.set("matter", number, is_open=False, closed_how="done", closed_text="", **ended)
