"""What waits for a second look: milder corrections, and what newly adopted rules ask less of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from textual.content import Content

from tui.dialogs.form import Field, Form, Values
from tui.manager.lists import Listed, RegisterList, labelled, right
from tui.widgets.row_list import Part
from tui.words.text import full_day, several, short_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.visits.milder import MilderRow


@dataclass(frozen=True)
class LoosenedLine:
    """A rule on the list, as it is exported."""

    number: int
    rule: str
    gone: int
    later: int
    such_as: str


def _milder(desk: Desk) -> Listed:
    from recall.desk.visits.milder import milder_lines

    rows = milder_lines(desk)
    told = several(len(rows), "correction")
    return Listed(rows, f"{told} made something milder; a second person looks at each.")


def draw_milder(row: MilderRow, width: int, today: date) -> Sequence[Part]:
    """Return one correction: when, whose, by whom, and what presses less."""
    return [
        *right(short_day(row.on, today), 11, ""),
        ("", 1, ""),
        (row.reference, 11, "lead"),
        (row.by, 14, "quiet"),
        (row.words, max(20, width - 37), ""),
    ]


def head_milder(width: int) -> Sequence[Part]:
    """Return the names of the columns."""
    words = ("", 1, ""), ("person", 11, ""), ("by", 14, "")
    return [*right("corrected", 11, ""), *words, ("what presses less", max(20, width - 37), "")]


def more_milder(row: MilderRow, today: date, width: int) -> list[Content]:
    """Return everything about a correction."""
    what = f"{row.reference}, {full_day(row.on)}, by {row.by}"
    back = "should it press again, correct the visit: Enter, v, then o"
    told = [("Milder", row.words), ("Who", what), ("Why", row.why), ("Else", back)]
    return labelled(told, width)


def saw(desk: Desk, *, number: int) -> str:
    """Record that a second person saw a correction."""
    from recall.desk.visits.milder import see_milder

    return see_milder(desk, number).words


def _loosened(desk: Desk) -> Listed:
    from recall.desk.plans.loosening import loosened

    rules = loosened(desk)
    rows = [
        LoosenedLine(n, r.rule, r.gone, r.later, ", ".join(r.references))
        for n, r in enumerate(rules, 1)
    ]
    told = several(len(rows), "rule")
    return Listed(rows, f"{told} asked for what the adopted ones ask no more, or later.")


def draw_loosened(row: LoosenedLine, width: int, today: date) -> Sequence[Part]:
    """Return one rule: how many lines it makes no more, how many later, and a few people."""
    return [
        (row.rule, max(20, width - 42), ""),
        *right(f"{row.gone:,}" if row.gone else "", 9, "lead"),
        *right(f"{row.later:,}" if row.later else "", 7, ""),
        ("", 2, ""),
        (row.such_as, 24, "quiet"),
    ]


def head_loosened(width: int) -> Sequence[Part]:
    """Return the names of the columns."""
    counts = *right("no more", 9, ""), *right("later", 7, "")
    return [("rule", max(20, width - 42), ""), *counts, ("", 2, ""), ("such as", 24, "")]


def more_loosened(row: LoosenedLine, today: date, width: int) -> list[Content]:
    """Return what an answer does."""
    told = [
        ("Rule", row.rule),
        ("Take", "its lines are struck out, or moved later, as the adopted rules have it"),
        ("Leave", "its lines stand as they were asked for"),
        ("Not", "what presses, what was moved by hand, and referrals that were sent are not here"),
    ]
    return labelled(told, width)


def loosened_sheet(row: LoosenedLine, *, take: bool) -> Form:
    """Return the sheet that answers all lines of a rule."""

    def store(desk: Desk, values: Values) -> str:
        from recall.desk.plans.loosening import answer_loosened

        lines = answer_loosened(desk, row.rule, take=take, why=values["why"])
        does = "as the adopted rules have it" if take else "left as they stand"
        return f"{row.rule}: {several(lines, 'line')} {does}."

    what = f"{row.rule}: {row.gone} asked no more, {row.later} later, such as {row.such_as}."
    does = "Take them all" if take else "Leave them all"
    title = "As the adopted rules have it" if take else "Leave it as it stands"
    return Form(title, [Field("why", "Why", needed=True)], store, lines=[what], does=does)


SECOND_LOOK: tuple[RegisterList, ...] = (
    RegisterList(
        "milder",
        "Milder",
        _milder,
        lambda r: r.number,
        draw_milder,
        more_milder,
        ("saw", "open", "export", "again"),
        "No correction waits for a second person.",
        head_milder,
    ),
    RegisterList(
        "loosened",
        "Less asked",
        _loosened,
        None,
        draw_loosened,
        more_loosened,
        ("take", "leave_it", "export", "again"),
        "Nothing waits: the adopted rules ask no less than those before.",
        head_loosened,
    ),
)
"""Lists that a second person, or the clinical lead, answers."""
