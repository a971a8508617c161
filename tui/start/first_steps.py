"""What Today asks of the register."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.oversight.glance import Counts

MILDER = "lines made milder, for a second person"
MILDER_ONE = "line made milder, for a second person"
WAIT, WAITS = "people wait for a clinician", "person waits for a clinician"
NOT_SEEN = "not known to be seen"
UNCONFIRMED, UNCONFIRMED_ONE = "visits not confirmed yet", "visit not confirmed yet"
GO_OUT = "to go out with the week's batch"
HISTORY = "from before you went live, to be looked through"


@dataclass(frozen=True)
class Line:
    """One count of the day."""

    count: int | None
    words: str
    more: str = ""
    kind: str = ""
    """"alarm" or "warn" where the count matters, "" where it only tells."""
    of_one: str = ""
    """The words where it is one; the same where left out."""

    @property
    def said(self) -> str:
        """Return the words for as many as there are.

        >>> Line(1, "people to reach", of_one="person to reach").said
        'person to reach'
        """
        return self.of_one if self.count == 1 and self.of_one else self.words


def look(desk: Desk, *, is_wanted: Callable[[], bool]) -> Counts | None:
    """Return how much there is today; nothing where nobody looks at it any more."""
    from recall.desk.plans.passing_time import settle

    settle(desk)
    if not is_wanted():
        return None
    from recall.desk.oversight.counts import counts

    return counts(desk)


def announcements(desk: Desk) -> tuple[str, ...]:
    """Return what concerns everybody at this desk."""
    from recall.desk.oversight import notices

    return notices.announcements(desk)


def know_the_days(desk: Desk) -> None:
    """Look the public holidays up while nobody waits: the first call card proposes an open day."""
    desk.calendar.is_open(desk.today)


def lines(counts: Counts) -> tuple[Line, ...]:
    """Return the counts of a day; what takes longer to work out is left out until it is known."""
    by_step = counts.by_step
    reach, clinician, lost, letters, matters, late = None, None, None, None, None, ""
    milder = by_step.milder if by_step is not None else 0
    if by_step is not None:
        reach, clinician = by_step.to_reach, by_step.clinician
        lost, letters = by_step.lost, by_step.letters
        matters, late = by_step.matters, f"{by_step.late:,} late" if by_step.late else ""
    return (
        Line(reach, "people to reach today", of_one="person to reach today"),
        Line(clinician, WAIT, "to decide, ring or look", "warn", WAITS),
        Line(counts.overdue, "overdue, booked or not", "past their latest day", "alarm"),
        Line(lost, "lost: a decision is awaited", "every step is used up", "alarm"),
        Line(counts.referrals, "referrals to chase", NOT_SEEN, "warn", "referral to chase"),
        Line(counts.unconfirmed, UNCONFIRMED, "a clinician does", "warn", UNCONFIRMED_ONE),
        *([Line(milder, MILDER, "F6 and 0", "warn", MILDER_ONE)] if milder else []),
        Line(matters, "matters for you to see to", late, "warn", "matter for you to see to"),
        Line(letters, f"letters {GO_OUT}", of_one=f"letter {GO_OUT}"),
        *([Line(counts.history, HISTORY, "a clinician does")] if counts.history else []),
    )
