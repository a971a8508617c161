"""What whoever treats the ear next must know, from the findings and risks on record.

When water is not used, and what asks for more care:
NICE NG98 (2018), 1.2: wax removal.
AAO-HNSF, Clinical practice guideline (update): earwax, Otolaryngol Head Neck Surg 2017;156(1S):
S1-S29, statements 2B and 5A: not with a non-intact drum; modifying factors.
NHS Tayside, Ear wax (Right Decisions): grommet, only hearing ear, any ear surgery (but grommets
out for 18 months and discharged), mucous discharge within 12 months, middle ear infection within
6 weeks, cleft palate even if repaired, foreign body; a second published list adds a perforation
healed within 12 months and otitis externa.
What was never recorded is no leave: look first, and follow the practice's own policy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from recall.care.case import Case, Risk, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.course import OPEN_PERFORATIONS
from recall.care.dates import add, resolve
from recall.care.ear import SIDES, Ear, Side
from recall.schedule.calendar import say_day

NO_WATER = "Do not irrigate"
_CARE = "Take extra care"
_YEAR, _SIX_WEEKS, _OUT_FOR = 12, 42, 18
"""Months, days, months: see the lists above."""
_PERSON: dict[str, tuple[str, str]] = {
    "cleft_palate": (NO_WATER, "cleft palate, repaired or not"),
    "anticoagulant": (_CARE, "takes medicine that thins the blood: bleeds easily"),
    "immunocompromised": (_CARE, "immune system weakened: infection of the canal"),
    "diabetes": (_CARE, "diabetes: infection of the canal"),
    "head_neck_radiotherapy": (_CARE, "radiotherapy of head or neck: fragile skin"),
    "narrow_canal": (_CARE, "narrow ear canal"),
}
_EAR: dict[str, str] = {
    "only_hearing_ear": "the only hearing ear",
    "previous_ear_surgery": "ear surgery in the past",
    "previous_cholesteatoma": "cholesteatoma in the past",
}


@dataclass(frozen=True)
class Caution:
    """One thing to know before an ear is treated."""

    ear: Side | None
    """None where it holds for both."""
    what: str
    because: str

    @property
    def words(self) -> str:
        """Return the caution as one line."""
        where = "both ears" if self.ear is None else f"the {self.ear} ear"
        return f"{self.what}, {where}: {self.because}."


def cautions(case: Case, on: date) -> tuple[Caution, ...]:
    """Return what must be known about both ears on a day, water first."""
    found = [*_of_person(case, on), *(c for side in SIDES for c in _of_ear(case, side, on))]
    return tuple(sorted(dict.fromkeys(found), key=lambda c: c.what != NO_WATER))


def _risks(case: Case, on: date) -> Iterator[tuple[str, Side | None]]:
    """Give the risks that hold, with their ear; one that has just begun or is vague holds."""
    for risk in case.risks:
        if not isinstance(risk, Risk):
            yield risk, None
        elif risk.until is None or resolve(risk.until, on).on > on:
            yield risk.what, risk.ear


def _of_person(case: Case, on: date) -> Iterator[Caution]:
    for what, ear in _risks(case, on):
        if what in _PERSON:
            yield Caution(ear, *_PERSON[what])
        elif what in _EAR:
            yield Caution(ear, NO_WATER, _EAR[what])
        elif what == "previous_grommet" and not _long_out(case, ear, on):
            why = "a grommet in the past, not documented as out for 18 months and discharged"
            yield Caution(ear, NO_WATER, why)


def _long_out(case: Case, ear: Side | None, on: date) -> bool:
    """Return whether the grommet was documented as out 18 months ago, ear by ear."""
    sides = (ear,) if ear else SIDES
    return all(_out_since(case, side, add(on, months=-_OUT_FOR)) for side in sides)


def _out_since(case: Case, side: Side, before: date) -> bool:
    seen = [e for e in _looks(case, side, before) if e[1].grommet is not None]
    return bool(seen) and seen[-1][1].grommet in ("gone", "none")


def _of_ear(case: Case, side: Side, on: date) -> Iterator[Caution]:
    looks = _looks(case, side, on)
    for question in _QUESTIONS:
        if because := question(looks, on):
            yield Caution(side, NO_WATER, because)
    for what, because in _of_findings(looks):
        yield Caution(side, what, because)
    for told in case.told_by_others:
        if told.surgery and told.ear == side:
            yield Caution(side, NO_WATER, "ear surgery in the past")


def _looks(case: Case, side: Side, on: date) -> list[tuple[date, Ear]]:
    """Return what was seen in an ear up to a day, oldest first."""
    seen = sorted((v for v in case.visits if v.on <= on), key=lambda v: v.on)
    return [(v.on, ear) for v in seen if (ear := _ear(v, side)) is not None]


def _ear(visit: Visit, side: Side) -> Ear | None:
    return visit.right if side == "right" else visit.left


def _last(looks: list[tuple[date, Ear]], field: str) -> object:
    """Return what was last recorded of a field."""
    found = [getattr(ear, field) for _on, ear in looks if getattr(ear, field) is not None]
    return found[-1] if found else None


def _drum(looks: list[tuple[date, Ear]], on: date) -> str:
    """A hole counts until the drum is documented whole, and a healed one for a year more."""
    holes = [(day, e.perforation) for day, e in looks if e.perforation is not None]
    if not holes:
        return ""
    if holes[-1][1] in OPEN_PERFORATIONS:
        return f"perforation of the drum ({say_day(holes[-1][0])})"
    open_on = [day for day, state in holes if state in OPEN_PERFORATIONS]
    healed = [day for day, state in holes if state == "healed"]
    last = max((*open_on, *healed), default=None)
    if last is not None and last > add(on, months=-_YEAR):
        return f"perforation healed within 12 months ({say_day(last)})"
    return ""


def _grommet(looks: list[tuple[date, Ear]], on: date) -> str:
    placed = [day for day, ear in looks if ear.grommet_on is not None]
    state = _last(looks, "grommet")
    if state in ("in_place", "blocked"):
        return "grommet in place"
    if state is None and placed:
        return "grommet put in, and not documented as out"
    out = [day for day, ear in looks if ear.grommet in ("in_canal", "gone")]
    if out and (state == "in_canal" or min(out) > add(on, months=-_OUT_FOR)):
        return "grommet out for less than 18 months"
    return ""


def _discharge(looks: list[tuple[date, Ear]], on: date) -> str:
    wet = [day for day, ear in looks if ear.discharge not in (None, "none")]
    if wet and wet[-1] > add(on, months=-_YEAR):
        return f"discharge within 12 months ({say_day(wet[-1])})"
    return ""


def _infection(looks: list[tuple[date, Ear]], on: date) -> str:
    ill = [day for day, ear in looks if ear.bulging or ear.bullae]
    if ill and (on - ill[-1]).days < _SIX_WEEKS:
        return f"infection of the middle ear within 6 weeks ({say_day(ill[-1])})"
    return ""


def _of_findings(looks: list[tuple[date, Ear]]) -> Iterator[tuple[str, str]]:
    """Give what each finding of the catalogue asks for: without water, or with more care."""
    for name, finding in CATALOGUE.items():
        if finding.caution is None:
            continue
        seen = [value for _on, ear in looks if (value := getattr(ear, name)) is not None]
        if any(v in finding.worse for v in (seen if finding.caution.ever else seen[-1:])):
            yield (NO_WATER if finding.caution.no_water else _CARE), finding.caution.because


_QUESTIONS: tuple[Callable[[list[tuple[date, Ear]], date], str], ...] = (
    _drum,
    _grommet,
    _discharge,
    _infection,
)
