"""What a clinician answers of history: still open, done, not needed, under whose care.

Each answer is a decision of a named person, in the history, and can be taken back like anything
else. What is still open begins anew: its window opens today, and it enters its steps from here.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import To, Visit
from recall.care.dates import resolve
from recall.desk.core.acting import Act, Next, Open, open_row, row_of
from recall.desk.core.guarding import needs
from recall.desk.core.portions import Portion
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.row_number import row_number
from recall.desk.core.session import Desk
from recall.desk.plans.changeover import KIND, of_kind, old_referrals, still_old
from recall.desk.plans.decisions import close_due, dues_of
from recall.desk.referrals.ends import end_row, together
from recall.desk.referrals.progress import RESULT_BACK
from recall.desk.visits.judging import keep, refuse
from recall.errors import Conflict, InputError, RecallError
from recall.loop.referral import ReferralLoop
from recall.records import tables
from recall.records.facts.cases import case_for
from recall.records.facts.referral_loops import referral_loops
from recall.schedule.calendar import say_day
from recall.schedule.plan import BECAUSE_WORDS, Because
from recall.schedule.plan_lines import Judgement, Line

AT_ONCE = 20
"""So many answers are one write at the most: each works out the plan of somebody anew."""
What = Literal["still_open", "done", "not_needed", "under_care"]
WHATS: dict[What, str] = {
    "still_open": "still open",
    "done": "was done",
    "not_needed": "not needed",
    "under_care": "under somebody's care",
}


@dataclass(frozen=True, slots=True)
class Answer:
    """What somebody who may decide makes of something that history asked for."""

    what: What
    why: str = ""
    """More words."""
    where: str = ""
    """Of what was done: where."""
    when: str = ""
    """Of what was done: the day or month."""
    because: Because = "judgement"
    """Of what is not needed: the reason of the list."""
    of: To | None = None
    """Of what is under somebody's care: whose; where it is left out, who usually follows it."""
    considered: bool = False
    """The practice's prompt about those whom others bring was considered."""

    def check(self, today: date) -> None:
        """Refuse what is not whole."""
        if self.what not in WHATS:
            raise InputError(f"{self.what!r} is no answer.", hint=f"It may be: {', '.join(WHATS)}.")
        if self.what == "done":
            required(self.where, "It was done, and nobody says where.", hint="Say where.")
            required(self.when, "It was done, and nobody says when.", hint="Say when.")
            self.done_on(today)
        if self.what == "not_needed" and self.because == "judgement":
            required(self.why, "Clinical judgement needs its words.", hint="Say why.")

    def done_on(self, today: date) -> date:
        """Return the day on which it was done, the first one of a month."""
        try:
            day = resolve(self.when.strip(), date.max).on
        except ValueError:
            hint = "Type it as 2025-03-14 or 2025-03."
            raise InputError(f"{self.when!r} is no day or month.", hint=hint) from None
        if day > today:
            raise InputError(f"{self.when} is ahead.", hint="Give the day on which it was done.")
        return day

    def words(self) -> str:
        """Return it in words, for the history."""
        more = f": {self.why.strip()}" if self.why.strip() else ""
        if self.what == "done":
            return f"Done elsewhere: {self.where.strip()}, {self.when.strip()}{more}"
        if self.what == "not_needed":
            return f"Not needed, {BECAUSE_WORDS[self.because]}{more}"
        if self.what == "under_care":
            of = "" if self.of is None else f" of {self.of.replace('_', ' ')}"
            return f"Under the care{of}{more}"
        return f"Still open{more}"


