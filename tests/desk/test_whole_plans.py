"""What other rules, named decisions and the passing of time make of a whole practice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from msgspec.structs import replace as but

from recall.desk.contacts.contacting import log_contact
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.oversight.what_if import what_if
from recall.desk.plans import adoption, decisions, earlier_dates, judging, loosening, passing_time
from recall.desk.plans.decisions import Dates, Decided
from recall.protocol.loading import Protocol
from recall.protocol.rules import Recheck
from recall.schedule.plan_lines import Judgement
from tests.desk.telling import Looks, Story
from tests.desk.whole_practice import ON, follow_up

NEXT = ON + timedelta(days=1)


SOONER = {"earliest": "1 week", "target": "2 weeks", "latest": "3 weeks"}
LATER = {"earliest": "20 months", "target": "21 months", "latest": "22 months"}
WINDOWS = {"loss-child": SOONER, "down-under-six": SOONER, "wax-at-risk": LATER}
ENDED = {"wax-hearing-aid", "wax-twice-in-a-year", "grommet-over-two-years"}


def otherwise(desk: Desk) -> Protocol:
    """Rules that test some hearing sooner, look at some wax later, and at other wax no more."""
    rules = []
    for rule in desk.protocol.rules:
        counts = rule.since <= NEXT and (rule.until is None or rule.until > NEXT)
        changes = (counts and rule.id in WINDOWS) or rule.id in ENDED
        rules.append(but(rule, until=NEXT) if counts and changes else rule)
        if counts and rule.id in WINDOWS and isinstance(rule.ask, Recheck):
            ask = but(rule.ask, **WINDOWS[rule.id])
            rules.append(but(rule, version=rule.version + 9, since=NEXT, ask=ask))
    file = but(desk.protocol.file, rule=tuple(rules), version="2099.1")
    return Protocol(file, desk.protocol.contact, "changed", True)


def test_what_other_rules_would_make(whole: Desk) -> None:
    told = Looks(whole)
    told.at(NEXT, "clara")
    new = otherwise(told.desk)
    told("compared", adoption.compare_over_register, told.desk.protocol, new)
    told("in hindsight", what_if, new)
    told.agrees("whole_other_rules")


def test_all_that_adopting_other_rules_writes(whole: Desk) -> None:
    told = Story(whole)
    told.at(NEXT, "clara")
    new = otherwise(told.desk)
    told("adopted", adoption.adopt, new)
    told.desk = replace(told.desk, protocol=new)
    found = told("proposed", earlier_dates.proposals)
    for row, forward in zip(found, (True, False), strict=False):
        told("answered", earlier_dates.answer, row.number, forward=forward, why=" Agreed. ")
    told("no such proposal", earlier_dates.answer, 99, forward=True, why="Agreed.")
    loose = told("loosened", loosening.loosened)
    for rule in loose:
        take = rule.rule != "retry"
        told(rule.rule, loosening.answer_loosened, rule.rule, take=take, why=" Talked over. ")
    told("no such rule", loosening.answer_loosened, "none", take=True, why="Talked over.")
    told("struck", judging.struck_by_rule)
    told.agrees("whole_adopted")


def line_of(desk: Desk, ref: str, name: str, **made: Any) -> object:
    return judging.judge_line(desk, ref, name, Judgement(**made))


def test_all_that_named_decisions_write(whole: Desk) -> None:
    told = Story(whole)
    told.at(NEXT, "clara")
    for what in (*decisions.DECISIONS, "sing"):
        for ref in ("W1101", "W1485", "W1565"):
            told(
                f"what {what} would be for {ref}", decisions.preview, [follow_up(whole, ref)], what
            )
    days = Dates(date(2026, 9, 20), date(2026, 9, 25), date(2026, 9, 30))
    lost, child = follow_up(whole, "W1101"), follow_up(whole, "W1509")
    told("moved", decisions.decide, [lost], Decided("move", "Away.", dates=days))
    told("carried on", decisions.decide, [lost, child], Decided("carry_on", " Try again. "))
    told("not declined", decisions.decide, [child], Decided("informed_decline", "Said so."))
    away = Decided("transferred", "Moved to Cindermoor.")
    told("without having considered it", decisions.decide, [child], away)
    told("considered", decisions.decide, [child], replace(away, considered=True))
    told("closed again", decisions.decide, [child], Decided("carry_on", "Try again."))
    told("without a reason", decisions.decide, [lost], Decided("carry_on", " "))
    lines = judging.standing_lines(told.desk, "W1501").lines
    own = next(line.name for line in lines if line.name == "fluid:both")
    made = (
        {"does": "weigh", "because": "judgement", "urgency": "medium"},
        {"does": "weigh", "because": "judgement", "urgency": "urgent", "why": "Worried."},
        {"does": "move", "because": "judgement", "why": "Sooner."},
        {"does": "move", "because": "judgement", "why": "Sooner.",
         "window": (NEXT, date(2026, 9, 21), date(2026, 9, 20))},
        {"does": "strike", "because": "judgement", "until": NEXT, "why": "Later."},
        {"does": "strike", "because": "declines", "why": "Will not come."},
        {"does": "strike", "because": "declines", "why": "Will not come.", "considered": True},
    )  # fmt: skip
    for each in made:
        told(f"{each}", line_of, "W1501", own, **each)
    referred = next(line for line in lines if line.referral is not None)
    told("a referral moved", line_of, "W1501", referred.name, does="move", because="judgement",
         why="Sooner.", window=(NEXT, NEXT, NEXT))  # fmt: skip
    told("a referral struck", line_of, "W1497", "ent:both", does="strike",
         because="known_elsewhere", why="Seen there.", of="ent")  # fmt: skip
    told.agrees("whole_decisions")


def test_all_that_passing_time_writes(whole: Desk) -> None:
    told = Story(whole)
    told.at(date(2026, 9, 9), "rob")
    log_contact(told.desk, follow_up(whole, "W1473"), None, Attempt("phone", "left_message"))
    told.at(date(2026, 11, 2), "rob")
    told("brought up to date", passing_time.bring_up_to_date)
    told("again, everybody", passing_time.bring_up_to_date, everybody=True)
    told.agrees("whole_time")
