"""Acts are per person: what an act counts for beside the follow-up that it names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Literal

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act, in_words
from recall.desk.core.rota import lacks
from recall.loop.facts import Facts
from recall.loop.reach import LetterStep, met_by, reached
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.facts.events import facts_for
from recall.schedule.calendar import say_day

Kind = Literal["contact", "booking", "letter"]


def tracks_of(session: Session, person_id: int) -> dict[int, Facts]:
    """Return all that is open for a person, by the follow-up's number."""
    f = tables.FollowUp
    mine = select(f.id).where(f.person_id == person_id, f.is_open, stands(tables.FollowUp))
    return facts_for(session, session.scalars(mine.order_by(f.id)).all())


def counts_for(act: Act, named: int) -> tuple[int, ...]:
    """Return the follow-ups that an act counts for: the one that it names first."""
    tracks = tracks_of(act.session, act.person_id)
    return reached(tracks, named, act.desk.today, act.desk.protocol.contact)


def also_about(act: Act, kind: Kind, number: int, others: Iterable[int]) -> None:
    """Write down what else a contact or an appointment is about, each in its own round."""
    f = tables.FollowUp
    wanted = select(f.id, f.round, f.step).where(f.id.in_(others)).order_by(f.id)
    for other, turn, step in act.session.execute(wanted).all():
        about = {"follow_up_id": other, f"{kind}_id": number}
        act.add("also_about", **about, round=turn, step=step)
        act.touch("follow_up", other)


def also_written(act: Act, kind: Kind, number: int, does: Mapping[int, LetterStep]) -> None:
    """Write down which step a letter does for each other follow-up that it is about."""
    for other, step in sorted(does.items()):
        about = {"follow_up_id": other, f"{kind}_id": number}
        act.add("also_about", **about, round=step.round, step=step.kind)
        act.touch("follow_up", other)


def meets_too(
    act: Act, named: int, made: int, day: date, who: str | None = None
) -> tuple[str, int | None]:
    """Let an appointment count for all that it can meet; return it in words.

    It meets nothing that whoever sees them does not do, by the rota. Beside it stands what has to
    be offered another day in the same call, the one that is due first, if anything has.
    """
    tracks, rules = tracks_of(act.session, act.person_id), act.desk.protocol.contact
    unable = _unable(act, tracks, day, who) if who else ()
    found = met_by(tracks, named, day, act.desk.today, rules, unable)
    also_about(act, "booking", made, found.met[1:])
    too = "; ".join(said_of(act.session, found.met[1:]))
    left = "; ".join(
        f"{said_of(act.session, [n])[0]}, {say_day(tracks[n].earliest)} to "
        f"{say_day(tracks[n].latest)}"
        for n in found.not_met
    )
    words = f"Meets {too} as well." if too else ""
    words = in_words((words, f"Does not meet {left}: offer another day now." if left else ""))
    return words, min(found.not_met, key=lambda n: (tracks[n].latest, n), default=None)


def _unable(act: Act, numbers: Iterable[int], day: date, who: str) -> list[int]:
    """Return which follow-ups ask for something that a practitioner does not do on a day."""
    f = tables.FollowUp
    wanted = select(f.id, f.do).where(f.id.in_(list(numbers)))
    return [n for n, do in act.session.execute(wanted).all() if lacks(act.desk, who, day, do)]


def others_of(session: Session, booking: tables.Booking) -> tuple[int, ...]:
    """Return what an appointment was made for beside the follow-up that it names."""
    a = tables.AlsoAbout
    wanted = select(a.follow_up_id).where(a.booking_id == booking.id, stands(tables.AlsoAbout))
    return tuple(session.scalars(wanted.order_by(a.id)))


def said_of(session: Session, follow_up_ids: Iterable[int]) -> tuple[str, ...]:
    """Return in a few words what some follow-ups are about, ear by ear."""
    f = tables.FollowUp
    wanted = select(f.ears, f.tracks).where(f.id.in_(follow_up_ids)).order_by(f.latest, f.id)
    return tuple(
        f"{' and '.join(ears)} {', '.join(tracks)}".replace("_", " ")
        for ears, tracks in session.execute(wanted)
    )
