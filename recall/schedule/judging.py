"""Lines of the plan that somebody judged otherwise than the rules, and how long that holds.

A line that was struck out stays so, for that ear, track and rule, whenever the person is planned
again and at every later visit, until something in that ear is worse or new, or until the day that
was given with it. So does a line that was made less urgent. An emergency falls only with what
explains it for that ear, and only for that day: asked again at a later visit, it stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import msgspec

from recall.care.case import Reported, To, ToldByOthers, Track, Urgency, Visit
from recall.care.ear import Ear, Side, recorded
from recall.care.worse import worse_or_new
from recall.protocol.loading import Protocol
from recall.schedule.deciding import weighed
from recall.schedule.explained import hearing_is_back
from recall.schedule.merging import RANK
from recall.schedule.plan import Decision, Due, Reason, Referral, Stages

About = Track | To
Name = tuple[Side, About, str]
"""What a judgement is about: ear, track or service, rule."""
OF_DAY: frozenset[str] = frozenset({"wax", "view", "canal_skin"})
"""Tracks for which wax and the view count as findings that may be worse."""


@dataclass(frozen=True)
class Held:
    """One judgement that may still hold, with what was known of the ear on its day."""

    decision: Decision
    track: Track
    known: Mapping[str, Any]
    said: frozenset[str]

    def ends_with(self, visit: Visit, ear: Ear | None) -> bool:
        """Return whether a visit finds the ear worse, or something new in it."""
        said = words_said(visit, self.decision.ear, since=self.decision.on)
        if said - self.said:
            return True
        return worse_or_new(self.known, recorded(ear), of_day=self.track in OF_DAY)


def words_said(visit: Visit, side: Side, since: date | None = None) -> frozenset[str]:
    """Return what was reported of an ear; with its day where it began only after `since`."""
    found = set()
    for item in visit.reported:
        if isinstance(item, Reported) and item.ear not in (None, side):
            continue
        word = item.what if isinstance(item, Reported) else item
        began = getattr(item, "since", None)
        later = since is not None and isinstance(began, str) and began[:10] > since.isoformat()
        found.add(f"{word} {began}" if later else word)
    return frozenset(found - {"loss_explained"})


def rules_of(due: Due) -> tuple[str, ...]:
    """Return every rule that a due stands for: its own, and those that it took in."""
    return (due.rule, *due.beaten) if due.kind == "recheck" else (due.rule,)


def explained_away(
    urgency: Urgency,
    tracks: Iterable[str],
    decision: Decision,
    ears: tuple[Ear | None, Ear | None],
    sure: bool,
) -> bool:
    """Return whether a line may be struck out or made milder by a decision.

    An emergency takes what explains it; one about hearing takes evidence for that ear as well.

    Args:
        urgency: of the line.
        tracks: that it is about.
        decision: what was decided.
        ears: this ear and the other one, as the last visit found them.
        sure: how strictly hearing counts as being back.
    """
    if urgency != "emergency":
        return True
    if decision.because != "explained" or not decision.why.strip():
        return False
    return "hearing" not in set(tracks) or hearing_is_back(*ears, sure)


class Judged:
    """The judgements of one person that hold, as the fold goes on."""

    def __init__(self, protocol: Protocol) -> None:
        self.protocol = protocol
        self.held: dict[Name, Held] = {}
        self.silent: list[tuple[Side, Due | Referral, Decision]] = []
        """What the last visit asks and somebody had struck out, with that decision."""

    def hold(self, decision: Decision, track: Track, visits: Sequence[Visit]) -> None:
        """Keep a judgement, with what the visits so far recorded of the ear."""
        known: dict[str, Any] = {}
        for visit in visits:
            known |= recorded(visit.right if decision.ear == "right" else visit.left)
        last = visits[-1] if visits else None
        said = words_said(last, decision.ear) if last else frozenset()
        about = decision.to or decision.track
        assert about is not None, "a judgement is about a track or a service"
        self.held[decision.ear, about, decision.rule] = Held(decision, track, known, said)

    def struck(self, side: Side, about: About, rule: str) -> bool:
        """Return whether what a rule asks was struck out, and still is."""
        held = self.held.get((side, about, rule))
        return held is not None and held.decision.action == "strike"

    def hear(self, told: ToldByOthers) -> None:
        """End what somebody else found worse or new."""
        found = {
            "effusion": told.effusion,
            "hearing_dB": told.hearing_dB,
            "tympanogram": told.tympanogram,
        }
        now = {name: value for name, value in found.items() if value is not None}
        for name, held in list(self.held.items()):
            if held.decision.ear == told.ear and worse_or_new(held.known, now):
                del self.held[name]

    def look(self, visit: Visit, ears: Mapping[Side, Ear | None]) -> None:
        """End what a visit finds worse or new, and what only held until an earlier day."""
        self.silent = []
        if not self.held:
            return
        for name, held in list(self.held.items()):
            until = held.decision.until
            over = until is not None and until <= visit.on
            if over or held.ends_with(visit, ears[held.decision.ear]):
                del self.held[name]

    def dues(self, asked: Iterable[Due]) -> Iterator[Due]:
        """Give what is asked without what was struck out, as urgent as it was judged to be."""
        for due in asked:
            held = self.held.get((due.ear, due.track, due.rule))
            decision = held.decision if held else None
            if decision is None or due.urgency == "emergency":
                yield due
            elif decision.action == "strike":
                self.silent.append((due.ear, due, decision))
            elif decision.urgency and RANK[due.urgency] < RANK[decision.urgency]:
                yield msgspec.structs.replace(due, urgency=decision.urgency)
            else:
                yield due

    def referrals(self, asked: Iterable[Referral]) -> Iterator[Referral]:
        """Give the referrals that are asked, likewise; each is of one ear and one rule."""
        for referral in asked:
            side, rule = referral.ears[0], referral.reasons[0].rule
            held = self.held.get((side, referral.to, rule))
            decision = held.decision if held else None
            if decision is None or referral.urgency == "emergency":
                yield referral
            elif decision.action == "strike":
                self.silent.append((side, referral, decision))
            elif decision.urgency and RANK[referral.urgency] < RANK[decision.urgency]:
                yield weighed(referral, decision.urgency, referral.asked_on, self.protocol)
            else:
                yield referral


def put_off(due: Due, decision: Decision) -> Due | None:
    """Return a due that was struck out until a day: it stands again from then, as long as before.

    None where no day was given.
    """
    if decision.until is None:
        return None
    by = timedelta(max(0, (decision.until - due.earliest).days))
    return msgspec.structs.replace(
        due,
        earliest=due.earliest + by,
        target=due.target + by,
        latest=due.latest + by,
        asked_on=decision.on,
    )


def put_off_referral(referral: Referral, decision: Decision) -> Referral | None:
    """Return a referral likewise: its stages count from the day that was given."""
    if decision.until is None:
        return None
    by = timedelta(max(0, (decision.until - referral.asked_on).days))
    stages = referral.stages
    later = Stages(
        sent_by=stages.sent_by + by,
        accepted_by=stages.accepted_by + by,
        seen_by=stages.seen_by + by,
        result_by=stages.result_by + by,
    )
    return msgspec.structs.replace(
        referral,
        stages=later,
        within_days=(later.seen_by - decision.on).days,
        asked_on=decision.on,
    )


def without_rule(referral: Referral, rule: str) -> tuple[Reason, ...]:
    """Return a referral's reasons without those of one rule."""
    return tuple(r for r in referral.reasons if r.rule != rule)
