"""Somebody who has died, asked not to be contacted, or is not safe to contact: at once, everywhere.

What is booked is called off, what is not yet printed is pulled, and nothing more is sent until
somebody who may decide has decided. A printed letter lies in the pile: it is named.
"""

from __future__ import annotations

from datetime import date

from recall.desk.contacts.siblings import hold_for_siblings
from recall.desk.core.acting import Act, in_words
from recall.desk.core.calling_off import call_off, pull_letters
from recall.loop.outcomes import ContactStop

COLUMN: dict[ContactStop, str] = {
    "died": "deceased_on",
    "objected": "objected_on",
    "unsafe": "unsafe_on",
}
SAYS: dict[ContactStop, str] = {
    "died": "has died",
    "objected": "asked not to be contacted",
    "unsafe": "not safe to contact",
}


def stop_contact(act: Act, what: ContactStop, since: date) -> str:
    """Let nothing more reach a person; return in words what was stopped and what cannot be."""
    act.set("person", act.person_id, **{COLUMN[what]: since})
    called_off = call_off(act, SAYS[what]) if what == "died" else 0
    pulled, printed = pull_letters(act, SAYS[what])
    others, theirs = ("", []) if what == "died" else hold_for_siblings(act, SAYS[what])
    printed = [*printed, *theirs]
    words = [others] if others else []
    if called_off:
        words.append(f"{called_off} appointment(s) called off.")
    if pulled:
        words.append(f"{pulled} letter(s) pulled.")
    if printed:
        numbers = ", ".join(map(str, printed))
        words.append(f"Printed already, pull from the pile: letter {numbers}.")
    return in_words(words)
