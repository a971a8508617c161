"""Taking back one's own last action of the day; it leaves its trace.

Rows that were made are voided, what was set is set back, and the line of the action stays.
Whatever was done about the same person since must be taken back first. What was done to several
in one go is taken back from all of them, or from none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import Column, Date, select
from sqlalchemy.orm import Session

from recall.desk.core.acting import TABLES, Act, Next, in_words, ref_of
from recall.desk.core.done import Done, actions, said
from recall.desk.core.guarding import needs
from recall.desk.core.named import named
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import Conflict, NotFound, Refused
from recall.records import tables
from recall.records.journal.names import table_now
from recall.records.people.finding import rekey
from recall.records.tables.base import UtcDateTime, Words
from recall.records.tables.statements import read_as
from recall.schedule.calendar import say_day

NAMED = 3
"""So many of several people are named by their references."""
_REKEYED = frozenset({"person", "contact_point", "adult_for"})


@dataclass(frozen=True)
class _Line:
    """A line of the history that an action wrote."""

    id: int
    what: str
    entity: str
    entity_id: int
    content: str | None
    person_id: int | None


@needs(Right.LOOK)
def last_undoable(desk: Desk) -> Done | None:
    """Return one's own last action of today that nothing was done after about the person."""
    with desk.store.read() as session:
        todays = actions(session, desk.today)
    for action in reversed(todays):
        if action.by_id == desk.by.id and not _since(todays, _go(todays, action)):
            return action
    return None


@needs(Right.LOOK)
def last(desk: Desk) -> Next | None:
    """Return what `undo` would take back, in the words it would use; nothing is changed.

    Its `action` is the number to give to `undo`, so that what was asked about is taken back.
    """
    action = last_undoable(desk)
    if action is None:
        return None
    with desk.store.read() as session:
        go = _go(actions(session, desk.today), action)
        return Next(
            f"{_whose_all(session, go)}: {_taken_back(action)}",
            action=action.number,
            person_ref=ref_of(session, action.person_id),
            follow_up=_follow_up_of(_changes(session, action)),
        )


@needs(Right.REACH)
def undo(desk: Desk, number: int | None = None) -> Next:
    """Take back an action of one's own and of today, the last one where no number is given.

    The words returned say about whom it was; the line of history does not.

    Raises:
        NotFound: there is none.
        Refused: it was somebody else's, or it left the house already.
        Conflict: something was done about the person since.
    """
    if number is None:
        latest = last_undoable(desk)
        if latest is None:
            raise NotFound(f"{desk.by.handle} has nothing of today to take back.")
        number = latest.number
    with desk.store.write() as session:
        go = _to_undo(desk, session, number)
        for action in reversed(go):
            done = _take_back(desk, session, action)
        words = done.words if len(go) == 1 else _taken_back(go[-1])
        return replace(done, words=f"{_whose_all(session, go)}: {words}")


def _take_back(desk: Desk, session: Session, action: Done) -> Next:
    """Take back one action, about one person."""
    act = Act(desk, session, action.person_id)
    changes = _changes(session, action)
    for change in reversed(changes):
        _TAKE_BACK[change.what](act, change)
    if {change.entity for change in changes} & _REKEYED:
        rekey(session, [action.person_id, *sorted(act.others)])
    about = _follow_up_of(changes)
    words = in_words((_taken_back(action), _rung_again(session, changes)))
    return act.finish("undo", words, follow_up_id=about, refold=True, undoes=action.number)


def _go(todays: Sequence[Done], action: Done) -> list[Done]:
    """Return what was done in one go with an action, itself with it, in order."""
    if not action.together:
        return [action]
    return [each for each in todays if each.together == action.together]


def _since(todays: Sequence[Done], go: Sequence[Done]) -> set[int]:
    """Return about whom something else was done after their part of one go."""
    own = {each.number for each in go}
    last = {each.person_id: each.number for each in go}
    return {
        each.person_id
        for each in todays
        if each.number not in own and each.number > last.get(each.person_id, each.number)
    }


def _taken_back(action: Done) -> str:
    """Return what is taken back; of a call what came of it, and not what followed from that."""
    if action.kind == "death":
        return "taken back: the death. What it called off, pulled and closed stands again."
    words = action.words
    if action.kind == "contact":
        words = f"{words.partition('. ')[0].removesuffix('.')}."
    return f"taken back: {words}"


def _rung_again(session: Session, changes: Sequence[_Line]) -> str:
    """Say which numbers stand again that were struck."""
    struck = [c.entity_id for c in changes if c.entity == "contact_point" and c.what == "changed"]
    p = tables.ContactPoint
    wanted = select(p.raw).where(p.id.in_(struck), p.kind == "phone", p.until.is_(None))
    numbers = list(dict.fromkeys(session.scalars(wanted.order_by(p.id))))
    return f"{', '.join(numbers)} is rung again." if numbers else ""


