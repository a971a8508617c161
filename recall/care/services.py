"""The words for each service that a person may be referred to: the one place that has them."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from recall.care.case import To
from recall.care.ear import ears_of


class ServiceWords(NamedTuple):
    """One service, as different readers know it."""

    short: str
    """On lists and in plans, after *to*."""
    head: str
    """At the head of a letter to it, where the practice has set no address."""
    plain: str
    """To the person who is referred there."""


SERVICES: dict[To, ServiceWords] = {
    "ent": ServiceWords(
        "ENT",
        "Ear, nose and throat department",
        "the ear, nose and throat (ENT) department",
    ),
    "emergency": ServiceWords(
        "emergency department", "Emergency department", "the emergency department"
    ),
    "stroke": ServiceWords("stroke service", "Stroke service", "the stroke service"),
    "audiology": ServiceWords(
        "audiology", "Audiology department", "the audiology department (hearing tests)"
    ),
    "paediatric_audiology": ServiceWords(
        "child audiology",
        "Children's audiology department",
        "the children's audiology department (hearing tests)",
    ),
    "gp": ServiceWords("GP", "General practitioner", "the family doctor (GP)"),
    "dentist": ServiceWords("dentist", "Dentist", "a dentist"),
    "pharmacy": ServiceWords("pharmacy", "Pharmacy", "a pharmacy"),
    "ear_care": ServiceWords("ear-care service", "Ear-care service", "an ear-care service"),
}


def to_whom(to: To, ears: Collection[str]) -> str:
    """Return a service and the ears that it is asked about, after *to*.

    >>> to_whom("ent", ("right", "left")), to_whom("gp", ("left",))
    ('ENT, both ears', 'GP, left ear')
    """
    return f"{SERVICES[to].short}, {ears_of(ears)}"
