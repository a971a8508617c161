"""What one ear shows beside what is known of the other one."""

from __future__ import annotations

from datetime import date, timedelta

from recall.care.course import Course

LATELY = timedelta(days=90)
"""As long a level of the other ear counts beside one of today: common practice, no source."""


def apart(ear: Course, other: Course, on: date) -> float | None:
    """Return by how many dB an ear that was tested alone hears worse than the other did lately.

    By the four-frequency mean; None where both were measured today, or the other one not lately.
    A worse level of the other one within a week of suction does not count.
    """
    mine, known, tested = ear.mean_today, other.hearing_settled, other.hearing_on
    if mine is None or known is None or tested is None or other.mean_today is not None:
        return None
    return mine - known if on - tested <= LATELY else None