@needs(Right.DECIDE)
def answer(
    desk: Desk, asks: Sequence[str], given: Answer, versions: Mapping[str, int] | None = None
) -> list[Next]:
    """Answer some things of history, all of them or none; many in portions.

    Other desks wait for one portion at the most. What is refused in the first leaves everything
    as it was; in a later one it says how many are answered, and these stand.

    Args:
        desk: somebody who may decide, on which day.
        asks: as they were shown: F and a follow-up's number, R and a referral's.
        given: the answer.
        versions: of each, as it was looked at.

    Raises:
        Conflict: one was answered, changed or closed meanwhile.
        Refused: an emergency that nothing explains is not struck out.
        InputError: the answer is not whole.
    """
    given.check(desk.today)
    found, desk, so_far = list[Next](), desk.as_one(), _SoFar()
    every, portion = list(dict.fromkeys(asks)), Portion(AT_ONCE)
    rest = every
    while rest:
        with portion.one() as most:
            some, rest = rest[:most], rest[most:]
            try:
                found += _answer_some(desk, some, given, versions or {}, so_far)
            except RecallError as error:
                if not found:
                    raise
                done = len(every) - len(rest) - len(some)
                raise Conflict(
                    f"Of {len(every):,} shown, {done:,} are answered; the others are not: {error}",
                    hint="Look at the list again: it shows what is left.",
                ) from error
    return found


def _answer_some(
    desk: Desk, asks: Sequence[str], given: Answer, versions: Mapping[str, int], so_far: _SoFar
) -> list[Next]:
    """Answer one portion, all of it or nothing."""
    found = list[Next | None]()
    with desk.store.write() as session:
        if not so_far.old and any(ask[:1] == "R" for ask in asks):
            so_far.old.update(old_referrals(desk, session))
        for ask in asks:
            number, version = _number(ask), versions.get(ask)
            if ask[0] == "F":
                row = so_far.row(session, tables.FollowUp, number, version)
                if row is not None:
                    found.append(_answer_follow_up(desk, session, row, given, so_far))
                continue
            if number in so_far.done:
                continue
            if number not in so_far.old:
                raise _gone(ask)
            referral = so_far.row(session, tables.Referral, number, version)
            if referral is not None:
                found.append(_answer_together(desk, session, referral, given, so_far))
    return [each for each in found if each]


@dataclass(frozen=True)
class _SoFar:
    """What was answered of several things before the next of them."""

    old: set[int] = field(default_factory=set)
    """The referrals that wait to be looked through."""
    done: set[int] = field(default_factory=set)
    people: set[int] = field(default_factory=set)

    def row(
        self, session: Session, table: type[Open], number: int, version: int | None
    ) -> Open | None:
        """Return what is to be answered; none where it fell with something of the same person.

        A plan is worked out anew with each answer: what asks for the same may close with it.
        """
        row = row_of(session, table, number)
        if row.person_id not in self.people:
            return open_row(session, table, number, version)
        return row if row.is_open else None


@needs(Right.DECIDE)
def answer_kind(desk: Desk, kind: str, expected: int, given: Answer) -> list[Next]:
    """Answer everything of one kind, if it is still as much as was shown.

    Raises:
        Conflict: it is more or less by now; nothing was answered.
        NotFound: nothing of that kind waits.
    """
    lines = of_kind(desk, kind)
    if len(lines) != expected:
        raise Conflict(
            f"{len(lines):,} of {kind} wait, not {expected:,}; nothing was answered.",
            hint="Look at them again, then repeat with the number that is shown.",
        )
    return answer(desk, [each.ask for each in lines], given, {e.ask: e.version for e in lines})


def _number(ask: str) -> int:
    number = row_number(ask[1:])
    if ask[:1] not in ("F", "R") or number is None:
        hint = "They are named as on the list: F12, R7."
        raise InputError(f"{ask!r} names nothing of the history.", hint=hint)
    return number


def _gone(ask: str) -> Conflict:
    return Conflict(
        f"{ask} does not wait to be looked through any more.", hint="Look at the list again."
    )


def _answer_follow_up(
    desk: Desk, session: Session, row: tables.FollowUp, given: Answer, so_far: _SoFar
) -> Next | None:
    """Answer a follow-up; none where it is no history any more by an answer before it."""
    number = row.id
    still = still_old(desk, session, [number])
    if not still and row.person_id in so_far.people:
        return None
    if not still:
        raise _gone(f"F{number}")
    so_far.people.add(row.person_id)
    act = Act(desk, session, row.person_id)
    if given.what == "still_open":
        return _begin_anew(act, number, given)
    if given.what == "done":
        day = given.done_on(desk.today)
        if day < still[0].facts.asked_on and len(given.when.strip()) == len("2025-03-14"):
            asked = say_day(still[0].facts.asked_on)
            raise InputError(f"It was asked for on {asked}, later.", hint="Give a later day.")
        for due in dues_of(session, number):
            close_due(act, due, "answered", given.words())
        return _finish(act, given)
    _strike(act, [Line(dues=(due,)) for due in still[0].dues], given)
    return _finish(act, given)


