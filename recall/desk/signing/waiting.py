"""How long after wrong passwords nothing is tried: kept in the register, for each handle alone.

NIST SP 800-63B-4 (2025), section 3.2.2: attempts are limited, to 100 wrong ones in a row at the
most; growing waits are among the ways it names. Here a handle is never shut for good: after the
hundredth one password a day is tried, and a code of two people or the manager opens it at once.
"""

from __future__ import annotations

from datetime import datetime, timedelta

FREE = 4
"""Wrong ones that cost no wait: common practice, no source."""
LONG = timedelta(minutes=15)
"""The longest wait before the hundredth; common practice, no source."""
MANY = 100
"""By the source above."""
DAY = timedelta(days=1)


def wait_after(tries: int) -> timedelta:
    """Return the wait after so many wrong ones in a row.

    >>> [wait_after(n).seconds for n in (3, 4, 5, 8, 20)], wait_after(100).days
    ([0, 1, 2, 16, 900], 1)
    """
    if tries < FREE:
        return timedelta(0)
    if tries >= MANY:
        return DAY
    return min(LONG, timedelta(seconds=2 ** min(tries - FREE, 20)))


def still_to_wait(until: datetime | None, tries: int, now: datetime) -> timedelta:
    """Return how long nothing is tried yet; never longer than the wait itself.

    A clock that was put back would otherwise shut somebody out.
    """
    if until is None or until <= now:
        return timedelta(0)
    return min(until - now, wait_after(tries))


def say_wait(wait: timedelta) -> str:
    """Say how long it is.

    >>> say_wait(timedelta(seconds=1)), say_wait(timedelta(minutes=14, seconds=2))
    ('1 second', '15 minutes')
    """
    seconds = -(-wait // timedelta(seconds=1))
    if seconds < 120:
        return f"{seconds} second{'' if seconds == 1 else 's'}"
    minutes = -(-seconds // 60)
    return f"{minutes} minutes" if minutes < 120 else f"{-(-minutes // 60)} hours"
