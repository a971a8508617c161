"""Stories as tables: what happened on which day, and what must then be next.

Each line reads `day | what happened | next step, its day | standing`. A line without an
event looks at the day alone. Events read as a receptionist would say them.
"""

from __future__ import annotations

from datetime import date, time

from recall.loop.facts import (
    AddressChecked,
    Booked,
    BookingEnded,
    Closed,
    Contact,
    Decided,
    Event,
    Facts,
    GpTold,
    Held,
    Looked,
    Posted,
    Returned,
)
from recall.loop.status import status_on
from recall.protocol.contact import ContactProtocol

RULES = ContactProtocol.load()
CHANNELS = ("phone", "letter", "text", "email", "in_person")


def facts(**more: object) -> Facts:
    """A child's fluid look: seen on 1 September, window 4 to 8 weeks."""
    usual = {
        "asked_on": date(2026, 9, 1),
        "earliest": date(2026, 9, 29),
        "target": date(2026, 10, 13),
        "latest": date(2026, 10, 27),
        "urgency": "medium",
        "born": date(2018, 3, 2),
    }
    return Facts(**{**usual, **more})  # type: ignore[arg-type]


def event(on: date, words: str, booking: int) -> Event:
    """Read one event."""
    what, *rest = words.split()
    if what in CHANNELS or what == "they":
        channel, outcome, *until = rest if what == "they" else (what, *rest)
        hour = time.fromisoformat(until.pop()) if until and ":" in until[-1] else None
        day = date.fromisoformat(until[-1]) if until else None
        said = {"until": day, "until_at": hour, "by_them": what == "they"}
        return Contact(on=on, channel=channel, outcome=outcome, **said)  # type: ignore[arg-type]
    if what == "booked":
        return Booked(
            on=on, booking=booking, day=date.fromisoformat(rest[0]), why_late=" ".join(rest[1:])
        )
    if what == "held":
        return Held(on=on, until=date.fromisoformat(rest[0]), why=" ".join(rest[1:]))
    made = {
        "posted": lambda: Posted(on=on, kind=rest[0], by=rest[-1] if rest[1:] else "letter"),
        "returned": lambda: Returned(on=on, posted_on=date.fromisoformat(rest[0])),
        "ended": lambda: BookingEnded(
            on=on, booking=booking, how=rest[0], with_visit=rest[-1] == "visit"
        ),
        "looked": lambda: Looked(on=on),
        "checked": lambda: AddressChecked(on=on),
        "told": lambda: GpTold(on=on),
        "decided": lambda: Decided(on=on, what=rest[0]),
        "closed": lambda: Closed(on=on, reason=rest[0]),
    }
    return made[what]()


def tell(text: str, **about: object) -> Facts:
    """Follow a story line by line; return the facts at its end."""
    so_far: list[Event] = []
    booking = 0
    for line in filter(str.strip, text.splitlines()):
        day, words, step, word = (part.strip() for part in line.split("|"))
        on = date.fromisoformat(day)
        if words:
            booking += words.startswith("booked")
            so_far.append(event(on, words, booking))
        stands = status_on(facts(**about, events=tuple(so_far)), on, RULES)
        found = f"{stands.step.kind} {stands.step.on}" if stands.step else "none"
        assert (found, stands.word) == (step, word), f"{line}\n{stands.why}"
    return facts(**about, events=tuple(so_far))
