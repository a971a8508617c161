"""What the form asks, warns of and stores at visits of a whole practice, corrections with them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from msgspec.structs import replace as but

from recall.care.case import Reported, Visit
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.people import ear_history
from recall.desk.plans import judging
from recall.desk.visits import clearing, closing, drafting, examining, finding, milder
from recall.desk.visits.clearing import Clear
from recall.desk.visits.drafts import Acceptance, Draft, VisitNote
from recall.schedule.plan_lines import Does, Judgement, lines_of
from tests.desk.practice import CLEAR, FLUID, KERATIN
from tests.desk.telling import Looks, Story
from tests.desk.whole_practice import ON

NEXT = ON + timedelta(days=1)
DRY = but(CLEAR, hearing_dB={"500": 40, "1000": 45, "2000": 50, "4000": 60})
WORSE = Reported(what="sudden_hearing_loss", ear="left", since="2026-09-05")
FORMS: dict[str, tuple[str, Visit, VisitNote]] = {
    "clear": ("W1501", Visit(on=NEXT, right=CLEAR, left=CLEAR), VisitNote("fluid_recheck")),
    "sides changed": ("W1473", Visit(on=NEXT, right=but(CLEAR, tensa_grade=2), left=CLEAR),
                      VisitNote()),
    "the same day": ("W1485", Visit(on=ON, right=FLUID, left=FLUID), VisitNote(words="Again.")),
    "before the last": ("W1485", Visit(on=ON - timedelta(days=9), left=FLUID), VisitNote()),
    "sudden": ("W1021", Visit(on=NEXT, left=DRY, reported=(WORSE,)), VisitNote("refer", "Asked.")),
    "in the note": ("W1101", Visit(on=NEXT, right=CLEAR),
                    VisitNote(words="Facial weakness, and suddenly deaf on the left.")),
    "worn bone": ("W1333", Visit(on=NEXT, right=KERATIN), VisitNote("wax_routine")),
    "no drum": ("W1241", Visit(on=NEXT, right=Ear(wax_found="occluding", wax_left="occluding",
                clearance="failed", drum_seen="none"), left=Ear(drum_seen="part")), VisitNote()),
    "cavity": ("W1365", Visit(on=NEXT, right=Ear(cavity=True, cavity_quiet=False,
               discharge="purulent")), VisitNote(ears=("right",))),
    "a grommet": ("W1549", Visit(on=NEXT, right=but(CLEAR, grommet="gone")), VisitNote()),
    "hurt by care": ("W1045", Visit(on=NEXT, right=but(CLEAR, hearing_after="worse")), VisitNote()),
    "nothing": ("W1145", Visit(on=NEXT), VisitNote()),
    "ahead": ("W1145", Visit(on=NEXT + timedelta(days=1), right=CLEAR), VisitNote()),
}  # fmt: skip


def shown(draft: Draft) -> dict[str, Any]:
    """Return what a draft shows, without the plan of all that is open."""
    kept = ("questions", "suggested", "milder", "offers")
    lines = [(line.name, line.urgency, str(line.latest)) for line in lines_of(draft.plan)]
    groundless = [line.name for line in draft.groundless]
    return {name: getattr(draft, name) for name in kept} | {"open": lines, "gone": groundless}


def drafted(desk: Desk, ref: str, visit: Visit, note: VisitNote) -> dict[str, Any]:
    return shown(drafting.draft(desk, ref, visit, note))


def test_what_the_form_shows_of_each_visit(whole: Desk) -> None:
    told = Looks(whole)
    told.at(NEXT, "clara")
    for name, (ref, visit, note) in FORMS.items():
        told(name, drafted, ref, visit, note)
    told(
        "a piece of a case file",
        finding.read_visit,
        "W1021",
        b'{"left": {"wax_found": "some"}}',
        ON,
    )
    told("no visit", finding.read_visit, "W1021", b'{"left": {"wax": 1}}', ON)
    told("no JSON", finding.read_visit, "W1021", b"{", ON)
    told("by number", finding.find_visit, "#112")
    told("before birth", finding.read_visit, "W1501", b'{"on": "2020-01-01"}', ON)
    for began_by in ("", "clara", "osei", "rob", "nobody"):
        told(f"begun by {began_by}", examining.examined, began_by)
    for ref in ("W1021", "W1485", "W1549"):
        plain = Visit(on=NEXT, left=Ear(drum_seen="full"))
        told(f"clear, {ref}", clearing.clear_visit, ref, plain, Clear("some", "drum", "same"))
        told(f"one ear, {ref}", clearing.clear_visit, ref, plain,
             Clear("none", "part", ears=("right",)))  # fmt: skip
    told("hears better by nothing", clearing.clear_visit, "W1021", Visit(on=NEXT),
         Clear("none", "drum", "better"))  # fmt: skip
    known = ear_history.ear_history(told.desk, "W1485")
    plan = ear_history.planned(told.desk, known, FORMS["the same day"][1])
    told("planned", lambda _desk: [(line.name, line.latest) for line in lines_of(plan)])
    told.agrees("whole_forms")


def closed(desk: Desk, name: str, **accepted: Any) -> object:
    ref, visit, note = FORMS[name]
    done = closing.close_visit(desk, drafting.draft(desk, ref, visit, note), Acceptance(**accepted))
    return done.visit_id, done.words


def struck(desk: Desk, ref: str, name: str, does: Does = "strike", **more: Any) -> object:
    return judging.judge_line(desk, ref, name, Judgement(does, "judgement", "No longer.", **more))


def corrected(desk: Desk, number: int, visit: Visit, **accepted: Any) -> object:
    draft = drafting.correction(desk, number, visit, VisitNote(words="Put right."))
    done = closing.close_visit(desk, draft, Acceptance(**accepted))
    return shown(draft)["milder"], done.words


def test_all_that_closing_and_correcting_visits_write(whole: Desk) -> None:
    told = Story(whole)
    told.at(NEXT, "rob")
    told("by who may not confirm", closed, "clear", looked=True)
    told.at(NEXT, "clara")
    told("without a look", closed, "sides changed")
    told("with one", closed, "sides changed", looked=True)
    told("pressing", closed, "sudden", looked=True)
    told("nobody arranged it", closed, "sudden", looked=True, acknowledged_by=" Clara Voss ")
    told("arranged", closed, "sudden", looked=True, acknowledged_by=" Clara Voss ",
         arranged_with=" Mr Finch ")  # fmt: skip
    told("an emergency struck", struck, "W1021", "ent:left")
    told("an emergency weighed", struck, "W1021", "ent:left", "weigh", urgency="medium")
    told("the ear is clear", closed, "clear", looked=True)
    strike = Judgement("strike", "judgement", "Looked at there.")
    told("struck as it is closed", closed, "cavity", looked=True,
         judged=(("cavity:right", strike),))  # fmt: skip
    told("milder", corrected, 112, Visit(on=ON, right=CLEAR), looked=True)
    told("milder, with why", corrected, 112, Visit(on=ON, right=CLEAR), looked=True,
         milder_why=" The wrong sheet. ")  # fmt: skip
    told("what waits", milder.milder_lines)
    told("one's own", milder.see_milder, 1)
    told("a visit that is none", corrected, 999, Visit(on=ON, right=CLEAR), looked=True)
    told("void", closing.void_visit, 111, " Another child's. ")
    told.at(NEXT, "osei")
    told("seen by a second one", milder.see_milder, 1)
    told("again", milder.see_milder, 1)
    told("what still waits", milder.milder_lines)
    told.agrees("whole_closings")
