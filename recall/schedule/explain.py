"""Why a plan is what it is, in sentences: what matched, what nearly did, who won, the dates."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import msgspec

from recall.care.case import Case
from recall.care.ear import SIDES, Side
from recall.care.services import SERVICES
from recall.protocol.anchors import ANCHORS
from recall.protocol.context import Circumstance
from recall.protocol.loading import Asks, Protocol, Window
from recall.protocol.rules import Recheck
from recall.protocol.showing import say_known
from recall.schedule.asking import Scene
from recall.schedule.calendar import Calendar, say_day
from recall.schedule.fold import Folding, folding
from recall.schedule.nearly import RuleStory, tell_rule
from recall.schedule.own_cycle import Populations
from recall.schedule.plan import BECAUSE_WORDS, Closing, Decision, Due, Plan
from recall.schedule.planning import plan
from recall.schedule.windows import from_anchor

_ANCHOR_WORDS = {
    "visit": "the visit",
    "fluid_first_documented": "the day fluid was first documented",
    "last_hearing_test": "the last hearing test",
    "grommet_inserted": "the day the grommet was inserted",
    "hearing_aid_fitted": "the day the hearing aid was fitted",
    "loss_treated": "the end of treatment",
    "hole_first_documented": "the day the hole was first documented",
    "sudden_loss_began": "the day the sudden loss began, or the visit where that is not known",
}
_ENDED = {
    "answered": "was answered by this visit",
    "resolved": "is over: documented clear at this visit",
    "superseded": "gave way to a stricter ask",
    "struck_out": "was struck out by somebody who may decide",
}


class EarExplanation(msgspec.Struct, frozen=True):
    """What the rules made of one ear at the last visit."""

    ear: Side
    matched: tuple[str, ...]
    nearly: tuple[str, ...]
    dates: tuple[str, ...]


class Explanation(msgspec.Struct, frozen=True):
    """A plan with its reasons."""

    plan: Plan
    visit_on: date | None
    ears: tuple[EarExplanation, ...]
    answered: tuple[str, ...]
    combined: tuple[str, ...]
    judged: tuple[str, ...] = ()
    """What somebody struck out or lowered, and holds."""

    def sentences(self) -> tuple[str, ...]:
        """Return all of it, line by line, fit for a terminal."""
        if self.visit_on is None:
            return ("No visit with findings on or before that day, so nothing is asked.",)
        lines = [f"The last visit with findings was on {say_day(self.visit_on)}."]
        for ear in self.ears:
            lines += ["", f"{ear.ear.capitalize()} ear"]
            lines += [f"  matched: {m}" for m in ear.matched] or ["  No rule matched."]
            lines += [f"  nearly: {n}" for n in ear.nearly]
            lines += [f"  {d}" for d in ear.dates]
        parts = (
            ("Earlier asks", self.answered),
            ("Struck out or lowered", self.judged),
            ("Appointments", self.combined),
        )
        for title, said in parts:
            if said:
                lines += ["", title, *(f"  {s}" for s in said)]
        return tuple(lines)


def explain(
    case: Case,
    protocol: Protocol,
    on: date,
    *,
    calendar: Calendar | None = None,
    decisions: Sequence[Decision] = (),
    population: Populations = None,
) -> Explanation:
    """Return the plan on a day with its reasons, step by step."""
    state = folding(case, protocol, on, decisions=decisions, population=population)
    made = plan(case, protocol, on, calendar=calendar, decisions=decisions, population=population)
    if state.last is None or state.scene is None:
        return Explanation(made, None, (), (), ())
    ears = tuple(_explain_ear(side, state, state.scene, protocol) for side in SIDES)
    judged = tuple(say_held(held.decision) for held in state.judged.held.values())
    return Explanation(made, state.last.on, ears, _answers(state), _combined(made), judged)


def _explain_ear(side: Side, state: Folding, scene: Scene, protocol: Protocol) -> EarExplanation:
    stories = _stories(side, scene, protocol)
    return EarExplanation(
        side,
        tuple(_say_match(s, protocol, scene.age) for s in stories if s.matched),
        tuple(_say_nearly(s) for s in stories if s.nearly and not s.matched),
        tuple(_say_dates(side, state, scene, protocol)),
    )


def _stories(side: Side, scene: Scene, protocol: Protocol) -> list[RuleStory]:
    visit = scene.visit
    mine, other = (visit.right, visit.left) if side == "right" else (visit.left, visit.right)
    return [
        tell_rule(
            compiled, protocol.matcher, scene.bits[side], scene.circumstances[side], (mine, other)
        )
        for compiled in protocol.matcher.compiled
        if compiled.in_force(visit.on)
    ]


def _say_match(story: RuleStory, protocol: Protocol, age: int) -> str:
    rule = story.rule
    because = "; ".join(s.line + (f" ({s.why})" if s.why else "") for s in story.lines)
    known = say_known(protocol.asks[rule.id, rule.version].known_by(age))
    return f"{rule.id}, because {because}. {rule.says} Source: {rule.source} ({known})."


def _say_nearly(story: RuleStory) -> str:
    if story.blocked_by:
        why = f"not asked, for this is on record: {story.blocked_by}. {story.rule.unless_because}"
    else:
        failed = story.failing[0]
        why = f"{failed.line}: {failed.outcome}"
        why += f" ({failed.why})" if failed.why and failed.why != failed.outcome else ""
    return f"{story.rule.id}: {why}"


def _say_dates(side: Side, state: Folding, scene: Scene, protocol: Protocol) -> list[str]:
    """Return how the dates of each track of an ear came out, and who won."""
    said = []
    for key, due in sorted(state.open.items(), key=lambda item: item[1].latest):
        if key[0] != side:
            continue
        rivals = [d for d in state.asked.dues if (d.ear, d.track, d.kind) == key]
        said += _say_track(due, rivals, scene.circumstances[side], protocol)
    for referral in state.referrals.values():
        if side in referral.ears:
            said.append(
                f"Referral to {SERVICES[referral.to].short}, {referral.urgency}: asked on "
                f"{say_day(referral.asked_on)} by {', '.join(r.rule for r in referral.reasons)}; "
                f"to be seen by {say_day(referral.stages.seen_by)}."
            )
    return said


def _say_track(
    due: Due, rivals: list[Due], circumstance: Circumstance, protocol: Protocol
) -> list[str]:
    track = due.track.replace("_", " ")
    window = (
        f"from {say_day(due.earliest)}, best on {say_day(due.target)}, "
        f"at the latest on {say_day(due.latest)}"
    )
    said = [f"{track} ({due.kind}), {due.urgency}: {window}."]
    for rival in rivals:
        said.append("  " + _say_window(rival, circumstance, protocol))
    if due.asked_on < circumstance.on:
        said.append(f"  Asked on {say_day(due.asked_on)} by {due.rule} and still standing.")
    if len({(r.rule, r.latest) for r in [*rivals, due]}) > 1:
        said.append(f"  {due.rule} stands: no last day is earlier.")
    if due.cycle:
        said.append(f"  {due.cycle}")
    return said


def _say_window(due: Due, circumstance: Circumstance, protocol: Protocol) -> str:
    asks: Asks = protocol.asks[due.rule, due.rule_version]
    ask = asks.rule.ask
    assert isinstance(ask, Recheck) and asks.window is not None
    anchor = ANCHORS[ask.anchor](circumstance)
    window: Window = asks.window
    if anchor is None:
        assert asks.never is not None
        window, start, words = asks.never, circumstance.on, "the visit, since it never happened"
    else:
        start, words = anchor, _ANCHOR_WORDS[ask.anchor]
    plain = from_anchor(window, start)
    said = (
        f"{due.rule} counts {window.earliest}, {window.target} and {window.latest} from "
        f"{words} ({say_day(start)}): {say_day(plain.earliest)}, {say_day(plain.target)}, "
        f"{say_day(plain.latest)}."
    )
    if not due.cycle and plain.target < circumstance.on:
        said += f" That has passed, so it is asked for now, until {say_day(due.latest)}."
    return said


def _answers(state: Folding) -> tuple[str, ...]:
    assert state.last is not None
    on = state.last.on
    said = [_say_closing(c) for c in state.closings if c.on == on]
    for missed in state.unanswered:
        said.append(
            f"{missed.track.replace('_', ' ')} ({missed.ear} ear) is not answered: "
            f"{missed.because} Its last day stays {say_day(missed.latest)}."
        )
    return tuple(said)


def _say_closing(closing: Closing) -> str:
    due = closing.due
    how = _ENDED.get(closing.reason, f"was closed: {closing.reason.replace('_', ' ')}")
    return (
        f"{due.track.replace('_', ' ')} ({due.ear} ear), asked on {say_day(due.asked_on)}, {how}."
    )


def say_held(decision: Decision) -> str:
    """Say what was decided of a line, why, and how long that holds."""
    about = (decision.to or decision.track or "").replace("_", " ")
    done = "struck out" if decision.action == "strike" else f"made {decision.urgency}"
    why = BECAUSE_WORDS[decision.because] if decision.because else "a decision"
    more = f": {decision.why}" if decision.why else ""
    until = f", or {say_day(decision.until)}" if decision.until else ""
    return (
        f"{about} ({decision.ear} ear, {decision.rule}): {done} on {say_day(decision.on)}, "
        f"{why}{more}. It holds until something in that ear is worse or new{until}."
    )


def _combined(made: Plan) -> tuple[str, ...]:
    said = []
    for follow_up in made.follow_ups:
        tracks = ", ".join(t.replace("_", " ") for t in follow_up.tracks)
        line = f"{say_day(follow_up.target)}: {tracks}."
        if follow_up.offer_on is not None:
            line += f" Open day to offer: {say_day(follow_up.offer_on)}."
        said.append(" ".join((line, *follow_up.reasons)))
    return tuple(said)
