"""What the search columns alone can count: shown first of all, before anything larger is loaded.

In plain SQL, so that it can be asked of the file itself; a test holds each count against the list
that it counts (`candidates`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from recall.protocol.contact_steps import LOOK_THROUGH
from recall.records.database.plain import IS_OPEN, Ask

WENT_LIVE = "went_live"
"""In the history: the search columns were worked out for a practice that went live on a day."""
_OPEN = f"{IS_OPEN} AND void_at IS NULL"
_SHOWN = "{shown}"
"""Where it is said whose sites' people are left out."""
_LEFT_OUT = " AND NOT EXISTS (SELECT 1 FROM person WHERE id = one.person_id AND site IN ({sites}))"
_NOT_OLD = "{besides}"
"""Where it is said which rows are of before the practice went live: on no list."""
_BESIDES = " AND ({step} != :old OR {on} != :live)"
_OVERDUE = f"SELECT count(*) FROM follow_up AS one WHERE {_OPEN} AND latest < :on{_NOT_OLD}{_SHOWN}"
_CHASED = (
    'SELECT count(*) FROM (SELECT DISTINCT person_id, "to", asked_on, urgency, route, stage,'
    f" chase_on FROM referral AS one WHERE {_OPEN} AND chase_on <= :on{_NOT_OLD}{_SHOWN}) AS lines"
)
"""As the list has them: one line for both ears."""
_UNCONFIRMED = (
    f"SELECT count(*) FROM visit AS one WHERE confirmed_at IS NULL AND void_at IS NULL{_SHOWN}"
)
_SOMEBODY = "SELECT id FROM person LIMIT 1"
_OLD_ASKS = (
    f"SELECT count(*) FROM follow_up AS one WHERE {_OPEN} AND step = :old"
    f" AND next_step_on = :live{_SHOWN}"
)
_OLD_REFERRALS = (
    'SELECT count(*) FROM (SELECT DISTINCT person_id, "to", asked_on FROM referral AS one'
    f" WHERE {_OPEN} AND stage = :old AND chase_on = :live{_SHOWN}) AS lines"
)
_LAST_CHANGE = "SELECT at FROM history ORDER BY id DESC LIMIT 1"
_SETTLED_FOR = "SELECT entity_id FROM history WHERE entity = :live ORDER BY id DESC LIMIT 1"


@dataclass(frozen=True)
class FirstCounts:
    """What the search columns alone can count for certain."""

    overdue: int
    referrals: int
    unconfirmed: int
    is_empty: bool
    """Whether the register holds nobody at all."""
    history: int
    """What is known to be of before the practice went live."""


def first_counts(
    ask: Ask, on: date, live: date | None = None, left_out: Sequence[str] = ()
) -> FirstCounts:
    """Return what can be counted at once on a day, whatever the size of the register.

    The people of some sites may be left out, as the lists of other sites do.
    """
    went = live.isoformat() if live is not None else None
    sites = {f"site{n}": site for n, site in enumerate(left_out)}
    values = {"on": on.isoformat(), "live": went, "old": LOOK_THROUGH, **sites}
    named = ", ".join(f":{name}" for name in sites)
    shown = _LEFT_OUT.format(sites=named) if sites else ""
    old = (_OLD_ASKS, _OLD_REFERRALS) if live is not None else ()

    def count(sql: str, step: str = "", on: str = "") -> int:
        besides = _BESIDES.format(step=step, on=on) if live is not None else ""
        said = sql.replace(_SHOWN, shown).replace(_NOT_OLD, besides)
        number: int = ask(said, values)[0][0]
        return number

    return FirstCounts(
        overdue=count(_OVERDUE, "step", "next_step_on"),
        referrals=count(_CHASED, "stage", "chase_on"),
        unconfirmed=count(_UNCONFIRMED),
        is_empty=not ask(_SOMEBODY, {}),
        history=sum(count(sql) for sql in old),
    )


def last_change(ask: Ask) -> datetime | None:
    """Return the instant at which the register was changed last."""
    rows = ask(_LAST_CHANGE, {})
    return datetime.fromisoformat(rows[0][0]).replace(tzinfo=UTC) if rows else None


def settled_for(ask: Ask) -> date | None:
    """Return the day of going live for which the search columns were worked out last."""
    rows = ask(_SETTLED_FOR, {"live": WENT_LIVE})
    return date.fromordinal(rows[0][0]) if rows and rows[0][0] else None
