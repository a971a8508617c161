"""What the keys of the call list do at the desk, and the sheets that ask for more first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING

from recall.desk.contacts.entries import Attempt
from recall.errors import InputError
from recall.exchange.typed_days import CALL_AT
from recall.loop.outcomes import BY_ID, Outcome
from recall.protocol.contact import PRESSING
from recall.protocol.contact_steps import STEP
from recall.schedule.calendar import say_day
from tui.calls import numbers
from tui.dialogs.form import NO_CHECKS, SURE, Checks, Doubt, Field, Form, Values, newest
from tui.words.text import full_day, plain

if TYPE_CHECKING:
    from recall.desk.contacts.spoken_of import SpokenOf
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.worklists.call_card import CallCard
    from recall.desk.worklists.open_items import Appointment
    from tui.register.hand import Hand


FAR_WEEKS = 13
"""Weeks from which the sheet says how far away a day is."""


def outcome_of(name: str) -> Outcome:
    """Return an outcome by its name."""
    known: dict[str, Outcome] = {str(key): found for key, found in BY_ID.items()}
    return known[name]


def asks_more(row: CallCard, name: str) -> bool:
    """Return whether something is asked before an outcome is recorded."""
    found = outcome_of(name)
    return found.asks_day or found.asks_first or bool(_struck_for_others(row, found))


def _struck_for_others(row: CallCard, found: Outcome) -> str:
    """Return for whom else an outcome strikes the number, as a warning."""
    return numbers.shared(row) if found.ends == "number" else ""


def about(row: CallCard) -> tuple[str, ...]:
    """Return who a sheet is about, as for the identity check."""
    return (f"{row.name}, born {full_day(row.born)}, {row.postcode or 'no postcode'}",)


def booked(made: Appointment | None, *, whole: bool = False) -> str:
    """Return the hour of an appointment and with whom; the whole of it with day and length."""
    if made is None:
        return ""
    who = f" with {plain(made.with_)}" if made.with_ else ""
    at = f"{made.starts_local:%H:%M}"
    if not whole:
        return f"{at}{who}"
    day = say_day(made.starts_local.date(), weekday=True)
    return f"{day} at {at}, {made.minutes} minutes{who and ','}{who}"


def about_booked(row: CallCard) -> tuple[str, ...]:
    """Return who a sheet about an appointment is about, and when that is."""
    when = booked(row.appointment, whole=True)
    return (*about(row), *([f"Booked: {when}."] if when else []))


def log(desk: Desk, *, row: CallCard, attempt: Attempt) -> Next:
    """Record what came of an attempt of ours, or of a call or visit of theirs."""
    from recall.desk.contacts import contacting

    if not attempt.by_them:
        attempt = replace(attempt, contact_point_id=row.contact_point_id)
    return contacting.log_contact(desk, row.follow_up, row.version, attempt)


def log_line(
    desk: Desk, *, row: CallCard, others: Sequence[int], attempt: Attempt
) -> tuple[Next, tuple[int, ...]]:
    """Record that nobody answered for everybody under the number; return for whom it counts."""
    from recall.desk.contacts import contacting

    attempt = replace(attempt, contact_point_id=row.contact_point_id)
    return contacting.log_for_line(desk, row.follow_up, row.version, others, attempt)


def as_seen(row: CallCard, values: Values) -> CallCard:
    """Return the person in hand at the version that was seen last."""
    return replace(row, version=newest(values, row.version))


def ask_more(row: CallCard, outcome: str, channel: str, spoken_of: Sequence[SpokenOf] = ()) -> Form:
    """Ask what an outcome asks for: a day agreed, what they answered, of what it was said."""
    found = outcome_of(outcome)

    def store(desk: Desk, values: Values) -> Next:
        until, at = values.get("until") or (None, None)
        doubt_late(desk, row, found, values)
        best, which = values.get("best", ""), numbers_of(values.get("which", ""))
        attempt = Attempt(channel, outcome, values["note"], until, until_at=at, best_time=best)
        attempt = replace(attempt, which=which, language=values.get("language", ""))
        return log(desk, row=as_seen(row, values), attempt=attempt)

    until = Field(
        "until", "Call again on", "call_at", hint=f"{CALL_AT}; empty: in {found.wait} days"
    )
    note = Field("note", "Note", hint="what they said; may stay empty")
    best = Field("best", "Best time to ring", hint=numbers.best_time(row) or "may stay empty")
    which = Field("which", "Of what", "choice", choices=which_of(spoken_of))
    several = len(spoken_of) > 1
    language = Field("language", "Language, or which kind of call", hint="Polish, BSL, relay call")
    interprets = found.matter == "interpreter"
    asked = (
        *((found.asks_day, until), (found.asks_time, best), (interprets, language)),
        *((True, note), (several, which)),
    )
    fields = tuple(field for is_asked, field in asked if is_asked)
    strikes = f"Strikes {plain(row.number)}." if found.ends_number and row.number else ""
    still = _still_booked(row) if found.asks_day else ()
    other = _struck_for_others(row, found)
    lines = tuple(filter(None, (*about(row), strikes, *still, found.ask, other)))
    checks = Checks(live=partial(read_as, row)) if found.asks_day else NO_CHECKS
    return Form(f"{found.words}.", fields, store, lines=lines, does="Record it", checks=checks)


def _still_booked(row: CallCard) -> tuple[str, ...]:
    """Return what stays booked whenever they are rung again: nothing of it is called off here."""
    made = (*((row.appointment,) if row.appointment else ()), *row.comes)
    return tuple(
        f"Stays booked: {booked(each, whole=True)}. Can they not come, call it off on F5."
        for each in made[:2]
    )


def which_of(spoken_of: Sequence[SpokenOf]) -> list[tuple[str, str]]:
    """Return the choice of what an outcome was said of: one thing, or all that is in reach."""
    each = [(f"{one.follow_up}", plain(one.words)) for one in spoken_of]
    if len(each) == 1:
        return each
    return [*each, (" ".join(value for value, _words in each), f"All {len(each)} of them")]


def numbers_of(chosen: str) -> tuple[int, ...]:
    """Return the follow-ups of a choice of `which_of`."""
    return tuple(int(number) for number in chosen.split())


def doubt_late(desk: Desk, row: CallCard, found: Outcome, values: Values) -> None:
    """Ask once where they are rung again only after the latest day of what it is about.

    Raises:
        Doubt: they would be, and that was not seen yet.
    """
    if found.asks_day and not values[SURE] and (said := _said_late(desk, row, found, values)):
        raise Doubt(said)


def _said_late(desk: Desk, row: CallCard, found: Outcome, values: Values) -> str:
    """Return that the day is after the latest one; nothing of what is late already.

    What presses is left for a day at most where no day is agreed.
    """
    is_typed = bool(values.get("until"))
    if not is_typed and row.urgency in PRESSING:
        return ""
    empty = desk.today + timedelta(days=found.wait)
    day = values["until"][0] if is_typed else desk.calendar.open_from(empty) or empty
    if not day > row.call_by >= desk.today:
        return ""
    rung = "" if is_typed else f"Rung again on {say_day(day, weekday=True)}: "
    after = f"after the latest day, {full_day(row.call_by)}"
    return f"{rung}{after}." if rung else f"{after[0].upper()}{after[1:]}."


def read_as(row: CallCard, desk: Desk, values: Values) -> str:
    """Say how a day and hour is read, where nobody is there to ring, and where it is too late.

    `until` holds both as they were read.
    """
    if not values.get("until"):
        return ""
    day, at = values["until"]
    said = say_day(day, weekday=True) + (f" at {at:%H:%M}" if at else "")
    weeks = (day - desk.today).days // 7
    if weeks >= FAR_WEEKS:
        said += f", in {weeks} weeks"
    closed = desk.calendar.closed_because(day)
    late = values["until"][0] > row.call_by >= desk.today
    after = f" After the latest day, {full_day(row.call_by)}." if late else ""
    return f"{said}: {closed}.{after}" if closed else f"{said}.{after}"


def ask_first(row: CallCard, outcome: str, channel: str) -> Form:
    """Ask before an outcome that stops everything: the family name is typed."""
    found = outcome_of(outcome)

    def store(desk: Desk, values: Values) -> Next:
        return log(
            desk, row=as_seen(row, values), attempt=Attempt(channel, outcome, values["note"])
        )

    def check(values: Values) -> str:
        same = same_name(values["name"], row.family_name)
        return "" if same else "That is not this person's family name: nothing was recorded."

    fields = (
        Field("name", "Type the family name to go on", needed=True),
        Field("note", "Note", hint="who told you"),
    )
    lines = (*about(row), "Every letter and call stops at once, until a clinician decides.")
    if found.ask:
        lines = (*lines, found.ask)
    return Form(
        f"{found.words}?", fields, store, lines=lines, checks=Checks(check), does="Record it"
    )


def same_name(typed: str, name: str) -> bool:
    """Return whether a name was typed, whatever the case and spacing.

    >>> same_name(" o'neil ", "O'Neil"), same_name("", "O'Neil")
    (True, False)
    """
    return bool(plain(typed)) and plain(typed).casefold() == plain(name).casefold()


def noting(row: CallCard) -> Form:
    """Ask for a note."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import contacting

        return contacting.note(desk, row.follow_up, values["text"])

    fields = (Field("text", "Note", needed=True),)
    return Form("Note", fields, store, lines=about(row))


