"""What was told and found, on the sheet to take home, in words for the person."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from recall.care.case import Reported, ReportWord, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.ear import SIDES, Ear, Side
from recall.care.hearing import who_grade
from recall.schedule.combine import PRESSING
from recall.schedule.found import Found, findings_of
from recall.schedule.plan import Plan

DEEP = 3
"""From this grade on (Tos) an attic pocket is a sign of disease."""
DEEP_POCKET = "a deep pocket at the top of the eardrum"
ALONE = "keratin"
"""What stands in a sentence of its own."""
SAID: dict[ReportWord, str] = {
    "hearing_concern": "a worry about hearing",
    "speech_concern": "a worry about speech",
    "sudden_hearing_loss": "sudden hearing loss",
    "worsening_hearing_loss": "hearing that gets worse",
    "fluctuating_hearing": "hearing that comes and goes",
    "facial_weakness": "weakness of the face",
    "facial_numbness": "a face that feels numb or strange",
    "vertigo": "dizziness, with a feeling of spinning",
    "sudden_vertigo": "sudden dizziness, with a feeling of spinning",
    "pain": "ear pain",
    "night_pain": "ear pain at night",
    "severe_pain": "bad ear pain",
    "tinnitus_one_sided": "a sound in one ear",
    "tinnitus_pulsatile": "a sound in the ear that beats with the pulse",
    "recent_cold": "a cold of late",
    "head_injury": "a blow to the head",
    "bled": "bleeding from the ear after care",
    "loss_explained": "",
    "bled_by_itself": "bleeding from the ear",
    "blocked_feeling": "an ear that feels blocked",
    "itch": "an itch in the ear",
    "barotrauma": "an ear hurt by pressure, on a flight or a dive",
    "dizzy_after_care": "dizziness after the ear was cleared",
    "hurt_by_care": "an ear that was hurt by our care",
    "first_hearing_aid": "a first hearing aid",
    "own_injury": "an ear hurt by a cotton bud or something else put into it",
    "not_tested_since_grommet": "that hearing was never tested since the grommet went in",
}
"""What people tell, in their own sort of words; empty for what a clinician adds to it."""


def found_that_day(visits: Sequence[Visit], leaves_out: set[str], plan: Plan) -> Iterator[str]:
    """Yield what was found on a day; what a further visit of it found is told after that."""
    normal = _looked_normal(visits, plan)
    told: set[str] = set()
    for visit in visits:
        lines = [line for line in _found(visit, leaves_out, normal) if line not in told]
        yield from (f"Later that day: {line}" if told else line for line in lines)
        told.update(lines)


def _looked_normal(visits: Sequence[Visit], plan: Plan) -> set[Side]:
    """Return the ears in which nothing but wax was found that day, the whole drum seen.

    One that is sent on soon is called no normal: whatever its drum looks like, nothing is to keep
    somebody from going.
    """
    pressed = {side for one in plan.referrals if one.urgency in PRESSING for side in one.ears}
    ears = {side: [e for v in visits if (e := _ear(v, side)) is not None] for side in SIDES}
    return {
        side
        for side, seen in ears.items()
        if side not in pressed
        and seen
        and all(map(_shows_nothing, seen))
        and _is_seen(seen[-1])
        and _nothing_stayed(seen)
    }


def _ear(visit: Visit, side: Side) -> Ear | None:
    return visit.right if side == "right" else visit.left


def _shows_nothing(ear: Ear) -> bool:
    as_ever = ear.perforation != "healed" and ear.tensa_mobile is not False
    return as_ever and (not (found := findings_of(ear)) or _only_wax(found))


def _is_seen(ear: Ear) -> bool:
    """Return whether drum and attic were recorded as seen: what was not recorded is not normal."""
    seen = ear.drum_seen == "full" and ear.attic_seen is True
    return seen and ear.wax_left not in ("partial", "occluding")


def _nothing_stayed(seen: Sequence[Ear]) -> bool:
    """Return whether the last clearing told of that day neither failed nor was put off."""
    told = [ear.clearance for ear in seen if ear.clearance is not None]
    return not told or told[-1] == "cleared"


def _found(visit: Visit, leaves_out: set[str], normal: set[Side]) -> Iterator[str]:
    if said := list(filter(None, dict.fromkeys(map(_said, visit.reported)))):
        yield f"You told us: {'; '.join(said)}."
    bare = []
    for side in SIDES:
        if (ear := _ear(visit, side)) is None:
            continue
        everything = (*_a_little_wax(ear), *findings_of(ear))
        told = [f for f in everything if f.name not in leaves_out]
        if words := _sentences(told, ear):
            clear = side in normal and ear.clearance == "cleared"
            after = "; the ear looked normal after that" if clear else ""
            yield f"{side.capitalize()} ear: {words}{after}."
        elif side in normal and not everything and _is_seen(ear):
            bare.append(side)
    if bare:
        yield "Both ears looked normal." if len(bare) > 1 else f"The {bare[0]} ear looked normal."


def _a_little_wax(ear: Ear) -> Iterator[Found]:
    """Yield wax that is no finding by itself, and was still taken out or tried."""
    if ear.wax_found == "some" and ear.clearance in ("cleared", "failed"):
        yield Found("wax_found", "some", 1, "wax", "wax")


def _sentences(told: Sequence[Found], ear: Ear) -> str:
    """Return findings as a list; skin that may grow where it should not is said by itself."""
    words = dict.fromkeys(_plain(f, ear) for f in told if f.name != ALONE)
    alone = [_plain(f, ear) for f in told if f.name == ALONE]
    listed = _listed([each for each in words if each])
    return ". There is also ".join([*filter(None, [listed]), *alone])


def _listed(words: Sequence[str]) -> str:
    """Return things as a list that ends with "and".

    >>> _listed(["ear wax, which we took out", "a red eardrum"])
    'ear wax, which we took out, and a red eardrum'
    """
    if len(words) < 2:
        return "".join(words)
    pause = "," if len(words) > 2 or "," in words[0] else ""
    return f"{', '.join(words[:-1])}{pause} and {words[-1]}"


def _only_wax(found: Sequence[Found]) -> bool:
    return {one.name for one in found} == {"wax_found"}


def _said(item: ReportWord | Reported) -> str:
    if not isinstance(item, Reported):
        return SAID[item]
    words = SAID[item.what]
    return f"{words} ({item.ear} ear)" if words and item.ear else words


def _plain(found: Found, ear: Ear) -> str:
    """Return a finding in words for the person; what is only suspected says so."""
    words = CATALOGUE[found.name].plain
    if found.name == "hearing_dB":
        return _loss(found.value)
    if found.name == "attic_grade" and found.value >= DEEP:
        return DEEP_POCKET
    if found.value == "could_not_test":
        return "hearing could not be checked"
    if found.name == "wax_found" and ear.clearance == "cleared":
        is_part = ear.wax_left == "partial"
        return f"{words}, of which a part is still in" if is_part else f"{words}, which we took out"
    if found.name == "wax_found" and ear.clearance == "failed":
        return f"{words}, which did not come out"
    return f"what may be {words}" if found.value == "suspected" else words


def _loss(average: float) -> str:
    """Return a loss by its grade (WHO, World report on hearing 2021), against nobody else's.

    >>> _loss(21.25)
    'a mild loss of hearing in the test'
    """
    return f"a {who_grade(average).replace('_', ' ')} loss of hearing in the test"
