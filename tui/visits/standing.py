"""Lines that stood before, judged without a visit: named once more, then stored at once."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from recall.schedule.plan import Plan
from tui.dialogs.ask import Ask
from tui.ears.form import VisitForm
from tui.visits import judging
from tui.words.text import short_day

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.people.ear_history import EarHistory


def standing_plan(desk: Desk, known: EarHistory) -> Plan:
    """Return what stands, as the rules and earlier decisions have it."""
    from recall.desk.people.ear_history import planned

    return planned(desk, known, None)


def keep_sheet(form: VisitForm, stands: Plan, today: date) -> Ask:
    """Return the question whether what was made of the lines is kept."""
    lines = judging.judged_words(form, stands)
    for move in form.moves:
        assert move.target is not None, "a move has its days"
        about = f"{str(move.track).replace('_', ' ')}, {move.ear} ear"
        lines.append(f"{about}: moved to {short_day(move.target, today)}")
    lines.append("Nothing was typed of an examination: no visit is made of it.")
    return Ask("Keep this, without a visit?", lines, yes="Keep it", no="Back to the form")


def keep(desk: Desk, *, ref: str, form: VisitForm) -> Next:
    """Store what was made of the lines."""
    from recall.desk.plans.judging import judge_lines

    return judge_lines(desk, ref, form.judged, form.moves)