def skipping(row: CallCard) -> Form:
    """Ask why the person is left for now, and until when."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import contacting

        until = values["until"] or desk.today + timedelta(days=1)
        return contacting.hold(
            desk, row.follow_up, newest(values, row.version), values["why"], until
        )

    fields = (
        Field("why", "Why", needed=True),
        Field("until", "Until", "day", hint="empty: tomorrow"),
    )
    return Form("Skip until a day", fields, store, lines=about(row), does="Skip them")


def step_done(row: CallCard) -> Form | None:
    """Return the sheet that records a step which is no call; None for a call."""
    makers = {
        "address_checked": _address_check,
        "gp_told": _gp_told,
        "attendance": attendance,
    }
    maker = makers.get(STEP[row.step].done_as or "") if row.step in STEP else None
    return maker(row) if maker else None


def _address_check(row: CallCard) -> Form:
    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import contacting

        still = {"yes": True, "no": False}.get(values["still"])
        number, version = row.follow_up, newest(values, row.version)
        return contacting.address_checked(desk, number, version, values["how"], still_there=still)

    choices = (
        ("", "Not known"),
        ("yes", "Yes, it is right after all"),
        ("no", "No: letters stop until there is another"),
    )
    fields = (
        Field("how", "How it was checked", needed=True, hint="with the GP, a relative, …"),
        Field("still", "Still at the address on record?", "choice", choices=choices),
    )
    return Form("Address and numbers checked", fields, store, lines=about(row))


def _gp_told(row: CallCard) -> Form:
    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import contacting

        return contacting.gp_told(desk, row.follow_up, newest(values, row.version), values["how"])

    fields = (Field("how", "How the GP or referrer was told", needed=True),)
    return Form("GP or referrer told", fields, store, lines=about(row))


def attendance(row: CallCard) -> Form:
    """Ask whether they came."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import bookings

        if row.booking_id is None:
            raise InputError("No appointment is recorded.", hint="Read the list again with r.")
        if not values["came"]:
            raise InputError("Say whether they came.", hint="Left and Right change the answer.")
        if values["came"] == "yes":
            return bookings.record_attended(desk, row.booking_id)
        return bookings.record_missed(desk, row.booking_id)

    choices = (("", "…"), ("yes", "Yes"), ("no", "No"))
    return Form(
        "Did they come?",
        (Field("came", "Came to the appointment", "choice", choices=choices),),
        store,
        lines=about_booked(row),
    )


