"""The course of one retraction grade, brought on visit by visit."""

from __future__ import annotations

import msgspec

WORSE_FROM_DB = 10
"""A mean that is so much worse counts as worse in a course of grades: common practice."""


class Grades(msgspec.Struct):
    """The course of one retraction grade, with who graded."""

    last: int | None = None
    last_examiner: str | None = None
    step: int | None = None
    """Today's grade less the one before; None where either is missing."""
    worse_run: int = 0
    """Worsenings in a row, today's included."""
    at_three: int = 0
    """Earlier visits graded 3 or worse."""
    stable: int = 0
    """Looks in a row, today's included, at which neither the grade nor hearing was worse than at
    the one before; hearing tested at each."""
    level: float | None = None
    """The first mean of those looks: hearing that creeps down is worse, too."""

    def see(self, grade: int, examiner: str | None) -> None:
        """Take in one visit's grade."""
        self.step = None
        if self.last is not None:
            self.step = grade - self.last
            if self.last >= 3:
                self.at_three += 1
            self.worse_run = self.worse_run + 1 if self.step > 0 else 0
        self.last, self.last_examiner = grade, examiner

    def compare(self, tested: bool, failed: bool, mean: float | None) -> None:
        """Count looks that found nothing worse, once today's grade and hearing are taken in."""
        known = mean is not None and self.level is not None
        down = known and mean - self.level >= WORSE_FROM_DB  # type: ignore[operator]
        worse = failed or down or (self.step is not None and self.step > 0)
        self.stable = (1 if worse else self.stable + 1) if tested and not failed else 0
        if self.stable <= 1 or self.level is None:
            self.level = mean if self.stable else None
