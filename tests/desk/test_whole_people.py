"""What the pages about a person say, of people in every state of a whole practice."""

from __future__ import annotations

from datetime import date, timedelta

from recall.desk.contacts.spoken_of import spoken_of
from recall.desk.core.session import Desk
from recall.desk.people import (
    correcting,
    ear_history,
    looked_at,
    new_person,
    person_card,
    ringing_back,
    timeline,
    visit_sheet,
    whose,
)
from recall.desk.people.new_person import NewPerson
from recall.desk.plans import explaining, judging
from recall.desk.post import call_scripts
from recall.desk.visits import finding
from tests.desk.telling import Looks
from tests.desk.whole_practice import ON, REFS, follow_up

SOME = ("W1021", "W1145", "W1181", "W1249", "W1365", "W1437", "W1477", "W1485", "W1497", "W1549",
        "W1565", "W1569")  # fmt: skip


def test_the_card_of_each_person(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON, "rob")
    for ref in REFS:
        told(ref, person_card.person, ref, clinical=True)
    told("stopped", person_card.contact_stopped_for, REFS)
    told.agrees("whole_persons")


def test_the_timeline_of_each_person(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON + timedelta(days=4), "clara")
    for ref in SOME:
        told(ref, timeline.timeline, ref)
    told.agrees("whole_timelines")


def test_the_sheet_of_each_person(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON, "clara")
    for ref in REFS:
        told(ref, visit_sheet.visit_sheet, ref)
    told("without what was found", visit_sheet.visit_sheet, "W1485", tells_findings=False)
    told.agrees("whole_sheets")


def test_why_each_person_is_asked_back(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON, "clara")
    for ref in ("W1365", "W1437", "W1485"):
        told(f"{ref}, why", explaining.explain_person, ref)
        told(f"{ref}, line by line", judging.standing_lines, ref)
    told("struck", judging.struck_by_rule)
    told.agrees("whole_reasons")


def test_the_ears_of_each_person(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON, "clara")
    for ref in ("W1249", "W1365", "W1485", "W1549"):
        told(ref, ear_history.ear_history, ref)
    told("a visit", finding.find_visit, "V20004")
    told("the last of somebody", finding.find_visit, "W1485")
    told.agrees("whole_ears")


def test_who_is_who(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON, "rob")
    for text in (
        "bogdan",
        "Nettleship 7UL",
        "11/11/2020",
        "07700 900311",
        "w1485",
        "Zzz",
        "petrov",
    ):
        told(f"found: {text}", person_card.find, text)
        told(f"rings: {text}", ringing_back.who_rings, text, 5)
    told("rung today", ringing_back.who_rings, "", 9)
    told("two rung today", ringing_back.who_rings, " ", 2)
    for text in (
        "Orme, Ida 3 Mar 2019",
        "ida van orme 07700 900 123 3/3/2019",
        "R2 D2",
        "1/1/2030",
    ):
        told(f"says: {text}", new_person.taken_apart, text)
    alike = NewPerson("Bogdan", "Amelie", date(2012, 12, 1), postcode="WF99 4UR")
    told("may be", new_person.who_may_be, alike)
    told("born otherwise", correcting.effect_of, "W1485", date(2012, 1, 1))
    for ref in ("W1477", "w1565", "W1"):
        told(f"whose {ref}", whose.whose, ref)
    for table in ("follow-up", "appointment", "referral"):
        told(f"whose {table}", whose.whose_row, table, 9)
        told(f"whose {table}, of none", whose.whose_row, table, 999)
    for ref in ("W1101", "W1473", "W1569"):
        told(f"spoken of {ref}", spoken_of, follow_up(whole, ref))
        told(f"what is said to {ref}", call_scripts.script_for, follow_up(whole, ref))
    told.at(ON, "mina")
    told("who looked", looked_at.who_looked, "W1477")
    told.agrees("whole_who")
