"""What else is done at the desk of a whole practice: lines, wishes, matters, staff, copies."""

from __future__ import annotations

import json
import zipfile
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, MoveTo
from recall.desk.core import done, looking, undo
from recall.desk.core.rights import Role
from recall.desk.core.session import JOBS, Desk, StaffRow
from recall.desk.people import letter_wishes, looked_at, new_person
from recall.desk.people.new_person import NewPerson
from recall.desk.plans import decisions
from recall.desk.practice import erasing, handing_over, matters, retention, staff
from recall.desk.practice.matters import Entry
from recall.desk.worklists import appointments, call_lines, diary, earlier, matter_list, taken
from recall.records.journal.claims import HOLDS
from tests.desk.telling import Looks, Story
from tests.desk.whole_practice import ON, by, follow_up

NEXT = ON + timedelta(days=1)


def test_all_that_calls_to_one_number_write(whole: Desk) -> None:
    told = Story(whole)
    told.at(date(2026, 9, 14), "rob")
    several = [follow_up(whole, ref) for ref in ("W1565", "W1477", "W1573")]
    told("nobody's", contacting.release, several[1])
    told("the first that is free", contacting.take_first, several)
    told("another desk", lambda desk: contacting.take_first(by(desk, "mina"), several[1:]))
    told("given back", lambda desk: contacting.give_all_back(desk, desk.now + HOLDS))
    told("given back there",
         lambda desk: contacting.give_all_back(by(desk, "mina"), desk.now + HOLDS))  # fmt: skip
    told("others on the line", call_lines.others_on_line, several[1])
    no_answer = Attempt("phone", "no_answer", " Rang twice. ", best_time=" after five ")
    others = [several[2], follow_up(whole, "W1241"), 999]
    told("the line", contacting.log_for_line, several[1], None, others[:2], no_answer)
    told("about one", contacting.log_for_line, several[1], None, others[:2],
         Attempt("phone", "declines"))  # fmt: skip
    told("taken back as one", undo.undo)
    best = Attempt("phone", "left_message", best_time=" after five ", contact_point_id=40)
    told("best on that number", contacting.log_contact, several[1], None, best)
    agreed = Attempt("phone", "call_again_on", until=date(2026, 9, 14), until_at=time(16, 30))
    told("at an hour", contacting.log_contact, several[2], None, agreed)
    told("skipped", contacting.hold, several[2], None, " Not now. ", date(2026, 9, 15))
    told("skipped too long", contacting.hold, several[2], None, "Not now.", date(2027, 9, 15))
    told("done", done.done_today)
    told.agrees("whole_lines")


def test_all_that_wishes_and_counts_write(whole: Desk) -> None:
    told = Story(whole)
    told.at(ON, "rob")
    told("what they would come for", bookings.wish_earlier, 22, " any day ")
    told("no longer", bookings.wish_earlier, 22, " ")
    told("of none", bookings.wish_earlier, 99, "any day")
    told("the day is counted", diary.say_count, 2, NEXT)
    told("counted otherwise", diary.say_count, 3, NEXT)
    told("less than none", diary.say_count, -1)
    told("what was counted", diary.counted, NEXT)
    told("taken, but for itself", taken.taken, datetime(2026, 9, 8, 10), 30, "osei", but=22)
    told(
        "moved", bookings.move, 23, MoveTo(datetime(2026, 9, 8, 9), 30, earlier="at noon"), "person"
    )
    told("who would come earlier", earlier.freed, 23)
    told("called off", bookings.cancel, 22, "practice", "Ill.")
    told("who would come instead", earlier.freed, 22)
    told.at(NEXT)
    told("not brought", bookings.record_missed, 25, not_brought=True)
    told("the day", appointments.day)
    told.agrees("whole_wishes")


def test_all_that_matters_write(whole: Desk) -> None:
    told = Story(whole)
    told.at(ON, "rob")
    told("no such kind", matters.write_down, None, Entry("song", "La"))
    told("no words", matters.write_down, None, Entry("incident", " "))
    told("gone by", matters.write_down, None, Entry("errand", "Paper.", due=date(2026, 9, 6)))
    told("nobody's", matters.write_down, None, Entry("errand", "Paper.", "nobody"))
    told("the jobs'", matters.write_down, None, Entry("errand", "Paper.", "nightly"))
    pressing = Entry("message", " Sudden deafness. ", "clinical lead")
    told("presses", matters.write_down, "W1101", pressing)
    told("an incident", matters.write_down, "W1485", Entry("incident", "Fell.", due=NEXT))
    told("passed on", matters.pass_on, 4, "osei", due=date(2026, 9, 10), why=" Knows them. ")
    told("passed on to a role", matters.pass_on, 4, "practitioner")
    told("closed by another", matters.close, 5, "looked_into", "Wet floor.")
    told("so closed by none", matters.close, 4, "looked_into")
    told("without words", matters.close, 4, "tell_them")
    told("not needed", matters.close, 3, "not_needed")
    told.at(NEXT, "osei")
    told("whose", matter_list.matters)
    told("answered", matters.close, 4, "tell_them", " Come today. ")
    told("again", matters.close, 4, "answered", "Once more.")
    told.at(NEXT, "mina")
    told("closed by the manager", matters.close, 5, "passed_on", "To the insurer.")
    told("undone", undo.undo)
    told("of everybody", matter_list.matters, everybody=True)
    told.agrees("whole_matters")