def _finish(act: Act, given: Answer, but: Collection[int] = ()) -> Next:
    """Write an answer down; say which referrals end with it, but for those it is about.

    A service that has somebody under its care has taken up what was referred to it.
    """
    before = _open_referrals(act)
    came = act.finish(KIND, f"{given.words()}.", refold=True)
    ends = len(before - _open_referrals(act) - set(but))
    return replace(came, ends=ends, words=" ".join(filter(None, (came.words, ends_words(ends)))))


def _open_referrals(act: Act) -> set[int]:
    r = tables.Referral
    return set(act.session.scalars(select(r.id).where(r.person_id == act.person_id, r.is_open)))


def ends_words(count: int) -> str:
    """Return in words how many referrals ended with an answer.

    >>> ends_words(1), ends_words(0)
    ('1 referral of theirs ended with it.', '')
    """
    if not count:
        return ""
    return f"{count:,} referral{'s' if count > 1 else ''} of theirs ended with it."


def _begin_anew(act: Act, number: int, given: Answer) -> Next:
    """Let the window of each part open today, as long as it was."""
    for due in dues_of(act.session, number):
        by = act.desk.today - due.earliest
        window = {n: getattr(due, n) + by for n in ("earliest", "target", "latest")}
        about = {"person_id": due.person_id, "ear": due.ear, "track": due.track, "kind": due.kind}
        moves = {"asked_on": due.asked_on, "action": "move", "reason": "clinician_decision"}
        act.add("decision", **about, **moves, **window, why=f"History, {given.words().lower()}")
    return _finish(act, given)


def _strike(act: Act, lines: Sequence[Line], given: Answer) -> None:
    """Strike out what is not needed, or what somebody else follows."""
    because = "known_elsewhere" if given.what == "under_care" else given.because
    made = Judgement("strike", because, given.why, of=given.of, considered=given.considered)
    born = act.session.scalar(select(tables.Person.born).where(tables.Person.id == act.person_id))
    assert born is not None, "an ask is about somebody"
    last = _last_visit(act) if any(line.urgency == "emergency" for line in lines) else None
    for line in lines:
        refuse(act.desk, line, made, last, born)
    keep(act, [(line, made) for line in lines], act.desk.today, born)


def _last_visit(act: Act) -> Visit | None:
    visits = case_for(act.session, act.person_id).visits
    return max(visits, key=lambda visit: visit.on, default=None)


def _answer_together(
    desk: Desk, session: Session, row: tables.Referral, given: Answer, so_far: _SoFar
) -> Next:
    """Answer a referral with those that stand beside it."""
    numbers = [n for n in together(session, row) if n in so_far.old]
    so_far.done.update(numbers)
    so_far.people.add(row.person_id)
    return _answer_referrals(Act(desk, session, row.person_id), numbers, given)


def _answer_referrals(act: Act, numbers: Collection[int], given: Answer) -> Next:
    """Answer a referral, in each ear for which it stands as a row of its own."""
    loops = referral_loops(act.session, sorted(numbers))
    for number, loop in loops.items():
        _answer_referral(act, number, loop, given)
        act.touch("referral", number)
    return _finish(act, given, numbers)


def _answer_referral(act: Act, number: int, loop: ReferralLoop, given: Answer) -> None:
    words = given.words()
    if given.what == "still_open":
        act.add("referral_event", referral_id=number, what="decided", reason=words)
    elif given.what == "done":
        act.add("referral_event", referral_id=number, what="result", reason=words)
        end_row(act, number, loop, RESULT_BACK, "answered", words)
    else:
        _strike(act, [Line(referral=loop.referral)], given)
