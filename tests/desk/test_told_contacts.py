"""All that reaching people writes: attempts, appointments, holds, checks, and their taking back."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from recall.desk.contacts import bookings, calendar_files, contacting
from recall.desk.contacts.entries import Attempt, Booking, MoveTo
from recall.desk.core import done, undo
from recall.desk.core.session import Desk
from recall.desk.people import person_card, timeline
from recall.desk.worklists import call_card, lists
from recall.desk.worklists.queue_lines import queue_lines
from recall.loop.outcomes import BY_ID, OUTCOMES
from tests.desk.posting import child_with_fluid
from tests.desk.practice import open_follow_ups
from tests.desk.telling import Story


def at(day: date, hour: int = 10) -> datetime:
    return datetime(day.year, day.month, day.day, hour)


def seen(told: Story) -> None:
    """Look at what the lists and the person's own pages say."""
    told("the queue", queue_lines)
    told("the call card", call_card.call_cards_of, "W1")
    told("the person", person_card.person, "W1")
    told("the story", timeline.timeline, "W1")


def test_all_that_attempts_write(desk: Desk) -> None:
    person = child_with_fluid(desk)
    (row,) = open_follow_ups(desk.store, person)
    number, told = row["id"], Story(desk)
    told.at(date(2026, 9, 15), "rob")
    told("claim", contacting.claim, number)
    told("no answer", contacting.log_contact, number, None, Attempt("phone", "no_answer", "Rang."))
    told("again", contacting.log_contact, number, row["version"], Attempt("phone", "no_answer"))
    told("no channel", contacting.log_contact, number, None, Attempt("owl", "no_answer"))
    told("no outcome", contacting.log_contact, number, None, Attempt("phone", "sang"))
    told("done", done.done_today)
    told("what undo would do", undo.last)
    told("undo", undo.undo)
    told("undo nothing", undo.undo)
    told("hold back", contacting.hold, number, None, " abroad ", date(2026, 9, 25))
    told("hold back too long", contacting.hold, number, None, "abroad", date(2027, 9, 25))
    told("hold back no longer", contacting.hold, number, None, "abroad", date(2026, 9, 15))
    told("without words", contacting.hold, number, None, " ", date(2026, 9, 25))
    told("note", contacting.note, number, " Ring the school. ")
    told("no note", contacting.note, number, " ")
    told.at(date(2026, 9, 26))
    rang = Attempt("phone", "will_call_back", by_them=True, spoke_with="Ida", note="Later.")
    told("they rang", contacting.log_contact, number, None, rang)
    told("address", contacting.address_checked, number, None, "Rang the GP.", still_there=False)
    told("GP told", contacting.gp_told, number, None, "by phone")
    told.at(date(2026, 9, 27), "clara")
    told("looked", contacting.looked, [number, number])
    told("address", contacting.address_checked, number, None, "Rang the GP", still_there=True)
    seen(told)
    told.agrees("attempts")


def test_all_that_each_outcome_of_a_call_writes(desk: Desk) -> None:
    people = {o.id: child_with_fluid(desk, f"W-{o.id}") for o in OUTCOMES if o.id != "booked"}
    people["wrong_number"] = people.pop("wrong_number")  # all have it: struck, nobody can be rung
    told = Story(desk)
    told.at(date(2026, 9, 15), "rob")
    for outcome, person in people.items():
        (row,) = open_follow_ups(desk.store, person)
        day = {"until": date(2026, 9, 22)} if BY_ID[outcome].asks_day else {}
        given = Attempt("phone", outcome, "Why.", **day)
        told(outcome, contacting.log_contact, row["id"], None, given)
    told("the queue", queue_lines)
    told("the clinician's list", lists.for_clinician)
    told("cards", call_card.call_cards, list(range(1, 9)))
    told.agrees("outcomes")


def test_all_that_appointments_write(desk: Desk) -> None:
    person = child_with_fluid(desk)
    (row,) = open_follow_ups(desk.store, person)
    (second,) = open_follow_ups(desk.store, child_with_fluid(desk, "W2"))
    number, day, told = row["id"], row["target"], Story(desk)
    told.at(date(2026, 9, 15), "rob")
    told("book", bookings.book, number, None,
         Booking(at(day), 30, "clara", channel="phone", place="Room 2", note="Ramp."))  # fmt: skip
    told("book again", bookings.book, number, None, Booking(at(day)))
    told("at night", bookings.book, second["id"], None, Booking(at(day, 22)))
    told("gone by", bookings.book, second["id"], None, Booking(at(date(2026, 9, 1))))
    told("shut", bookings.book, second["id"], None, Booking(at(date(2026, 9, 20))))
    told("late", bookings.book, second["id"], None, Booking(at(date(2027, 3, 1))))
    told("nobody", bookings.book, second["id"], None, Booking(at(day), with_="nobody"))
    told("the day", calendar_files.day, day)
    told("slip", calendar_files.slip, 1)
    told.agrees("appointments_made")


def test_all_that_moved_and_ended_appointments_write(desk: Desk) -> None:
    (row,) = open_follow_ups(desk.store, child_with_fluid(desk))
    (second,) = open_follow_ups(desk.store, child_with_fluid(desk, "W2"))
    number, day, told = row["id"], row["target"], Story(desk)
    told.at(date(2026, 9, 15), "rob")
    told("book", bookings.book, number, None, Booking(at(day), 30, "clara", place="Room 2"))
    told("for a calendar", calendar_files.ics_of_booking, 1)
    told("move", bookings.move, 1, MoveTo(at(day + timedelta(days=1)), 45), "person", " Away. ")
    told("move to night", bookings.move, 2, MoveTo(at(day, 3)), "person")
    told("for a calendar", calendar_files.ics_of_booking, 2)
    told("what undo would do", undo.last)
    told("undo", undo.undo)
    told("move again", bookings.move, 1, MoveTo(at(day + timedelta(days=2))), "practice", "Ill.")
    told("cancel", bookings.cancel, 3, "practice", " Ill again. ")
    told("cancel again", bookings.cancel, 3, "practice")
    told("for a calendar", calendar_files.ics_of_booking, 3)
    told("book", bookings.book, number, None, Booking(at(day, 9)))
    told("missed too early", bookings.record_missed, 4)
    told.at(day)
    told("the calendar of the day", calendar_files.ics_of_day)
    told("missed", bookings.record_missed, 4)
    told("book", bookings.book, second["id"], None, Booking(at(day, 12)))
    told("attended", bookings.record_attended, 5)
    told("the day", calendar_files.day)
    seen(told)
    told.agrees("appointments_ended")