def _whose_all(session: Session, go: Sequence[Done]) -> str:
    """Return about whom something was: one by name and birth date, several by number."""
    people = list(dict.fromkeys(each.person_id for each in go))
    if len(people) == 1:
        return _whose(session, people[0])
    refs = [ref_of(session, number) for number in people[:NAMED]]
    more = f" and {len(people) - NAMED} more" if len(people) > NAMED else ""
    return f"All {len(people)} people ({', '.join(refs)}{more})"


def _whose(session: Session, person_id: int) -> str:
    """Return a person's name and birth date, for the screen alone."""
    p = tables.Person
    wanted = select(p.given_names, p.family_name, p.born).where(p.id == person_id)
    row = session.execute(wanted).one()
    name = " ".join(filter(None, (row.given_names, row.family_name)))
    return f"{name}, born {say_day(row.born)}"


def _to_undo(desk: Desk, session: Session, number: int) -> list[Done]:
    todays = actions(session, desk.today)
    action = next((a for a in todays if a.number == number), None)
    if action is None:
        raise NotFound(
            f"Action {number} is not one of today's, or was taken back already.",
            hint="Earlier ones are put right by a new entry.",
        )
    if action.by_id != desk.by.id:
        raise Refused(
            f"Action {number} was somebody else's.", hint="Whoever did it can take it back today."
        )
    go = _go(todays, action)
    if later := _since(todays, go):
        whom = "the same person" if len(go) == 1 else ref_of(session, min(later))
        raise Conflict(
            f"Something was done about {whom} after action {number}.",
            hint="Take that back first.",
        )
    return go


def _changes(session: Session, action: Done) -> Sequence[_Line]:
    """Return what an action changed: the lines just before its own."""
    h = tables.History
    wanted = (
        select(read_as(_Line, tables.History, tables.HistoryPayload))
        .join_from(tables.History, tables.HistoryPayload, tables.HistoryPayload.history_id == h.id)
        .where(h.id >= action.number - action.rows, h.id < action.number)
        .order_by(h.id)
    )
    lines = session.scalars(wanted).all()
    return [replace(line, entity=table_now(line.entity)) for line in lines]


def _void(act: Act, line: _Line) -> None:
    if line.entity == "letter":
        letter = tables.Letter
        printed = act.session.scalar(select(letter.printed_at).where(letter.id == line.entity_id))
        if printed is not None:
            raise Refused(
                f"Letter {line.entity_id} is printed already.",
                hint="Pull it from the pile, and put the rest right by a new entry.",
            )
    act.void(line.entity, line.entity_id, "Taken back.", whose=line.person_id)


def _set_back(act: Act, line: _Line) -> None:
    row, told = TABLES[line.entity], said(line.content)
    now = {name: _typed(row.c[name], value) for name, value in told["now"].items()}
    was = {name: _typed(row.c[name], value) for name, value in told["was"].items()}
    held = select(*(row.c[name] for name in now)).where(row.c.id == line.entity_id)
    if dict(act.session.execute(held).mappings().one()) != now:
        whose = f" of {named(act.session, line.person_id)}" if line.person_id else ""
        raise Conflict(
            f"The {line.entity.replace('_', ' ')}{whose} was changed since.",
            hint="Put it right by a new entry.",
        )
    act.set(line.entity, line.entity_id, **was)


def _let_stand(act: Act, line: _Line) -> None:
    act.unvoid(line.entity, line.entity_id)


def _nothing(act: Act, line: _Line) -> None:
    """A note changed nothing."""


_TAKE_BACK: dict[str, Callable[[Act, _Line], None]] = {
    "added": _void,
    "changed": _set_back,
    "voided": _let_stand,
    "noted": _nothing,
}


def _typed(column: Column[Any], value: Any) -> Any:
    """Return a value of the history as its column holds it."""
    if value is None:
        return None
    if isinstance(column.type, Date):
        return date.fromisoformat(value)
    if isinstance(column.type, UtcDateTime):
        return datetime.fromisoformat(value)
    return tuple(value) if isinstance(column.type, Words) else value


def _follow_up_of(changes: Sequence[_Line]) -> int | None:
    """Return the follow-up that an action was about, where it was about one."""
    for change in changes:
        if change.entity == "follow_up":
            return change.entity_id
        now = said(change.content).get("now")
        if isinstance(now, dict) and now.get("follow_up_id"):
            return int(now["follow_up_id"])
    return None