def hired(desk: Desk, handle: str, name: str, role: Role, of: str | None) -> bool:
    member = StaffRow(0, handle, name, role, "Title", "R-1", "Annexe")
    return staff.add_staff(desk.store, desk.clock, member, by=of)


def gone(desk: Desk, handle: str, of: str | None, to: str = "") -> int:
    return staff.mark_left(desk.store, desk.clock, handle, desk.today, by=of, to=to)


def test_all_that_changes_of_staff_write(whole: Desk) -> None:
    told = Story(whole)
    told.at(NEXT, "mina")
    told("no handle", hired, "no handle", "Ines Pell", Role.RECEPTION, "mina")
    told("no name", hired, "ines", " ", Role.RECEPTION, "mina")
    told("by nobody", hired, "ines", "Ines Pell", Role.RECEPTION, None)
    told("by who may not", hired, "ines", "Ines Pell", Role.RECEPTION, "rob")
    told("somebody", hired, " Ines ", " Ines  Pell ", Role.RECEPTION, "mina")
    told("the same", hired, "ines", "Ines Pell", Role.RECEPTION, "mina")
    told("another of that handle", hired, "ines", "Ida Pell", Role.RECEPTION, "mina")
    told("who decides, by the manager", hired, "finn", "Finn Oake", Role.PRACTITIONER, "mina")
    told("who decides", hired, "finn", "Finn Oake", Role.PRACTITIONER, "clara")
    told("leaves, by who may not", gone, "ines", "rob")
    told("to themselves", gone, "ines", "mina", "ines")
    staff.ensure_jobs(whole.store)
    told("the jobs", gone, JOBS, "mina")
    told("leaves", gone, "clara", "mina", "osei")
    told("leaves, to the role", gone, "osei", "mina")
    told("the last who decides", gone, "finn", "mina")
    told("nobody", gone, "clara", "mina")
    told("who may still", lambda desk: decisions.may_decide(by(desk, "rob"), "move"))
    told.agrees("whole_staff")


def test_all_that_somebody_new_and_a_look_write(whole: Desk) -> None:
    told = Story(whole)
    told.at(NEXT, "rob")
    child = NewPerson("Pell", " Ivo ", date(2020, 5, 6), phone="07700 900777", adult="Ina Pell",
                      relation="mother", address="2 Sedge Lane\nWrenfield", postcode="wf99 4rs",
                      language="cy", gp="Mill Surgery", caller_note="After four.",
                      email="ina@example.org", nhs_number="999 006 4881")  # fmt: skip
    told("a child", new_person.add_person, child)
    told("the same once more", new_person.add_person, child)
    told("somebody else", new_person.add_person, replace(child, given_names="Ivor"), ("W1",))
    told("unborn", new_person.add_person, replace(child, born=date(2027, 1, 1)))
    short = NewPerson("Orme", "Al", date(1950, 1, 2), phone="12")
    told("a number that is none", new_person.add_person, short)
    told("a language", letter_wishes.language_meant, "Welsh")
    told("no language", letter_wishes.language_meant, "Elvish")
    told("looked at", looking.note_look, 15)
    told("again", looking.note_look, 15)
    told.at(NEXT, "mina")
    told("who looked", looked_at.who_looked, "W1477")
    told.agrees("whole_new")


def test_all_that_erasing_and_a_copy_write(whole: Desk, tmp_path: Path) -> None:
    told = Looks(whole)
    told.at(date(2060, 1, 4), "mina")
    told("whose time is over", retention.kept_long_enough)
    story = Story(told.desk)
    story("no ZIP file", handing_over.hand_over, "W1181", Path("copy.txt"))
    story("a copy", handing_over.hand_over, "W1181", tmp_path / "copy.zip")
    with zipfile.ZipFile(tmp_path / "copy.zip") as file:
        story.told += sorted(file.namelist())
        held = json.loads(file.read("record.json"))
    story.told += [f"{name}: {len(rows)}" for name, rows in held.items() if isinstance(rows, list)]
    story("another name", erasing.erase_person, "W1181", "Alice Oak", "Time is over.")
    story("no reason", erasing.erase_person, "W1181", "Alice Oakden", " ")
    story("asked", erasing.erase_person, "W1181", "Alice Oakden", " Time is over. ")
    story("alone", erasing.erase_person, "W1181", "Alice Oakden", "Time is over.")
    story.at(date(2060, 1, 4), "clara")
    story("by a second one", erasing.erase_person, "W1181", "Alice Oakden", "Time is over.")
    told.told += story.told
    told.agrees("whole_erased")
