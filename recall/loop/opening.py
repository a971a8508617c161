"""On which day somebody is there to do a step: told to people in the place of a closed day."""

from __future__ import annotations

from datetime import date

import msgspec

from recall.loop.steps import Step
from recall.protocol.contact_steps import ATTEND
from recall.schedule.calendar import Calendar


def when_open(step: Step, today: date, calendar: Calendar) -> Step:
    """Return a step on the first day from its own on which somebody is there to do it.

    What has come stays, and what was agreed by the hour or is booked: that day was somebody's.
    The step itself keeps its day, and is on the list from then on, whoever opens it.

    >>> sunday = Step(kind="phone", on=date(2027, 1, 3), why="In hospital.")
    >>> when_open(sunday, date(2026, 12, 6), Calendar()).on
    datetime.date(2027, 1, 4)
    """
    if step.on <= today or step.promised or step.kind == ATTEND:
        return step
    return msgspec.structs.replace(step, on=calendar.open_from(step.on) or step.on)
