"""What the sheet to take home says of rules, ears and services, in words for the person.

What is advised to staff is not told. Of a child it speaks to whoever brings them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from recall.care.ear import ears_of
from recall.schedule.plan import Advice


class Reader(NamedTuple):
    """How the person whose ears are meant is spoken of."""

    you: str
    your: str
    verb_s: str
    """What a verb takes after `you`."""
    were: str

    @property
    def You(self) -> str:  # noqa: N802
        """Return it as it begins a sentence."""
        return self.you[:1].upper() + self.you[1:]


ADULT = Reader("you", "your", "", "were")
CHILD = Reader("your child", "your child's", "s", "was")

_DROPS_NONE = "put no drops and no water in until we have seen it again."
_RETRACTION = "come back if {you} hear{s} less, or if it runs, hurts or feels blocked."
_SIT = "Dizzy today: sit down until it has gone. Call us if it lasts into tomorrow."
DROPS_CAUTION = (
    "Put no drops into an ear that has a hole or a grommet, that was operated on, "
    "or that hurts or runs."
)
"""Said wherever drops are advised: NHS Tayside ear wax page (none where a hole is suspected); a
grommet, an earlier operation and an ear that is ill are common practice, no source."""
FOR_PEOPLE: dict[str, str] = {
    "view-refused": "come back at any time if you would like it to be looked at.",
    "tensa-one-adult": _RETRACTION,
    "attic-one-adult": _RETRACTION,
    "wax-cleared-advice": "come back if it feels blocked again, or if {you} hear{s} less.",
    "drops-first": "use softening drops for 3 to 5 days before the next visit. " + DROPS_CAUTION,
    "drops-first-found": "use softening drops for 3 to 5 days before the next visit. "
    + DROPS_CAUTION,
    "no-drops": _DROPS_NONE,
    "no-drops-operated": _DROPS_NONE,
    "no-drops-earlier": _DROPS_NONE,
    "no-drops-lately": _DROPS_NONE,
    "no-drops-trace": _DROPS_NONE,
    "no-drops-pain": _DROPS_NONE,
    "itch-advice": "do not scratch in it. Come back if it hurts or runs.",
    "pain-advice": "see a doctor if the pain gets worse or a fever comes.",
    "blocked-feeling-advice": "come back if it still feels blocked after 6 weeks.",
    "barotrauma-advice": "do not dive, and do not fly with a cold, until it is well again.",
    "dizzy-after-care-advice": _SIT,
    "vertigo-from-care": _SIT,
    "dizzy-with-hole-advice": _SIT,
    "dizzy-worse-advice": "Dizzy today: sit down until it has gone. We will ring on the next "
    "working day. Go to the emergency department, and do not wait for us, if it spins again or "
    "if {you} hear{s} less.",
    "bled-advice": "keep it dry. Come back if it bleeds again, runs or hurts.",
    "hurt-by-care-advice": "it was hurt by our care, and we are sorry. Keep it dry.",
    "own-injury-advice": "keep it dry, and put nothing into it. Come back, or see the GP, on the "
    "same day if it bleeds again, runs, hurts more or if {you} hear{s} less.",
    "facial-weakness-old": "See a doctor if {your} face gets weaker, or if no doctor "
    "has looked into it.",
    "sudden-loss-back": "it hears well, or again. If {you} hear{s} less again, ring us on the same "
    "day, or go to the emergency department.",
    "wax-waits": "leave the wax in, and put no drops in. Whoever sees {you} today takes it out; do "
    "not wait for that.",
    "acute-infection-hearing": "the infection needs no look of its own once it has settled. Come "
    "back if it runs, or if {you} hear{s} less than before 6 weeks from now.",
    "tinnitus-one-sided-advice": "come back if the sound is still there after 6 weeks.",
    "grommet-test-unknown": "please find out when and where hearing was last tested since the "
    "grommet went in, and tell us.",
    "fluid-child-advice": "fluid dulls sounds. Face your child and speak near, with less noise "
    "around. Tell school or nursery. Keep your child away from smoke. Come back sooner if hearing, "
    "speech or balance gets worse.",
}
"""By rule, after the name of the ear. What a finding asks for is in `sheet_meanwhile`; any other
rule that is not here tells staff what to do, or is a practice's own."""
OF_PERSON = frozenset(
    {
        "dizzy-after-care-advice",
        "dizzy-with-hole-advice",
        "dizzy-worse-advice",
        "vertigo-from-care",
        "facial-weakness-old",
    }
)
"""Advice to the whole person: it names no ear."""
STAFF_ONLY = frozenset({"aid-part-advice", "loss-adult-offer"})
"""Rules of the protocol that comes with the program whose advice is for staff."""
TEST = "We would like to test the hearing."
UNFINISHED = "We could not finish last time and would like to look again soon."
BACK: dict[str, str] = {
    "We would like to look at the ear again.": "We would like to look at {ears} again.",
    "We would like to look at the ear drum again.": "We would like to look at {ears} again.",
    "We would like to look at the ear.": "We would like to look at {ears}.",
    TEST: "We would like to test the hearing of {ears}.",
    "We would like to test the hearing again.": "We would like to test the hearing of {ears} "
    "again.",
    "We would like to finish clearing the ear.": "We would like to finish clearing {ears}.",
    "We would like to clean the ear and look at it again.": "We would like to clean {ears} and "
    "look again.",
    "The ear is due for its regular care.": "It is time for the regular care of {ears}.",
    "The ears are due for a routine check.": "It is time for a routine check of {ears}.",
    "We would like to know how the ear is today.": "We would like to ask about {ears}.",
    "The new hearing aid is due for its first check.": "It is time for the first check of the "
    "new hearing aid, with {ears}.",
    UNFINISHED: "We could not finish with {ears} and would like to look again soon.",
    "We would like to ask whether you are still being seen elsewhere for your ears.": "We would "
    "like to ask whether {you} {are} still being seen elsewhere for {ears}.",
    "": "We would like to see {ears} again.",
}
"""What the rules say aloud, with the ears; a practice's own words follow the name of the ear."""
CLEARING = BACK["We would like to finish clearing the ear."]
_WITH_CLEARING = (BACK[UNFINISHED], BACK["We would like to look at the ear again."])
_POCKET = (
    "What we saw can be a sign of skin that grows in the wrong place. The ear may feel well, but "
    "this does not go away by itself and can slowly harm the ear and the hearing. It can be "
    "treated: please keep this appointment."
)
_DRAWN_IN = (
    "The eardrum is drawn in further than is usual. This can slowly harm the hearing, so a "
    "specialist should see it."
)
_SKIN = (
    "A place like this can be a skin cancer, and that is treated best when it is found early: "
    "please keep this appointment."
)
BECAUSE: dict[str, str] = {
    "pinna-lesion": _SKIN,
    **dict.fromkeys(
        ("disease-keratin", "disease-attic-crust", "disease-scutum", "disease-attic-grade",
         "disease-hole-edge", "disease-polyp", "disease-granulation", "base-unseen-refer"),
        _POCKET,
    ),
    **dict.fromkeys(
        ("tensa-three-first", "tensa-four-refer", "tensa-stuck-refer", "tensa-new-gap-refer",
         "attic-new-gap-refer"),
        _DRAWN_IN,
    ),
}  # fmt: skip
"""Why a referral matters, where somebody whose ear feels well might not go; common practice."""


