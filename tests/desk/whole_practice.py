"""Two dozen people of an invented practice, in as many states, and what a day's work made of them.

The people, visits, contacts and appointments are those of some of the screens' practice; what
is done about them here is done by the desk's own functions, so that all of it can have come about.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec

from recall import config
from recall.care.case import Reported, Visit
from recall.clock import Clock
from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.replanning import replan
from recall.desk.core.rights import Role
from recall.desk.core.session import Desk, StaffRow, staff_member
from recall.desk.imports.importing import IMPORTERS, import_file
from recall.desk.people import deaths, editing
from recall.desk.plans import clinician_asks, confirming, decisions, judging
from recall.desk.plans.decisions import Decided
from recall.desk.post import posting
from recall.desk.practice import matters
from recall.desk.practice.staff import add_staff
from recall.desk.referrals import progress
from recall.desk.visits import care_elsewhere, closing, drafting
from recall.desk.visits.care_elsewhere import CareElsewhere
from recall.desk.visits.drafts import Acceptance, VisitNote
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.plan_lines import Judgement
from tests.desk.posting import letters, made, number
from tests.desk.practice import CLEAR, FLUID, KERATIN, desk_at, rows

FILES = Path(__file__).parents[1] / "tui" / "practice"
ON = date(2026, 9, 7)
"""The last day that its files know, a Monday."""
WHO = """1021 1045 1101 1145 1169 1181 1241 1245 1249 1333 1365 1437 1445 1473 1477 1485 1489 1497
1501 1509 1521 1549 1565 1569 1573""".split()  # noqa: SIM905
REFS = tuple(f"W{one}" for one in WHO)
CALLED = {"A. Quill": "Clara Voss", "R. Thackray": "Rob Tanner"}
UNCONFIRMED = {"W1445", "W1573"}


def files(folder: Path) -> None:
    """Write the practice's files with these people alone."""
    for kind in ("people", "visits", "contacts", "bookings"):
        with (FILES / f"{kind}.csv").open(encoding="utf-8", newline="") as file:
            found = list(csv.DictReader(file))
        whose = "reference" if kind == "people" else "person"
        kept = [
            {name: CALLED.get(value, value) for name, value in row.items()}
            for row in found
            if row[whose] in REFS
        ]
        with (folder / f"{kind}.csv").open("w", encoding="utf-8", newline="") as file:
            out = csv.DictWriter(file, list(found[0]))
            out.writeheader()
            out.writerows(kept)


def at_desk(store: Store, folder: Path, on: date = ON, by: str = "rob") -> Desk:
    """Somebody's desk at this practice."""
    given = config.load(FILES / "recall.toml")
    where = config.Files(
        database=store.path, letters=folder / "letters", backups=folder / "backups"
    )
    settings = msgspec.structs.replace(given, files=where)
    return replace(desk_at(store, on, by), config=settings)


def by(desk: Desk, handle: str, on: date | None = None) -> Desk:
    """The same desk, somebody else's, or on another day."""
    day = on or desk.today
    return replace(desk, clock=Clock.at(day), by=staff_member(desk.store, handle, day))


def fill(desk: Desk, folder: Path) -> None:
    """Take the files in, plan everybody, and confirm the plans of all but two."""
    member = StaffRow(0, "osei", "M. Osei", Role.PRACTITIONER, "Ear care practitioner")
    add_staff(desk.store, desk.clock, member, by="clara")
    files(folder)
    for kind in IMPORTERS:
        if (path := folder / f"{kind}.csv").is_file():
            import_file(desk, path, kind)
    replan(desk)
    confirming.confirm_people(by(desk, "clara"), sorted(set(REFS) - UNCONFIRMED))


def follow_up(desk: Desk, ref: str) -> int:
    """Return the first open follow-up of somebody."""
    person = rows(desk.store, tables.Person, ref=ref)[0]["id"]
    number: int = rows(desk.store, tables.FollowUp, person_id=person, is_open=True)[0]["id"]
    return number


def referral(desk: Desk, ref: str, place: int = 0) -> int:
    """Return an open referral of somebody."""
    person = rows(desk.store, tables.Person, ref=ref)[0]["id"]
    number: int = rows(desk.store, tables.Referral, person_id=person, is_open=True)[place]["id"]
    return number


