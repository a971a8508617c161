"""What to do until the next visit, on the sheet to take home: by what was found, then by rule.

What a finding asks for holds whatever is planned for it, and where its line was struck out. A hole,
a grommet and an open cavity count until another look has shown otherwise; all else is of the day.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date
from typing import Any, NamedTuple

from recall.care.case import Reported, Visit
from recall.care.ear import SIDES, Side, recorded
from recall.desk.people.sheet_words import OF_PERSON, Reader, advice_words, of_ears
from recall.schedule.plan import Advice

LASTING = frozenset({"perforation", "grommet", "cavity"})
"""Findings that stay until another look shows otherwise."""


class Meanwhile(NamedTuple):
    """What to do about an ear that shows one of some values."""

    found: Mapping[str, tuple[Any, ...]]
    says: str
    source: str
    even_now: bool = False
    """Whether it is said to somebody who goes to hospital at once."""


_NOT_BETTER = (
    "If it is no better after {days}, or gets worse, or a fever comes, see a doctor or us at once."
)
_DAYS = "2 to 3 days"
_TREATED_DAYS = f"{_DAYS} of treatment"
"""Where somebody sees it within a day or two: there is nothing to wait for before that."""
_PRESCRIBED = "but what is prescribed for it now."
OF_EAR: tuple[Meanwhile, ...] = (
    Meanwhile(
        {"foreign_body": ("button_battery", "unidentified", "other", "aid_part")},
        "put no drops and no water in. Leave it alone, and do not try to take it out.",
        "Queensland paediatric guideline, foreign body in the ear; drops and water worsen a "
        "battery's burn: Akgul, Acta ORL Ital 2023;43:149-54",
        even_now=True,
    ),
    Meanwhile(
        {"discharge": ("clear", "purulent", "blood")},
        f"keep it dry, and put no drops in {_PRESCRIBED} {_NOT_BETTER}",
        "3 days: NICE NG91 (2018); dry, and only drops that are safe through a hole or a grommet: "
        "common practice, no source",
    ),
    Meanwhile(
        {"perforation": ("central", "marginal", "attic")},
        "keep it dry, and put no drops in but those that a doctor gives for it. Come back if it "
        "runs, bleeds or hurts, or if {you} hear{s} less.",
        "NHS, perforated eardrum (no water, no drops unless a doctor says so), from memory",
    ),
    Meanwhile(
        {"cavity": (True,)},
        "keep it dry, and put no drops in but those that a doctor gives for it. Come back if it "
        "runs, bleeds or hurts.",
        "common practice, no source",
    ),
    Meanwhile(
        {"canal_skin": ("inflamed", "fungal"), "canal_swollen_shut": (True,)},
        f"keep it dry, use no soap in it, and put nothing into it {_PRESCRIBED} If it runs, or is "
        "no better after {days}, or gets worse, see a doctor or us at once.",
        "2 to 3 days: AAO-HNSF acute otitis externa 2014 (48 to 72 hours), from memory; dry, and "
        "nothing put in: common practice, no source",
    ),
    Meanwhile(
        {"canal_skin": ("eczema",)},
        f"keep it dry, use no soap in it, and put nothing into it {_PRESCRIBED} If it weeps, hurts "
        "or runs, see a doctor or us.",
        "common practice, no source",
    ),
    Meanwhile(
        {"bulging": (True,), "bullae": (True,)},
        f"put no drops in {_PRESCRIBED} {_NOT_BETTER}",
        "NICE NG91 (2018) 1.1: about 3 days, sooner if worse; drops: common practice, no source",
    ),
    Meanwhile(
        {"grommet": ("in_place", "blocked")},
        "put no drops in but those that a doctor gives for it. If it runs, see a doctor or us.",
        "AAO-HNSF tubes 2022 (drops for a tube that runs; water need not be kept out as a rule); "
        "other drops: common practice, no source",
    ),
)
"""The first that an ear shows is said of it."""
BY_FINDING = frozenset(
    {"acute-infection-advice", "canal-treated-advice", "canal-mild-advice", "canal-eczema-advice",
     "hole-quiet-advice"}
)  # fmt: skip
"""Rules whose advice to the person is all in `OF_EAR`."""
_DROPS = frozenset({"no-drops", "no-drops-operated", "drops-first", "drops-first-found"})
"""Rules that speak of drops; of an ear of which `OF_EAR` speaks, it alone does."""
_DIZZY = frozenset({"vertigo", "sudden_vertigo", "dizzy_after_care"})
DIZZY = (
    "If the dizziness comes with new trouble walking, speaking or seeing, with weakness or "
    "numbness, or with a new loss of hearing, call 999 at once. Until it has gone, do not drive or "
    "climb."
)
"""Signs of a stroke: NICE NG128, from memory, and the rules of the protocol, `vertigo-gp`; do not
drive or climb: common practice, no source."""


def meanwhile(
    visits: Sequence[Visit],
    advice: Sequence[Advice],
    reader: Reader,
    *,
    goes_now: bool,
    soon: Collection[str] = (),
) -> tuple[str, ...]:
    """Return what to do until the next visit, each once with its ears.

    Somebody who goes to hospital at once is told only what would do harm on the way there; `soon`
    are the ears that a service sees within a day or two.
    """
    on = max(visit.on for visit in visits)
    shown = {side: _shown(visits, side, on) for side in SIDES}
    own = {side: one for side in SIDES if (one := _of_ear(shown[side]))}
    lines = list(_own_lines(own, reader, soon, goes_now=goes_now))
    if goes_now:
        return tuple(lines)
    if _DIZZY & {_what(item) for visit in visits if visit.on == on for item in visit.reported}:
        lines.insert(0, DIZZY)
    return (*lines, *advice_words(_by_rule(advice, own), reader))


def _what(item: str | Reported) -> str:
    return item.what if isinstance(item, Reported) else item


def _shown(visits: Sequence[Visit], side: Side, on: date) -> dict[str, Any]:
    """Return what an ear shows on its newest day, with what lasts of the days before."""
    found: dict[str, Any] = {}
    for visit in sorted(visits, key=lambda v: v.on):
        seen = recorded(visit.right if side == "right" else visit.left)
        found |= {n: v for n, v in seen.items() if visit.on == on or n in LASTING}
    if found.get("clearance") == "cleared":
        found.pop("foreign_body", None)  # an object is recorded as out in this way
    return found


def _of_ear(shown: Mapping[str, Any]) -> Meanwhile | None:
    return next((one for one in OF_EAR if _shows(one, shown)), None)


def _shows(one: Meanwhile, shown: Mapping[str, Any]) -> bool:
    return any(shown.get(name) in values for name, values in one.found.items())


def _own_lines(
    own: Mapping[Side, Meanwhile], reader: Reader, soon: Collection[str], *, goes_now: bool
) -> Iterator[str]:
    ears: dict[str, list[Side]] = {}
    for side, one in own.items():
        if one.even_now or not goes_now:
            days = _TREATED_DAYS if side in soon else _DAYS
            words = one.says.format(you=reader.you, s=reader.verb_s, days=days)
            ears.setdefault(words, []).append(side)
    for words, sides in ears.items():
        yield of_ears(words, sides)


def _by_rule(advice: Sequence[Advice], own: Mapping[Side, Meanwhile]) -> Iterator[Advice]:
    """Yield the advice of rules that what was found does not say already."""
    for one in advice:
        quiet = own.keys() if one.rule in _DROPS else ()
        left = tuple(ear for ear in one.ears if ear not in quiet)
        if left or one.rule in OF_PERSON:
            yield Advice(says=one.says, rule=one.rule, ears=left)