_DIZZY = "{your} dizziness"
ABOUT: dict[str, str] = {
    **dict.fromkeys(("vertigo", "sudden-vertigo"), _DIZZY),
    "facial": "{your} face",
}
"""What a referral is about where that is the person and no ear, by how its rules' names begin."""


def about_words(rules: Sequence[str], ears: Collection[str], reader: Reader) -> str:
    """Return what a referral is about: the ears, or what is of the whole person.

    >>> about_words(["vertigo-gp"], ("right", "left"), ADULT)
    'your dizziness'
    """
    of_person = [_of_person(rule) for rule in rules]
    parts = dict.fromkeys(words.format(your=reader.your) for words in of_person if words)
    if not of_person or not all(of_person):
        parts[ears_of(ears, "the ")] = None
    return " and ".join(parts)


def _of_person(rule: str) -> str:
    return next((words for name, words in ABOUT.items() if rule.startswith(name)), "")


def advice_words(advice: Iterable[Advice], reader: Reader) -> tuple[str, ...]:
    """Return what to do meanwhile, each once with its ears; nothing of what is for staff."""
    found: dict[str, set[str]] = {}
    for each in advice:
        if words := FOR_PEOPLE.get(each.rule):
            said = words.format(you=reader.you, your=reader.your, s=reader.verb_s)
            whose = found.setdefault(said, set())
            whose |= set() if each.rule in OF_PERSON else set(each.ears)
    return tuple(of_ears(words, ears) for words, ears in found.items())


def back_patterns(aloud: Mapping[str, Sequence[str]]) -> dict[str, set[str]]:
    """Return what a visit here is for, with its ears: a thing that two rules ask for is one thing.

    >>> test = "We would like to test the hearing."
    >>> back_patterns({test: ("left",), "We would like to test the hearing again.": ("left",)})
    {'We would like to test the hearing of {ears}.': {'left'}}
    """
    found: dict[str, set[str]] = {}
    for words, ears in aloud.items():
        found.setdefault(BACK.get(words, words), set()).update(ears)
    _say_clearing_once(found)
    for again in [words for words in found if words.endswith(" again.")]:
        if (once := again.replace(" again.", ".")) in found:
            found[once] |= found.pop(again)
    return found


def _say_clearing_once(found: dict[str, set[str]]) -> None:
    """Say of an ear that is to be cleared nothing of the look that comes with it."""
    cleared = found.get(CLEARING, set())
    for words in [each for each in found if each in _WITH_CLEARING]:
        found[words] = found[words] - cleared
        if not found[words]:
            del found[words]


def back_words(aloud: Mapping[str, Sequence[str]], reader: Reader) -> tuple[str, ...]:
    """Return what a visit here is for, each once with its ears; `aloud` has the ears by words."""
    return tuple(_back(pattern, ears, reader) for pattern, ears in back_patterns(aloud).items())


def _back(pattern: str, ears: set[str], reader: Reader) -> str:
    if pattern not in BACK.values():
        return of_ears(pattern, ears)
    whose = f"both {reader.your} ears" if len(ears) > 1 else f"{reader.your} {ears_of(ears)}"
    return pattern.format(ears=whose, you=reader.you, are="is" if reader.verb_s else "are")


def of_ears(words: str, ears: Collection[str]) -> str:
    """Return words with the ears that they are about before them; of none, as they are."""
    if not ears:
        return words
    whose = ears_of(ears)
    return f"{whose[:1].upper()}{whose[1:]}: {words}"


def reason_words(rules: Iterable[str]) -> str:
    """Return why a referral matters, where it might be taken for nothing; otherwise nothing."""
    return " ".join(dict.fromkeys(_reasons(rules)))


def _reasons(rules: Iterable[str]) -> Iterator[str]:
    known = [BECAUSE[rule] for rule in rules if rule in BECAUSE]
    # one reason is enough: suspected disease says all that a drum drawn in does
    yield from [_POCKET] if _POCKET in known else known
