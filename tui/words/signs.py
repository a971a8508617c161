"""The signs of the desk: how loud something is, how it stands, which ear.

Urgency is drawn as loudness, a bar that grows. Each sign stands beside its word, so neither
colour nor the sign alone carries anything.
"""

from __future__ import annotations

from textual.content import Content

from recall.protocol.contact_steps import CONTACT_STEPS

LOUDNESS = {
    "emergency": "█",
    "urgent": "▆",
    "high": "▅",
    "medium": "▃",
    "low": "▁",
}
URGENCY_WORDS = {
    "emergency": "EMERGENCY",
    "urgent": "urgent",
    "high": "high",
    "medium": "medium",
    "low": "low",
}
URGENCY_KINDS = {"emergency": "alarm", "urgent": "alarm", "high": "warn"}
"""How each is written in a list: "" is plain ink."""

STATUS_SIGNS = {
    "waiting": "…",
    "to_contact": "»",
    "booked": "=",
    "lost": "?",
    "closed": "·",
    "history": "<",
}
STATUS_WORDS = {
    "waiting": "waiting",
    "to_contact": "to contact",
    "booked": "booked",
    "lost": "lost",
    "closed": "closed",
    "history": "history",
}

STEP_WORDS: dict[str, str] = {step.kind: step.short for step in CONTACT_STEPS}
"""What is next, short enough for a list."""

CHANNEL_WORDS = {
    "phone": "phone",
    "text": "text message",
    "email": "e-mail",
    "letter": "letter",
    "in_person": "in person",
}


def loud(urgency: str) -> str:
    """Return the sign and the word of an urgency.

    >>> loud("urgent")
    '▆ urgent'
    """
    return f"{LOUDNESS.get(urgency, ' ')} {words(URGENCY_WORDS, urgency)}"


def loud_styled(urgency: str) -> Content:
    """Return the sign and the word of an urgency, in its colour."""
    kind = URGENCY_KINDS.get(urgency)
    return Content.styled(loud(urgency), f"bold $desk-{kind}" if kind else "")


def says_status(status: str) -> str:
    """Return the sign and the word of a status.

    >>> says_status("booked")
    '= booked'
    """
    return f"{STATUS_SIGNS.get(status, ' ')} {words(STATUS_WORDS, status)}"


def words(table: dict[str, str], name: str) -> str:
    """Return the words for a name; a name without words is shown as it is."""
    return table.get(name) or name.replace("_", " ")
