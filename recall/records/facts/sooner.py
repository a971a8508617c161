"""What else is open for whoever is to be rung and has to be seen sooner than what is in hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from recall.protocol.contact_steps import ATTEND, CALL_STEPS, LETTER_STEPS, TURNING
from recall.records.facts.candidates import FOLLOW_UPS, ON, not_planned

_RUN = frozenset({*CALL_STEPS, *LETTER_STEPS}) - TURNING
"""Steps that stay what they are until something happens, and of which nothing is booked."""
_hand, _too = FOLLOW_UPS.alias("hand"), FOLLOW_UPS.alias("too")
_h, _t = _hand.c, _too.c
_SOONER = (
    select(_t.id, _t.person_id, _t.step, _t.next_step_on, _t.latest, _t.earliest)
    .join_from(_hand, _too, _t.person_id == _h.person_id)
    .where(_h.is_open, _h.void_at.is_(None), _h.next_step_on <= ON)
    .where(_t.is_open, _t.void_at.is_(None), _t.latest < _h.latest, _t.step != ATTEND)
)


_Row = Row[int, int, str, date, date, date]


class Sooner(NamedTuple):
    """What of it is told by the columns, and what only by the facts."""

    by_person: dict[int, date]
    """The earliest latest day, of each person."""
    by_facts: dict[int, int]
    """Whose each other one is, by its number."""


def sooner(session: Session, on: date, reach: date, live: date | None) -> Sooner:
    """Return what a call on a day may be about beside what it is made for, and has to be sooner.

    Args:
        session: what reads the register.
        on: the day of the call.
        reach: what opens no later is spoken of in the same call.
        live: when the practice went live: what is of before may be history.
    """
    rows: Sequence[_Row] = session.connection().execute(_SOONER, {"on": on}).all()
    found, doubtful = dict[int, date](), dict[int, int]()
    waiting = not_planned(session) if rows else frozenset[int]()
    for number, person, step, step_on, latest, earliest in rows:
        told = step in _RUN and person not in waiting and (live is None or latest >= live)
        if told and (step_on <= on or earliest <= reach):
            found[person] = min(latest, found.get(person, latest))
        else:
            doubtful[number] = person
    return Sooner(found, doubtful)
