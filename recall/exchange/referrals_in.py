"""Referrals from a file: what became of each, as far as the practice knows."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal, get_args

import msgspec

from recall.care.case import To
from recall.care.ear import SIDES, Side
from recall.config import Import
from recall.exchange.cells import Cells, choice
from recall.exchange.people_in import REFERENCE
from recall.exchange.problem import Wrong
from recall.exchange.rows_in import HERE, Column, FileKind, Here, Reading, open_rows
from recall.exchange.visits_in import PERSON

Ended = Literal[
    "rejected",
    "discharged",
    "clinician_decision",
    "informed_decline",
    "transferred",
    "died",
    "entered_in_error",
]
"""Why it ended without a result; after the first two a clinician decides."""
ENDED: tuple[str, ...] = get_args(Ended)
STAGES = ("sent", "accepted", "seen", "result_on", "ended")
"""The days of a row, in the order in which they come."""


class ReferralRow(msgspec.Struct, frozen=True, kw_only=True):
    """What became of one referral as the file tells."""

    person: str
    service: To
    ear: Side | Literal["both"] = "both"
    sent: date
    accepted: date | None = None
    seen: date | None = None
    result: str = ""
    result_on: date | None = None
    ended: date | None = None
    ended_because: Ended | None = None
    under_care: bool = False
    """They follow the person for it now."""
    note: str = ""
    reference: str = ""

    @property
    def ears(self) -> tuple[Side, ...]:
        """Return the ears that it is about."""
        return SIDES if self.ear == "both" else (self.ear,)


COLUMNS: tuple[Column, ...] = (
    PERSON,
    Column("service", "to whom it was sent", choice(get_args(To)), True),
    Column("ear", "right, left or both (both if empty)", choice((*SIDES, "both"))),
    Column("sent", "day on which it was sent", Cells.past_day, True),
    Column("accepted", "day on which it was accepted there", Cells.past_day),
    Column("seen", "day on which the person was seen there", Cells.past_day),
    Column("result", "what they found, in short", Cells.text),
    Column("result_on", "day on which the result came back", Cells.past_day),
    Column("ended", "day on which it ended without a result", Cells.past_day),
    Column("ended_because", "why it ended without a result", choice(ENDED)),
    Column("under_care", "yes if they follow the person for it", Cells.yes_no),
    Column("note", "note", Cells.note),
    Column("reference", "the practice's own reference of the referral", REFERENCE.decode),
)


def _build(values: dict[str, Any]) -> ReferralRow:
    """Make the row from its values by column."""
    row = ReferralRow(**values)
    days = [(name, day) for name in STAGES if (day := getattr(row, name)) is not None]
    for (before, earlier), (name, later) in pairwise(days):
        if later < earlier:
            raise Wrong(f"is before the day in {before}", "the days in their order", name)
    if (row.ended is None) != (row.ended_because is None):
        missing = "ended" if row.ended is None else "ended_because"
        raise Wrong("is empty", "both the day it ended and why, or neither", missing)
    if row.ended is not None and (row.result or row.result_on):
        raise Wrong("has a result as well", "a result, or why it ended without one", "ended")
    if row.result_on is not None and not row.result:
        raise Wrong("is empty", "what they found, in a few words", "result")
    return row


REFERRALS: FileKind[ReferralRow] = FileKind(
    "referrals", COLUMNS, _build, key=lambda row: row.reference, key_column="reference"
)


def read_referrals(
    path: Path, imports: Import, *, today: date, here: Here = HERE
) -> Reading[ReferralRow]:
    """Return the referrals of a file, good and bad rows, one by one."""
    return open_rows(path, REFERRALS, imports, today=today, here=here)