def at(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime(day.year, day.month, day.day, hour, minute)


def seen(desk: Desk, ref: str, visit: Visit, note: VisitNote, **more: Any) -> Any:
    """Close a visit as it was drafted."""
    return closing.close_visit(desk, drafting.draft(desk, ref, visit, note), Acceptance(**more))


def rung(desk: Desk) -> None:
    """A morning at the telephone."""
    log = contacting.log_contact
    log(desk, follow_up(desk, "W1477"), None, Attempt("phone", "no_answer", "Rang out."))
    day = ON + timedelta(days=4)
    agreed = Attempt("phone", "call_again_on", "After school.", day, spoke_with="Ms Christine")
    log(desk, follow_up(desk, "W1573"), None, agreed)
    log(desk, follow_up(desk, "W1241"), None, Attempt("phone", "left_message"))
    log(desk, follow_up(desk, "W1445"), None, Attempt("phone", "wants_clinician", "Is it safe?"))
    booked = Booking(
        at(ON + timedelta(days=1), 10), 30, "osei", "No room before", "phone", place="Room 2"
    )
    bookings.book(desk, follow_up(desk, "W1497"), None, replace(booked, earlier="any morning"))
    bookings.book(
        desk,
        follow_up(desk, "W1501"),
        None,
        Booking(at(ON + timedelta(days=1), 11), 20, "clara", note="With a ramp."),
    )
    done = bookings.book(desk, follow_up(desk, "W1473"), None, Booking(at(date(2026, 9, 21), 9)))
    assert done.made is not None
    bookings.cancel(desk, done.made, "person", "Away.")
    contacting.hold(desk, follow_up(desk, "W1245"), None, "In hospital.", ON + timedelta(days=7))
    contacting.note(desk, follow_up(desk, "W1101"), "Works nights.")
    contacting.claim(by(desk, "mina"), follow_up(desk, "W1565"))


def written_down(desk: Desk) -> None:
    """What is no recall, and what people said of themselves."""
    entry = matters.Entry("interpreter", "Welsh, for Tuesday.", due=ON + timedelta(days=1))
    matters.write_down(desk, "W1497", entry)
    matters.write_down(desk, None, matters.Entry("complaint", "Nobody answers the telephone."))
    matters.write_down(desk, "W1101", matters.Entry("message", "The ear is worse.", "clara"))
    matters.close(desk, 1, "booked")
    editing.record_unsafe(desk, "W1565")
    editing.record_objection(desk, "W1333")
    editing.add_risk(by(desk, "clara"), "W1249", "diabetes", since="2024-03")
    editing.edit_needs(desk, "W1509", None, ("interpreter: Welsh",))
    deaths.record_death(desk, "W1169", ON, "Christine Varley")


def decided(desk: Desk) -> None:
    """What the clinical lead decided and found."""
    progress.sent(desk, referral(desk, "W1437"), None, "direct", "Mr Finch")
    progress.accepted(desk, referral(desk, "W1437"), None, date(2026, 9, 30))
    progress.rejected(desk, referral(desk, "W1489"), None, "No such clinic.")
    progress.sent(desk, referral(desk, "W1477"), None, "gp")
    progress.result(desk, referral(desk, "W1045"), None, "Cleared there; dry.")
    decisions.decide(desk, [follow_up(desk, "W1021")], Decided("keep_trying", "New number."))
    strike = Judgement("strike", "judgement", "Settled for years.")
    line = judging.standing_lines(desk, "W1365").lines[0].name
    judging.judge_line(desk, "W1365", line, strike)
    clinician_asks.ask_referral(desk, "W1521", "ent", ["left"], "high", "A second opinion.")
    clinician_asks.ask_look(desk, "W1249", "hearing_check", ["right"], None, "Hears less.")
    care_elsewhere.record_care(desk, "W1549", CareElsewhere("ent", "right", "grommet", "2026-08"))
    pain = (Reported(what="pain", ear="right"),)
    seen(
        desk,
        "W1485",
        Visit(on=ON, right=FLUID, left=CLEAR, reported=pain),
        VisitNote("fluid_recheck", words="Held still."),
        looked=True,
    )
    seen(
        desk,
        "W1145",
        Visit(on=ON, right=KERATIN),
        VisitNote(),
        looked=True,
        acknowledged_by="Clara Voss",
        arranged_with="Mr Finch",
    )


def posted(desk: Desk) -> None:
    """The week's letters: printed and posted."""
    made(desk)
    posting.mark_posted(desk, 1)


def came_back(desk: Desk) -> Any:
    """One of them comes back."""
    one, *_ = (letter for letter in letters(desk) if letter["printed_at"])
    return posting.mark_returned(desk, number(one))


def work(desk: Desk) -> None:
    """A Monday's work."""
    rung(desk)
    written_down(desk)
    decided(by(desk, "clara"))
    posted(desk)
