"""All that the pages of a person and the post write, and what the manager's lists say of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from recall.desk.contacts import contact_points
from recall.desk.contacts.contacting import log_contact
from recall.desk.contacts.entries import Attempt, ContactPoint
from recall.desk.core import undo
from recall.desk.core.replanning import refresh
from recall.desk.core.session import Desk
from recall.desk.oversight import (
    ahead,
    ahead_text,
    checked,
    counts,
    failsafe,
    job_health,
    manager_lists,
    notices,
    returns,
    rule_audit,
)
from recall.desk.oversight.report import Report, register_report
from recall.desk.oversight.report_text import as_csv, as_text
from recall.desk.people import deaths, editing, person_card, timeline, visit_sheet
from recall.desk.people.editing import Adult
from recall.desk.post import batches, call_scripts, posting, showing
from recall.desk.visits import milder
from recall.desk.worklists import lists, referral_list
from recall.desk.worklists.queue_lines import queue_lines
from tests.desk.posting import child_with_fluid, first_letter_day, letters, made, number
from tests.desk.practice import CLEAR, KERATIN, open_follow_ups, somebody, visit
from tests.desk.telling import Story


def october(desk: Desk, appointments: int | None = None) -> Report:
    """The month's report; the history's digest is drawn anew each time, so it is left out."""
    found = register_report(desk, date(2026, 10, 1), appointments)
    return replace(found, head=(found.head[0], "digest"))


LISTS: dict[str, Callable[[Desk], Any]] = {
    "counts": counts.counts,
    "queue": lambda desk: queue_lines(desk, letters=True),
    "overdue": lists.overdue,
    "lost": lists.lost,
    "referrals": referral_list.referrals,
    "ahead": lambda desk: ahead_text.as_text(ahead.ahead(desk, 6), desk.calendar),
    "came back": returns.came_back,
    "rules": rule_audit.audit,
    "report": lambda desk: october(desk, 7),
    "as text": lambda desk: as_text(october(desk), "Wrenfield"),
    "as a table": lambda desk: as_csv(october(desk)),
    "last check": failsafe.last,
    "checked": checked.checked,
    "proposed": manager_lists.proposed,
    "jobs": manager_lists.jobs,
    "their health": job_health.jobs_health,
    "notices": notices.announcements,
    "milder": milder.milder_lines,
}


def test_all_that_editing_a_person_writes(desk: Desk) -> None:
    child_with_fluid(desk)
    told = Story(desk)
    told("details", editing.edit_details, "W1", 1, family_name="Orme", born=date(2020, 3, 3))
    told("the same", editing.edit_details, "W1", None, family_name="Orme")
    told("second", editing.edit_details, "W1", 1, family_name="Orme")
    told("no detail", editing.edit_details, "W1", None, shoes="9")
    told("needs", editing.edit_needs, "W1", None, (" relay ", ""))
    told("risk", editing.add_risk, "W1", "diabetes", since="2024-03")
    told("ear", editing.add_risk, "W1", "narrow_canal", ear="nose")
    told("no risk", editing.add_risk, "W1", "height")
    told("end it", editing.end_risk, 1, " Never so. ")
    told("end it", editing.end_risk, 1, " ", "2026-09")
    told("another", editing.add_risk, "W1", "narrow_canal", ear="left")
    told("until a month", editing.end_risk, 2, "Treated.", "2026-09")
    told("adult", editing.add_adult, "W1", Adult("Bram Orme", "responsible_adult", "father"))
    told("no role", editing.add_adult, "W1", Adult("Bram Orme", "friend"))
    phone = ContactPoint("phone", "07700 900321", adult_id=2, label=" work ", safe="no")
    told("a number", contact_points.add_contact_point, "W1", phone)
    told("undo", undo.undo)
    told("a wrong number", contact_points.add_contact_point, "W1", ContactPoint("phone", "12"))
    told("an owl", contact_points.add_contact_point, "W1", ContactPoint("owl", "12"))
    told("check it", contact_points.edit_contact_point, 1, safe="only_this", checked=True)
    told("end it", contact_points.end_contact_point, 1, " Moved. ")
    told("end the adult", editing.end_adult, 2, " Gone. ")
    told("found", person_card.find, "orme")
    told("the person", person_card.person, "W1")
    told("the sheet", visit_sheet.visit_sheet, "W1")
    told.agrees("editing")


def test_all_that_stopping_contact_writes(desk: Desk) -> None:
    child_with_fluid(desk)
    told = Story(desk)
    told("unsafe", editing.record_unsafe, "W1")
    told("not so", editing.withdraw, "W1", "unsafe", " Mistaken. ")
    told("objects", editing.record_objection, "W1")
    told("again", editing.record_objection, "W1")
    told("no more", editing.withdraw, "W1", "objected", "Rang.")
    told("another", deaths.record_death, "W1", desk.today, "Ida Thackwell")
    told("ahead", deaths.record_death, "W1", date(2026, 9, 9), "Rowan Thackwell")
    told("died", deaths.record_death, "W1", desk.today, "Rowan Thackwell")
    told("in error", deaths.death_in_error, "W1", " Another. ")
    told("the story", timeline.timeline, "W1")
    told.agrees("contact_stopped")


def test_all_that_the_post_writes(desk: Desk) -> None:
    first = child_with_fluid(desk)
    second = child_with_fluid(desk, "W2")
    told = Story(desk)
    told.at(first_letter_day(desk, first))
    with desk.store.write() as session:
        refresh(told.desk, session, [second])
    told("prepare and print", made)
    told("again", batches.prepare)
    told("the batches", posting.batches)
    told("shown", showing.preview, 1)
    one, two = (number(row) for row in letters(desk))
    told("hold", posting.hold, one, " Wait. ")
    told("hold again", posting.hold, one, " ")
    told("let go", posting.unhold, one)
    told("no letter", posting.unhold, "X")
    told("posted", posting.mark_posted, 1)
    told("returned", posting.mark_returned, two)
    told("what is said", call_scripts.script_for, 1)
    told("what is said", call_scripts.script_for, 2)
    told.at(told.desk.today + timedelta(days=9))
    told("posted again", posting.mark_posted, 1)
    told("returned", posting.mark_returned, one)
    told.agrees("post")


def test_all_that_the_lists_of_the_manager_say(desk: Desk) -> None:
    first, second = child_with_fluid(desk), child_with_fluid(desk, "W2")
    visit(desk, somebody(desk, "W3"), left=KERATIN)
    adult = somebody(desk, "W4", born=date(1950, 6, 7), adult=False)
    told = Story(desk)
    told.at(date(2026, 10, 1), "clara")
    visit(told.desk, first, right=CLEAR, left=CLEAR)
    visit(told.desk, adult, right=CLEAR, confirmed=False)
    (row,) = open_follow_ups(desk.store, second)
    log_contact(told.desk, row["id"], None, Attempt("phone", "declines", "Enough."))
    told("checked", failsafe.run)
    for on, by in ((date(2026, 10, 1), "clara"), (date(2027, 2, 1), "mina")):
        told.at(on, by)
        for name, look in LISTS.items():
            told(name, look)
    told("checked again", failsafe.run)
    told.agrees("manager")
