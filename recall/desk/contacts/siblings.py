"""What somebody says who answers for several: all of it is held until a clinician decides.

A mother who asks not to be contacted about one child, or who is not safe to contact, is neither
rung nor written to about another meanwhile. How long is the contact protocol's time of review.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sqlalchemy import select

from recall.desk.core.acting import Act, in_words, ref_of
from recall.desk.core.per_person import tracks_of
from recall.letters.data import TO_COLLEAGUES
from recall.loop.matters import KIND
from recall.records import tables
from recall.records.facts.cases import stands
from recall.schedule.calendar import say_day


def hold_for_siblings(act: Act, said: str) -> tuple[str, list[int]]:
    """Hold all that is open for whoever else the same adult answers for, and their letters.

    Returns what to say of it, and which of their letters are printed already.
    """
    people, printed = _siblings(act), list[int]()
    rules = act.desk.protocol.contact
    until = rules.span(rules.review).after(act.desk.today)
    held = [number for number in people if _hold(act, number, until, said)]
    for number in people:
        printed += _pull(act, number, said)
    if not held:
        return "", printed
    refs = ", ".join(ref_of(act.session, number) for number in held)
    words = f"Held until {say_day(until)} for {refs} too: the same adult answers for them."
    if not tracks_of(act.session, act.person_id):
        words = in_words((words, _ask_a_clinician(act, said, refs, until)))
    return words, printed


def _ask_a_clinician(act: Act, said: str, refs: str, until: date) -> str:
    """Put it on the clinical lead's list: who said it has nothing open that would stand there."""
    kind = KIND["message"]
    due = act.desk.calendar.working_days_after(act.desk.today, kind.days)
    text = f"{said[0].upper()}{said[1:]}. Held until {say_day(until)} for {refs}: decide on each."
    values = {"kind": kind.id, "text": text, "due_on": due, "owner_role": "clinical_lead"}
    act.add("matter", person_id=act.person_id, owner_id=None, **values)
    return f"A message asks the clinical lead, by {say_day(due, weekday=True)}, what is decided."


def _siblings(act: Act) -> Sequence[int]:
    """Return for whom else an adult of the person answers, on the same number or at one address."""
    a, c = tables.AdultFor, tables.ContactPoint
    mine = select(a.name).where(a.person_id == act.person_id, stands(a))
    names = {_plain(name) for name in act.session.scalars(mine)}
    ways = c.person_id == act.person_id, c.adult_id.is_not(None), c.value.is_not(None), stands(c)
    values = set(act.session.scalars(select(c.value).where(*ways)))
    theirs = (
        select(c.person_id, a.name)
        .join_from(c, a, c.adult_id == a.id)
        .where(c.value.in_(values), c.person_id != act.person_id, stands(c), stands(a))
        .order_by(c.person_id)
    )
    found = act.session.execute(theirs)
    return list(dict.fromkeys(person for person, name in found if _plain(name) in names))


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


def _hold(act: Act, person_id: int, until: date, said: str) -> bool:
    """Hold what is open for one of them; return whether anything was."""
    why = f"Of {ref_of(act.session, act.person_id)}: {said}. A clinician decides."
    numbers = tracks_of(act.session, person_id)
    for number in numbers:
        held = {"what": "held", "until": until, "why": why}
        act.add_for(person_id, "follow_up_event", {"follow_up_id": number, **held})
        act.touch("follow_up", number)
    return bool(numbers)


def _pull(act: Act, person_id: int, said: str) -> list[int]:
    """Pull what is not printed of what goes to an adult about one of them; return the rest."""
    x = tables.Letter
    wanted = select(x.id, x.printed_at).where(
        x.person_id == person_id,
        stands(x),
        x.adult_id.is_not(None),
        x.posted_on.is_(None),
        x.pulled_why.is_(None),
        x.kind.not_in(TO_COLLEAGUES),
    )
    printed = []
    for number, printed_at in act.session.execute(wanted.order_by(x.id)).all():
        if printed_at is None:
            act.set("letter", number, pulled_why=f"of a sibling: {said}")
        else:
            printed.append(number)
    return printed
