"""What a capable adult answers by saying no: another try at wax, or another look for a drum.

Who may not have understood is tried again, and a child is. What else is due stands, and is offered
again. Common practice, no source; a person who says no is a recorded decline.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date

from recall.care.case import Category
from recall.care.dates import is_child
from recall.care.ear import Ear, Side
from recall.schedule.known import Known
from recall.schedule.plan import Due

TRIED_AGAIN: tuple[Category, ...] = ("wax_retry", "view_retry")
MAY_NOT_UNDERSTAND = frozenset({"dementia", "learning_disability"})


def untried(ear: Ear, side: Side, born: date, known: Known, on: date) -> bool:
    """Return whether nobody tried at the wax of a capable adult, who may have said no to it.

    Nothing has failed then: somebody else is asked after failed visits alone. A child, and who may
    not have understood, is somebody else's after two visits whatever the reason was.
    """
    if ear.clearance != "not_attempted" or is_child(born, on):
        return False
    return MAY_NOT_UNDERSTAND.isdisjoint(known.risk_words(side, on))


def declined(
    standing: Iterable[Due],
    ears: Mapping[Side, Ear | None],
    risks: Callable[[Side], Iterable[str]],
) -> Iterator[Due]:
    """Yield the tries and looks that an adult who was asked about that ear said no to today.

    Args:
        standing: what was asked for before.
        ears: what this visit found.
        risks: the risks that hold for an ear.
    """
    for due in standing:
        ear = ears[due.ear]
        if ear is None or ear.not_examined != "refused" or due.category not in TRIED_AGAIN:
            continue
        if due.kind == "recheck" and MAY_NOT_UNDERSTAND.isdisjoint(risks(due.ear)):
            yield due
