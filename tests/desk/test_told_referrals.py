"""All that referrals, decisions, judgements and care elsewhere write."""

from __future__ import annotations

from datetime import date

from recall.care.case import Reported, Visit
from recall.desk.core import undo
from recall.desk.core.session import Desk
from recall.desk.people import ear_history, person_card, timeline
from recall.desk.plans import clinician_asks, decisions, explaining, judging
from recall.desk.plans.decisions import Dates, Decided
from recall.desk.referrals import progress
from recall.desk.visits import care_elsewhere, closing, drafting
from recall.desk.visits.care_elsewhere import CareElsewhere
from recall.desk.visits.drafts import Acceptance, VisitNote
from recall.desk.worklists import referral_list
from recall.schedule.plan_lines import Judgement
from tests.desk.posting import child_with_fluid
from tests.desk.practice import CLEAR, DAY, FLUID, KERATIN, open_follow_ups, somebody, visit
from tests.desk.telling import Story

PAIN = Visit(on=DAY, right=FLUID, left=CLEAR, reported=(Reported(what="pain", ear="right"),))
NOTE = VisitNote("fluid_recheck", "Sooner.", words="Facial weakness?", ref="V1")


def close(desk: Desk, seen: Visit, note: VisitNote, **accepted: object) -> object:
    given = drafting.draft(desk, "W1", seen, note)
    return given.questions, closing.close_visit(desk, given, Acceptance(**accepted))  # type: ignore[arg-type]


def correct(desk: Desk, number: int, seen: Visit, **accepted: object) -> object:
    given = drafting.correction(desk, number, seen, VisitNote(words="Sides were wrong."))
    return given, closing.close_visit(desk, given, Acceptance(**accepted))  # type: ignore[arg-type]


def test_all_that_referrals_write(desk: Desk) -> None:
    person = somebody(desk)
    visit(desk, person, right=KERATIN)
    told = Story(desk)
    told("the list", referral_list.referrals)
    told("ask", clinician_asks.ask_referral, "W1", "audiology", ["left"], "high", " Masked. ")
    told("no service", clinician_asks.ask_referral, "W1", "vet", ["left"], "high", "Masked.")
    told("no ear", clinician_asks.ask_referral, "W1", "ent", ["nose"], "high", "Masked.")
    told("a look", clinician_asks.ask_look, "W1", "hearing_check", ["right"], None, "Worried.")
    told("no look", clinician_asks.ask_look, "W1", "look", ["right"], None, "Worried.")
    told("the letter", progress.draft_letter, 1)
    told("words for it", progress.record, 1, None, progress.News("worded", note="Please hurry."))
    told("spoke", progress.spoke_with, 1, None, " Mr Finch ")
    told("with nobody", progress.spoke_with, 1, None, " ")
    told("sent", progress.sent, 1, None, "gp", "Dr Quill")
    told("by pigeon", progress.sent, 1, None, "pigeon")
    told.agrees("referrals_asked")


def test_all_that_becomes_known_of_referrals(desk: Desk) -> None:
    visit(desk, somebody(desk), right=KERATIN)
    told = Story(desk)
    told("ask", clinician_asks.ask_referral, "W1", "audiology", ["left"], "high", " Masked. ")
    told.at(date(2026, 9, 9), "rob")
    told("accepted", progress.accepted, 1, None, date(2026, 9, 20))
    told("accepted", progress.accepted, 2, None)
    told("not mine to decide", progress.carry_on, 1, None, "Again.")
    told("rejected", progress.rejected, 2, None, " No such clinic. ")
    told("without a reason", progress.rejected, 2, None, " ")
    told("the list", referral_list.referrals)
    told.at(date(2026, 9, 29), "clara")
    told("carry on", progress.carry_on, 2, None, "To another.")
    told("seen", progress.seen, 1, None, "Operation planned.")
    followed = progress.Followed(date(2027, 9, 1))
    told("result", progress.result, 1, None, " Removed. ", they_follow=followed)
    told("empty", progress.result, 2, None, " ")
    told("no reason", progress.close, 2, None, "bored", "Why not.")
    told("close", progress.close, 2, None, "informed_decline", " Declines. ")
    told("the story", timeline.timeline, "W1")
    told("the person", person_card.person, "W1")
    told.agrees("referrals_known")


def test_all_that_visits_and_judgements_write(desk: Desk) -> None:
    somebody(desk)
    told = Story(desk)
    told("unlooked", close, PAIN, NOTE)
    told("close", close, PAIN, NOTE, looked=True, acknowledged_by="Clara", arranged_with="Finch")
    told("the lines", judging.standing_lines, "W1")
    told("why", explaining.explain_person, "W1")
    told("ears", ear_history.ear_history, "W1")
    told("strike", judging.judge_line, "W1", "fluid:right", Judgement("strike", "judgement", "No."))
    told(
        "strike what is none", judging.judge_line, "W1", "wax:left", Judgement("strike", "declines")
    )
    told("take back", judging.take_back, 1, " Yes. ")
    told("take back again", judging.take_back, 1, "Yes.")
    moved = (date(2026, 10, 1), date(2026, 10, 5), date(2026, 10, 9))
    told("move", judging.judge_line, "W1", "fluid:right",
         Judgement("move", "judgement", "Sooner.", window=moved))  # fmt: skip
    told("weigh", judging.judge_line, "W1", "fluid:right",
         Judgement("weigh", "judgement", "Sooner.", urgency="high"))  # fmt: skip
    told("undo", undo.undo)
    told(
        "elsewhere", judging.judge_line, "W1", "fluid:right", Judgement("strike", "known_elsewhere")
    )
    told.at(date(2026, 9, 9))
    told(
        "the other ear", correct, 1, Visit(on=DAY, left=FLUID), looked=True, milder_why="Mixed up."
    )
    told("void", closing.void_visit, 2, " Another child's. ")
    told("void without words", closing.void_visit, 2, " ")
    told(
        "care", care_elsewhere.record_care, "W1", CareElsewhere("ent", "right", "fluid", "2026-09")
    )
    told("care of nobody", care_elsewhere.record_care, "W1", CareElsewhere("vet"))
    told("ended", care_elsewhere.end_care, 1, " Moved. ")
    told("told", care_elsewhere.record_told, "W1", "2026-08", "left", " GP ", effusion="present")
    told(
        "told ahead", care_elsewhere.record_told, "W1", "2027-08", "left", "GP", effusion="present"
    )
    told("the story", timeline.timeline, "W1")
    told.agrees("corrections")


def test_all_that_decisions_write(desk: Desk) -> None:
    first = child_with_fluid(desk)
    second = child_with_fluid(desk, "W2")
    one, two = (open_follow_ups(desk.store, who)[0]["id"] for who in (first, second))
    told = Story(desk)
    told.at(date(2026, 9, 9), "rob")
    told("not mine to decide", decisions.decide, [one], Decided("keep_trying", "Try."))
    told.at(date(2026, 9, 9), "clara")
    for what in decisions.DECISIONS:
        told(f"what {what} would be", decisions.preview, [one, two], what)
        window = Dates(date(2026, 10, 1), date(2026, 10, 5), date(2026, 10, 9))
        days = window if what == "move" else None
        given = Decided(what, " Because. ", dates=days)
        told(f"{what} without the prompt", decisions.decide, [one], given)
        given = Decided(what, " Because. ", True, days)
        told(what, decisions.decide, [one, two], given)
        told("undo", undo.undo)
        told("undo", undo.undo)
    told.agrees("decisions")
