"""What every list says of a whole practice: each row in full, in its order, on three days."""

from __future__ import annotations

from datetime import date, timedelta

from recall.desk.core.done import done_today
from recall.desk.core.session import Desk
from recall.desk.oversight import counts, returns
from recall.desk.oversight.day_sheets import appointments_of
from recall.desk.worklists import (
    appointments,
    call_card,
    call_lines,
    diary,
    earlier,
    lists,
    matter_list,
    referral_list,
    taken,
)
from recall.desk.worklists.day_list import Part
from recall.desk.worklists.queue_lines import queue_lines
from tests.desk.telling import Looks
from tests.desk.whole_practice import ON, REFS, at, follow_up

DAYS = (ON, ON + timedelta(days=1), date(2026, 12, 1))


def test_every_row_of_the_lists_to_ring(whole: Desk) -> None:
    told = Looks(whole)
    for on in DAYS:
        told.at(on, "rob")
        told("counts", counts.counts)
        told("queue", queue_lines, letters=True)
        told("to ring", queue_lines)
        told("the second and third", queue_lines, Part(limit=2, offset=1))
        told("overdue", lists.overdue)
        told("lost", lists.lost)
        told("order", call_card.order)
        told("lines", call_lines.call_lines)
    told.at(ON, "clara")
    told("for a clinician", lists.for_clinician, clinical=True)
    told("overdue, with what was found", lists.overdue, Part(limit=4), clinical=True)
    told("done", done_today)
    told.at(ON - timedelta(days=30))
    told("queue of a day that has gone by", queue_lines)
    told.agrees("whole_lists")


def test_every_call_card(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON + timedelta(days=1), "rob")
    for ref in REFS:
        told(ref, call_card.call_cards_of, ref)
    told("others on the line", call_lines.others_on_line, follow_up(whole, "W1245"))
    told("nobody", call_card.call_cards_of, "W1")
    told.agrees("whole_call_cards")


def test_every_appointment_referral_and_matter(whole: Desk) -> None:
    told = Looks(whole)
    for on in DAYS[:2]:
        told.at(on, "rob")
        told("the day", appointments.day)
        told("the day after", appointments.day, on + timedelta(days=1))
        told("free", taken.free_words, on + timedelta(days=1))
        told("taken", taken.taken, at(on + timedelta(days=1), 10), 40, "osei")
        told("for the door", appointments_of, on + timedelta(days=1), "Tomorrow")
        told("counted", diary.counted)
        told("of everybody", matter_list.matters, everybody=True)
        told("mine", matter_list.matters)
    for by in ("mina", "clara"):
        told.at(DAYS[2], by)
        told("matters", matter_list.matters)
    told("referrals", referral_list.referrals)
    told("every referral", referral_list.referrals, everything=True, clinical=True)
    told("some", referral_list.referrals, Part(limit=2, offset=1))
    told("came back", returns.came_back)
    for booking in range(1, 26):
        told(f"who would come instead of {booking}", earlier.freed, booking)
    told.agrees("whole_days")
