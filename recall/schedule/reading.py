"""A plan as people read it: one finding in both ears is one line, and a reason is said once.

The dues themselves stay one for each ear.
"""

from __future__ import annotations

from collections.abc import Iterable

from recall.care.ear import SIDES, Side
from recall.schedule.plan import Due, Reason

Ears = tuple[Side, ...]


def dues_read(dues: Iterable[Due]) -> list[tuple[Ears, Due]]:
    """Return each thing to be done once, with the ears that it is due for.

    A look and the second try at it, in one appointment, are one thing.
    """
    found: dict[tuple[object, ...], list[Due]] = {}
    dues = list(dues)
    looks = {(due.ear, due.track) for due in dues if due.kind == "recheck"}
    for due in dues:
        if due.kind == "retry" and (due.ear, due.track) in looks:
            continue
        what = (due.track, due.kind, due.rule, due.says, due.latest, due.cycle)
        found.setdefault(what, []).append(due)
    return [(_ears(d.ear for d in several), several[0]) for several in found.values()]


def reasons_read(reasons: Iterable[Reason]) -> list[tuple[Ears, Reason]]:
    """Return each reason of a referral once, with the ears that it holds for."""
    found: dict[tuple[str, str], list[Reason]] = {}
    for reason in reasons:
        found.setdefault((reason.rule, reason.says), []).append(reason)
    return [(_ears(r.ear for r in several), several[0]) for several in found.values()]


def say_ears(ears: Ears) -> str:
    """Return which ear or ears are meant.

    >>> say_ears(("left",)), say_ears(("right", "left"))
    ('left ear', 'both ears')
    """
    return "both ears" if len(ears) > 1 else f"{ears[0]} ear"


def _ears(found: Iterable[Side]) -> Ears:
    meant = set(found)
    return tuple(side for side in SIDES if side in meant)
