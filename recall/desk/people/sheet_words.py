"""What the protocol advises, in words for the person; what is advised to staff is not told."""

from __future__ import annotations

from collections.abc import Sequence

from recall.schedule.plan import Advice

_DROPS_NONE = "Put no drops and no water into this ear until we have seen it again."
_INFECTION = "If it is no better after 2 to 3 days, or gets worse, see your doctor or us at once."
FOR_PEOPLE: dict[str, str] = {
    "view-refused": "You can come back at any time if you would like the ear to be looked at.",
    "acute-infection-advice": _INFECTION,
    "tensa-one-adult": "Come back if you hear less, or if the ear runs, hurts or feels blocked.",
    "attic-one-adult": "Come back if you hear less, or if the ear runs, hurts or feels blocked.",
    "wax-cleared-advice": "Come back if the ear feels blocked again, or if you hear less.",
    "drops-first": "Use softening drops for 3 to 5 days before you come.",
    "no-drops": _DROPS_NONE,
    "no-drops-operated": _DROPS_NONE,
    "canal-treated-advice": _INFECTION,
    "canal-eczema-advice": "Keep the ear dry, use no soap in it, and put nothing into it.",
    "canal-mild-advice": "Keep the ear dry. If it hurts or runs, see your doctor or us at once.",
    "itch-advice": "Keep the ear dry, and put nothing into it.",
    "pain-advice": "See your doctor if the pain gets worse or you have a fever.",
    "blocked-feeling-advice": "Come back if the ear still feels blocked after 6 weeks.",
    "barotrauma-advice": "Do not dive, and do not fly with a cold, until the ear is well again.",
    "dizzy-after-care-advice": "Sit down until you feel steady. Call us if it lasts into tomorrow.",
    "vertigo-from-care": "Sit down until you feel steady. Call us if it lasts into tomorrow.",
    "bled-advice": "Keep the ear dry. Come back if it bleeds again, runs or hurts.",
    "hurt-by-care-advice": "The ear was hurt by our care, and we are sorry. Keep it dry.",
    "hole-quiet-advice": "Keep it dry. Come back if it runs, bleeds or hurts, or if you hear less.",
    "tinnitus-one-sided-advice": "Come back if the sound is still there after 6 weeks.",
}
"""By rule. A rule that is not here tells staff what to do, or is a practice's own."""
STAFF_ONLY = frozenset({"grommet-test-unknown", "aid-part-advice"})
"""Rules of the protocol that comes with the program whose advice is for staff."""


def advice_words(advice: Sequence[Advice]) -> tuple[str, ...]:
    """Return what to do meanwhile, each once; nothing of what is for staff."""
    words = (FOR_PEOPLE[each.rule] for each in advice if each.rule in FOR_PEOPLE)
    return tuple(dict.fromkeys(words))
