"""History looked through at a whole practice, and the edges of what is recorded of people."""

from __future__ import annotations

from datetime import date, timedelta
from functools import partial
from typing import Any

from recall.care.case import Case, Reported, Risk, ToldByOthers, Visit
from recall.care.dates import Before
from recall.care.ear import Ear
from recall.care.measured import Tympanogram
from recall.desk.contacts import contact_points
from recall.desk.contacts.entries import ContactPoint
from recall.desk.core import undo
from recall.desk.core.session import Desk
from recall.desk.people import deaths, editing, letter_wishes, timeline
from recall.desk.people.editing import Adult
from recall.desk.plans import changeover, looking_through
from recall.desk.plans.looking_through import Answer
from recall.desk.referrals import progress
from recall.desk.visits import findings_words
from recall.records import tables
from tests.desk.changing_over import went_live
from tests.desk.practice import CLEAR, FLUID, rows
from tests.desk.telling import Looks, Story
from tests.desk.whole_practice import ON, referral

NEXT = ON + timedelta(days=1)


def test_all_that_looking_through_history_writes(whole: Desk) -> None:
    told = Story(whole)
    told.at(NEXT, "clara")
    told.desk = went_live(told.desk, NEXT)
    lines = changeover.portion(told.desk, 60).lines
    told("kinds", changeover.kinds)
    told("the first of them", changeover.portion)
    told("three of them", changeover.of_asks, [line.ask for line in lines[:3]])
    looks = [line.ask for line in lines if line.ask.startswith("F")]
    sent = [line.ask for line in lines if line.ask.startswith("R")]
    done = Answer("done", " Tested there. ", " Elm House ", "2026-08")
    for name, asks, given in (
        ("still open", [looks[0], sent[0]], Answer("still_open", " Ring them. ")),
        ("done without where", looks[1:2], Answer("done", when="2026-08")),
        ("done before it was asked", looks[1:2], Answer("done", where="Elm House", when="2019-01")),
        ("done", looks[1:2], done),
        ("done, a referral", sent[1:2], done),
        ("not needed, without words", looks[2:3], Answer("not_needed")),
        ("not needed", [looks[2], sent[2]], Answer("not_needed", "Settled.", considered=True)),
        ("declined", looks[3:4], Answer("not_needed", because="declines", considered=True)),
        ("under care", [looks[4], sent[3]], Answer("under_care", "Seen there.", of="ent")),
        ("answered already", looks[1:2], done),
        ("no such thing", ["X1"], done),
        ("no answer", looks[5:6], Answer("sing")),  # type: ignore[arg-type]
    ):
        told(name, looking_through.answer, asks, given)
    kind = changeover.kinds(told.desk)[0]
    told("the wrong number", looking_through.answer_kind, kind.kind, 99, Answer("still_open"))
    told("a kind", looking_through.answer_kind, kind.kind, kind.count, Answer("still_open"))
    told("left", changeover.portion)
    told.agrees("whole_looked_through")


def test_all_that_edges_of_a_person_write(whole: Desk) -> None:
    told = Story(whole)
    told.at(NEXT, "rob")
    told("ahead", deaths.record_death, "W1021", NEXT + timedelta(days=1), "Raymond Brackenbury")
    told("unborn", deaths.record_death, "W1021", date(1963, 12, 31), "Raymond Brackenbury")
    told("the day of the birth", deaths.record_death, "W1021", date(1964, 1, 1),
         " raymond  brackenbury ")  # fmt: skip
    told.at(NEXT, "clara")
    told("one who may end it", deaths.record_death, "W1497", NEXT, "Megan Cholmeley")
    told("in error", deaths.death_in_error, "W1497", " Her sister. ")
    told("not dead", deaths.death_in_error, "W1497", "Again.")
    told.at(NEXT, "rob")
    told("how it is called", contact_points.edit_contact_point, 40, label=" school ", safe="no")
    told("no word", contact_points.edit_contact_point, 40, safe="perhaps")
    for point in (
        ContactPoint("email", "orla"),
        ContactPoint("address", " 3 Sedge Lane \n\n Wrenfield ", "wf99 4rs", label="Nan's"),
        ContactPoint("address", "3 Sedge Lane", "XX"),
        ContactPoint("phone", " "),
        ContactPoint("phone", "07700 900666", safe="only_this"),
    ):
        told(f"{point.kind} {point.raw.strip()}", contact_points.add_contact_point, "W1477", point)
    other = ContactPoint("phone", "07700 900667")
    told("instead", contact_points.add_contact_point, "W1477", other, instead_of=40)
    told("a risk of one ear", editing.add_risk, "W1477", "narrow_canal", ear="left", since="2020")
    told("until", editing.add_risk, "W1477", "previous_grommet", since="2021-01", until="2022-02")
    told("backwards", editing.add_risk, "W1477", "diabetes", since="2022-01", until="2021-01")
    told(
        "an adult", editing.add_adult, "W1477", Adult("Ian Hussain", "responsible_adult", "father")
    )
    told("letters", editing.edit_details, "W1477", None, format="large", language="cy")
    told("a tag", letter_wishes.language_meant, "CY")
    told("needs", editing.edit_needs, "W1477", None, ())
    told("withdrawn, but not said", editing.withdraw, "W1477", "objected", "Rang.")
    told("unsafe", editing.record_unsafe, "W1477")
    told("undone", undo.undo)
    told("the letter is read", timeline.timeline, "W1477")
    told.agrees("whole_edges")


