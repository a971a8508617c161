"""A plan as lines that somebody may judge otherwise: each an ask in one ear or both, or a referral.

A line is named by what it is about and the ears, so that it is the same one however the list is
ordered: `fluid:right`, `view-again:left`, `ent:both`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import msgspec

from recall.care.case import To, Track, UnderCare, Urgency
from recall.care.ear import SIDES, Side
from recall.care.services import SERVICES
from recall.schedule.calendar import say_day
from recall.schedule.judging import rules_of
from recall.schedule.merging import RANK, most_pressing
from recall.schedule.one_place import OBJECT_LOOKS
from recall.schedule.plan import Because, Decision, Due, Kind, Plan, Referral
from recall.schedule.reading import reasons_read

Does = Literal["strike", "move", "weigh"]
KIND_WORDS: dict[Kind, str] = {"recheck": "", "retry": "again", "loop": "elsewhere"}


def about_words(due: Due) -> str:
    """Return what a due is about, in words: its track, or the object that is looked for."""
    is_object = bool(OBJECT_LOOKS.intersection(rules_of(due)[:1]))
    return "object in the ear" if is_object else due.track.replace("_", " ")


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """One line of a plan."""

    dues: tuple[Due, ...] = ()
    """The same ask, ear by ear; empty where it is a referral."""
    referral: Referral | None = None

    @property
    def name(self) -> str:
        """Return what names it."""
        what: str = self.referral.to if self.referral else self.dues[0].track
        if self.dues and (kind := KIND_WORDS[self.dues[0].kind]):
            what = f"{what}-{kind}"
        return f"{what.replace('_', '-')}:{'both' if len(self.ears) > 1 else self.ears[0]}"

    @property
    def ears(self) -> tuple[Side, ...]:
        """Return which ears it is about."""
        held = self.referral.ears if self.referral else tuple(d.ear for d in self.dues)
        return tuple(side for side in SIDES if side in held)

    @property
    def urgency(self) -> Urgency:
        """Return how urgent it is."""
        if self.referral is not None:
            return self.referral.urgency
        return most_pressing([due.urgency for due in self.dues])

    @property
    def asked_on(self) -> date:
        """Return the day that asked for it."""
        return self.referral.asked_on if self.referral else self.dues[0].asked_on

    @property
    def latest(self) -> date:
        """Return its last day."""
        return self.referral.stages.seen_by if self.referral else self.dues[0].latest

    @property
    def says(self) -> str:
        """Return why it is asked for."""
        if self.referral is None:
            return self.dues[0].says
        return " ".join(reason.says for _, reason in reasons_read(self.referral.reasons))

    def parts(self) -> tuple[tuple[Side, Track, str], ...]:
        """Return each ear, track and rule that it stands for."""
        if self.referral is not None:
            return tuple(dict.fromkeys((r.ear, r.track, r.rule) for r in self.referral.reasons))
        return tuple((d.ear, d.track, rule) for d in self.dues for rule in rules_of(d))

    def words(self) -> str:
        """Return it in a few words.

        A look says what it is about, a referral where to.
        """
        ears = "both ears" if len(self.ears) > 1 else f"{self.ears[0]} ear"
        if self.referral is not None:
            return f"refer to {SERVICES[self.referral.to].short}, {ears}"
        due = self.dues[0]
        kind = KIND_WORDS[due.kind]
        return f"{about_words(due)}{f' {kind}' if kind else ''}, {ears}"


def lines_of(plan: Plan) -> tuple[Line, ...]:
    """Return the lines of a plan: referrals first, then the dues, the most pressing first."""
    same: dict[tuple[object, ...], list[Due]] = {}
    for follow_up in plan.follow_ups:
        for due in follow_up.dues:
            key = due.track, due.kind, due.rule, due.latest, due.earliest, due.asked_on
            same.setdefault(key, []).append(due)
    found = [Line(referral=r) for r in plan.referrals]
    looks = [Line(dues=tuple(sorted(d, key=lambda e: SIDES.index(e.ear)))) for d in same.values()]
    looks.sort(key=lambda line: (RANK[line.urgency], line.latest))
    return (*found, *looks)


def line_named(lines: Sequence[Line], name: str) -> Line | None:
    """Return the line of a name."""
    return next((line for line in lines if line.name == name), None)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What somebody makes of a line, and why."""

    does: Does
    because: Because
    why: str = ""
    until: date | None = None
    """For a strike-out: the day from which the line stands again."""
    urgency: Urgency | None = None
    window: tuple[date, date, date] | None = None
    of: To | None = None
    """For what is known elsewhere: to whom; where it is left out, who usually follows it."""
    where: str = ""
    """For what is known elsewhere: at which clinic or hospital."""
    next_seen: date | None = None
    """For what is known elsewhere: when they are seen there next, where that is known."""
    considered: bool = False
    """The practice's prompt about those whom others bring was considered."""

    @property
    def words(self) -> str:
        """Return what was said of it: its words, where it is known, and when they are seen there.

        >>> Judgement("strike", "known_elsewhere", where="York", next_seen=date(2027, 2, 3)).words
        'at York, seen there next on 3 February 2027'
        """
        at = f"at {self.where.strip()}" if self.where.strip() else ""
        there = f"seen there next on {say_day(self.next_seen)}" if self.next_seen else ""
        return ", ".join(filter(None, (self.why.strip(), at, there)))


def decided(line: Line, judgement: Judgement, on: date) -> tuple[Decision, ...]:
    """Return the decisions that a judgement of a line comes to, for the fold to take in."""
    raised = judgement.urgency is not None and RANK[judgement.urgency] < RANK[line.urgency]
    kind: Kind = line.dues[0].kind if line.dues else "recheck"
    to = line.referral.to if line.referral else None
    parts = line.parts()
    if judgement.does == "move" or raised:
        # the line's own rule speaks for those it took in
        parts = tuple(
            {(ear, to or track): (ear, track, rule) for ear, track, rule in parts[::-1]}.values()
        )
    first, target, last = judgement.window or (None, None, None)
    return tuple(
        Decision(
            on=on,
            ear=ear,
            track=track,
            to=to,
            kind=kind,
            action=judgement.does,
            reason="struck_out" if judgement.does == "strike" else "clinician_decision",
            rule=rule,
            because=judgement.because,
            why=judgement.words,
            until=judgement.until,
            urgency=judgement.urgency,
            earliest=first,
            target=target,
            latest=last,
        )
        for ear, track, rule in parts
    )


def care_of(line: Line, judgement: Judgement, on: date, child: bool) -> tuple[UnderCare, ...]:
    """Return whose care a line is known to be under, where that is why it is struck out."""
    if judgement.because != "known_elsewhere" or judgement.does != "strike":
        return ()
    usual: To = "ent"
    if line.referral is not None:
        usual = line.referral.to
    elif line.dues[0].track in ("hearing", "surveillance"):
        usual = "paediatric_audiology" if child else "audiology"
    of = judgement.of or usual
    pairs = dict.fromkeys((ear, track) for ear, track, _ in line.parts())
    care = UnderCare(
        of=of,
        since=on.isoformat(),
        where=judgement.where.strip() or None,
        next_seen=judgement.next_seen,
    )
    return tuple(msgspec.structs.replace(care, ear=ear, track=track) for ear, track in pairs)
