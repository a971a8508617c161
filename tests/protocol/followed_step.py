"""Follows the invented step through a copy of the program: run by `test_contact_steps.py`."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import recall
from recall.desk.core.contact_links import RUN_LETTERS
from recall.desk.post.writing import kind_of
from recall.loop.day import belongs, day_row
from recall.loop.facts import Contact, Posted
from recall.loop.outlook import outlook
from recall.loop.status import status_on
from recall.protocol.contact import ContactProtocol
from recall.records.facts.happened import _LETTERS
from tests.loop.tell import facts
from tui.words.signs import STEP_WORDS

BEGUN, AFTER = date(2026, 9, 1), date(2026, 10, 27)


def follow() -> None:
    """It comes in its turn, is a letter everywhere, and the next step waits for it."""
    rules = ContactProtocol.load()
    ahead = [f"{step.kind} {step.on}" for step in outlook(facts(), BEGUN, rules)]
    turn = ahead.index("postcard 2026-10-27")
    assert ahead[turn - 1 : turn + 2] == [
        "reminder 2026-10-20",
        "postcard 2026-10-27",
        "last_letter 2026-11-03",
    ], ahead
    calls = [Contact(on=date(2026, 10, n), channel="phone", outcome="no_answer") for n in (13, 15)]
    known = facts(events=(*calls, Posted(on=date(2026, 10, 20), kind="reminder")))
    row = day_row(1, 1, known, status_on(known, AFTER, rules))
    assert row.step == "postcard"
    assert belongs(row, AFTER, "reach_or_write") and not belongs(row, AFTER, "reach")
    assert kind_of("postcard", True, False, False) == "reminder"
    assert STEP_WORDS["postcard"] == "postcard"
    assert "postcard" in _LETTERS and RUN_LETTERS[-1] == "last_letter"
    print(f"followed in {Path(recall.__file__).parents[1]}")


follow()