def test_all_that_undoing_writes(whole: Desk) -> None:
    told = Story(whole)
    told.at(NEXT, "clara")
    number, other = referral(whole, "W1501"), referral(whole, "W1477")
    for act in (
        lambda desk: progress.sent(desk, number, None, "direct", "Mr Finch"),
        lambda desk: progress.write_letter(desk, number, None),
        lambda desk: progress.discharged_unseen(desk, other, None, "Did not come."),
        lambda desk: progress.record(desk, number, None, progress.News("appointment", NEXT)),
    ):
        told("done", act)
        told("what undo would do", undo.last)
        told("undone", undo.undo)
    told("done", progress.accepted, number, None, NEXT)
    told.at(NEXT, "rob")
    told("somebody else's", undo.undo, 10_000)
    told("nothing of one's own", undo.undo)
    told.at(NEXT + timedelta(days=1), "clara")
    told("of yesterday", undo.undo)
    told(
        "events", lambda desk: [row["what"] for row in rows(desk.store, tables.ReferralEvent)][-3:]
    )
    told.agrees("whole_undone")


SAID: tuple[Any, ...] = (
    "hearing_concern",
    Reported(what="pain", ear="right"),
    Reported(what="discharge", since="2026-08-20"),
    Reported(what="discharge", since="2026-08"),
    Reported(what="tinnitus_one_sided", ear="left", since=Before(years=2)),
    Reported(what="tinnitus_one_sided", since=Before(months=3)),
    Reported(what="pain", since=Before(weeks=2)),
    Reported(what="pain", since=Before(days=2)),
    Reported(what="sudden_hearing_loss", onset_days=1),
    Reported(what="sudden_hearing_loss", onset_days=2, because="After a cold."),
)


EARS = {
    "clear": CLEAR,
    "fluid": FLUID,
    "not examined": Ear(examined=False, not_examined="refused"),
    "traces": Ear(tympanogram=Tympanogram(peak_daPa=-210, compliance_ml=0.2, volume_ml=1.5)),
    "flat": Ear(tympanogram=Tympanogram(flat=True, volume_ml=1.1)),
    "type": Ear(tympanogram=Tympanogram(type="C")),
    "tests": Ear(hearing_screen="refer", hearing_dB={"500": 20, "1000": 25.5}),
    "wax": Ear(wax_found="occluding", wax_left="some", clearance="failed", clearance_tries=2),
    "cavity": Ear(cavity=True, cavity_quiet=False, discharge="purulent"),
    "hole": Ear(drum_seen="full", perforation="central", perforation_new=True, grommet="in_place"),
}


def test_each_sentence_of_findings(whole: Desk) -> None:
    """Days as they are said; months and what was told as so long before are about then."""
    told = Looks(whole)
    told("said", lambda _desk: findings_words.said_lines(SAID, ON))
    for name, ear in EARS.items():
        told(f"{name}", lambda _desk, ear=ear: findings_words.ear_lines(ear))
        told(f"{name}, for a letter", lambda _desk, ear=ear: findings_words.letter_ear_lines(ear))
        without = partial(findings_words.letter_ear_lines, ear, of_hearing=False)
        told(f"{name}, not of hearing", lambda _desk, said=without: said())
    told("nothing", lambda _desk: findings_words.ear_lines(None))
    case = Case(
        born=date(1990, 1, 1),
        visits=(
            Visit(on=date(2026, 1, 5), right=FLUID, left=CLEAR, reported=SAID[:2]),
            Visit(on=date(2026, 3, 5), right=CLEAR),
        ),
        risks=("diabetes", Risk(what="narrow_canal", ear="left", since="2020")),
        told_by_others=(
            ToldByOthers(on="2025-05", ear="left", source="GP", effusion="present"),
            ToldByOthers(on="2025-06-07", ear="right", source="School", hearing_tested=True),
        ),
    )
    for side in ("right", "left"):
        told(f"latest, {side}", lambda _desk, s=side: findings_words.latest_ear_lines(case, s))
    told("reported", lambda _desk: findings_words.reported_lines(case.visits[0]))
    for visit in (None, case.visits[0]):
        told("history", lambda _desk, v=visit: findings_words.history_lines(case, v))
        told("background", lambda _desk, v=visit: findings_words.background_lines(case, v))
    told.agrees("whole_findings")