def claim(desk: Desk, *, row: CallCard, hand: Hand) -> str:
    """Take a person in hand, so that no other desk rings them meanwhile."""
    from recall.desk.contacts import contacting

    with hand.lock:
        until = contacting.claim(_claiming(desk, hand), row.follow_up)
        hand.until = until
    return f"{row.name}: in your hand until {local(desk, until):%H:%M}; then free again."


def take_first(desk: Desk, *, numbers: Sequence[int], hand: Hand) -> int | None:
    """Take in hand the first person whom no other desk holds, and let go of the one before."""
    from recall.desk.contacts import contacting

    with hand.lock:
        found = contacting.take_first(_claiming(desk, hand), numbers, hand.until)
        number, hand.until = found or (None, None)
    return number


def _claiming(desk: Desk, hand: Hand) -> Desk:
    """Return the desk at one instant, the claim of which is known before it is stored.

    What is recorded meanwhile would else be refused: as if another desk had just claimed them.
    """
    from recall.desk.contacts.allowed import HOLDS

    at = desk.now
    hand.will_claim(at, at + HOLDS)
    return replace(desk, clock=desk.clock.held_at(at), in_hand=hand.mine)


def give_all_back(desk: Desk, *, hand: Hand) -> None:
    """Let go of whomever this desk has in hand: somebody looks elsewhere."""
    hand.give_back(desk)


def let_go(desk: Desk, *, row: CallCard) -> str:
    """Let go of a person."""
    from recall.desk.contacts import contacting

    contacting.release(desk, row.follow_up)
    return f"{row.name}: let go."


def last(desk: Desk) -> Next | None:
    """Return what would be taken back: one's own last action of today."""
    from recall.desk.core import undo as undoing

    return undoing.last(desk)


def undo(desk: Desk, *, number: int) -> Next:
    """Take back an action of one's own and of today."""
    from recall.desk.core import undo as undoing

    return undoing.undo(desk, number)


def local(desk: Desk, at: datetime) -> datetime:
    """Return an instant in the practice's wall time."""
    from zoneinfo import ZoneInfo

    return at.astimezone(ZoneInfo(desk.config.calendar.time_zone))
