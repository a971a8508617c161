"""The sweep's parts: histories, last looks, and every word one step worse.

Orders and exceptions are written here by hand and never read from the protocol under test:
a rule that loosens a plan must be noticed, whatever it says of itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy
from datetime import date, timedelta
from itertools import pairwise
from typing import Any, get_args

from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case, Reported, ReportWord, RiskWord, Visit
from recall.care.ear import Ear, Side
from recall.protocol.loading import Protocol
from recall.schedule.fold import Folding
from recall.schedule.known import known_of
from recall.schedule.merging import RANK
from tests.schedule.histories import fits
from tests.schedule.reviewed import Standing, taken_over

Found = dict[str, Any]
ON = date(2029, 3, 1)
"""Late enough for every rule in force to have judged all of the visits."""
HERTZ = ("500", "1000", "2000", "4000")


def levels(dB: int) -> dict[str, int]:  # noqa: N803
    """Return a hearing test with one level at the four frequencies."""
    return dict.fromkeys(HERTZ, dB)


FULL: Found = {"drum_seen": "full"}
NORMAL: Found = {
    "effusion": "absent", "tensa_grade": 0, "attic_grade": 0, "perforation": "none",
    "canal_skin": "normal",
}  # fmt: skip
HISTORIES: dict[str, tuple[Found, ...]] = {
    "never seen": (),
    "fluid": ({**FULL, "effusion": "present"},),
    "fluid suspected": ({**FULL, "effusion": "suspected"},),
    "fluid twice": ({**FULL, "effusion": "present"}, {**FULL, "effusion": "present"}),
    "fluid, hearing tested": ({**FULL, "effusion": "present", "hearing_dB": levels(30)},),
    "tensa I": ({**FULL, "tensa_grade": 1},),
    "tensa II": ({**FULL, "tensa_grade": 2},),
    "tensa III": ({**FULL, "tensa_grade": 3},),
    "tensa II twice": ({**FULL, "tensa_grade": 2}, {**FULL, "tensa_grade": 2}),
    "tensa I, then II": ({**FULL, "tensa_grade": 1}, {**FULL, "tensa_grade": 2}),
    "attic I": ({"attic_grade": 1},),
    "attic II": ({**FULL, "attic_seen": True, "attic_grade": 2},),
    "attic II with keratin": ({**FULL, "attic_grade": 2, "keratin": True},),
    "attic III": ({**FULL, "attic_seen": True, "attic_grade": 3},),
    "base unseen": ({**FULL, "tensa_grade": 2, "pocket_base_seen": False},),
    "hole": ({**FULL, "perforation": "central", "perforation_new": True},),
    "marginal hole": ({**FULL, "perforation": "marginal"},),
    "cavity": ({**FULL, "cavity": True},),
    "quiet cavity": ({**FULL, "cavity": True, "cavity_quiet": True},),
    "grommet": ({**FULL, "grommet": "in_place", "grommet_on": "2027-01-01"},),
    "grommet blocked": ({**FULL, "grommet": "blocked"},),
    "grommet in the canal": ({**FULL, "grommet": "in_canal"},),
    "wax": ({"wax_found": "occluding", "wax_left": "occluding", "clearance": "failed"},),
    "wax twice": (
        {"wax_found": "occluding", "wax_left": "none", "clearance": "cleared"},
        {"wax_found": "occluding", "wax_left": "occluding", "clearance": "failed"},
    ),
    "canal inflamed": ({**FULL, "canal_skin": "inflamed"},),
    "canal inflamed twice": (
        {**FULL, "canal_skin": "inflamed"},
        {**FULL, "canal_skin": "inflamed"},
    ),
    "canal fungal": ({**FULL, "canal_skin": "fungal", "treated": True},),
    "drum not seen": ({"drum_seen": "none"},),
    "drum not seen twice": ({"drum_seen": "none"}, {"drum_seen": "none"}),
    "loss": ({**FULL, "hearing_dB": levels(40)},),
    "screen not passed": ({**FULL, "hearing_screen": "not_passed"},),
    "flat trace": ({**FULL, "tympanogram": {"type": "B"}},),
    "discharge": ({**FULL, "discharge": "purulent"},),
    "blood behind": ({**FULL, "blood_behind_drum": True},),
    "bulging": ({**FULL, "red": True, "bulging": True},),
    "hearing aid": ({**FULL, "hearing_aid_fitted_on": "2027-06-01"},),
}
"""What earlier visits found in the right ear."""
LOOKS: dict[str, Found] = {
    "nothing": {"wax_found": "none"},
    "whole and normal": {**FULL, **NORMAL, "attic_seen": True, "wax_found": "none"},
    "in part": {**NORMAL, "drum_seen": "part"},
    "view not recorded": NORMAL,
    "not seen": {"drum_seen": "none", "wax_found": "occluding", "wax_left": "occluding"},
    "fluid": {**FULL, "effusion": "present", "tympanogram": {"type": "B"}},
    "ill": {
        "drum_seen": "part",
        "tensa_grade": 2,
        "perforation": "central",
        "discharge": "purulent",
        "wax_left": "some",
        "hearing_after": "same",
        "cavity": True,
        "grommet": "blocked",
    },
    "tested": {**FULL, "hearing_dB": levels(15), "tympanogram": {"type": "A"}},
}
"""What the last visit found in the right ear, before one word of it is made worse."""
EXPLAINED_BY: tuple[Found, ...] = (
    {"hearing_after": "better"},
    {"hearing_screen": "passed"},
    {"hearing_dB": levels(10)},
    {"hearing_after": "better", "hearing_dB": levels(10)},
)
"""What shows, for the right ear, that a sudden loss is explained."""
WELL_ACROSS: tuple[Found, ...] = (
    {"clearance": "cleared", "hearing_after": "better"},
    {**FULL, **NORMAL, "attic_seen": True, "hearing_screen": "passed"},
    {**FULL, "hearing_dB": levels(0), "tympanogram": {"type": "A"}},
)
"""What the other ear may show to be well beside a complaint of the right one."""
TOLD_BESIDE = ("nothing", "fluid", "ill", "tested")
"""The looks beside which every report and every risk is tried."""
LAST = ("nothing", "whole and normal", "in part", "tested")
"""The looks that follow an earlier one which is made worse."""
GAPS = (20, 140, 430)
"""Days between visits: before anything is due, in the middle of it, and overdue."""
BORN = (date(2023, 5, 1), date(1995, 5, 1), date(1960, 5, 1))

_NO_YES = (
    "red", "bulging", "bullae", "scutum_erosion", "attic_crust", "granulation", "polyp",
    "keratin", "blood_behind_drum", "perforation_new", "canal_swollen_shut", "canal_narrow",
    "exostoses", "cellulitis", "mastoid_swelling", "pinna_lesion", "tympanosclerosis",
    "keratin_plug",
)  # fmt: skip
"""Flags that answer no look, so that left out is as good as false."""
CHAINS: tuple[tuple[str, tuple[Any, ...]], ...] = (
    *((name, (None, True)) for name in _NO_YES),
    ("cavity", (False, True)),
    ("cavity", (None, True)),
    ("pocket_base_seen", (True, False)),
    ("attic_seen", (True, False)),
    ("tensa_mobile", (True, False)),
    ("clearance", ("cleared", "failed")),
    ("drum_seen", ("full", "part", "none")),
    ("wax_found", ("none", "some", "partial", "occluding")),
    ("wax_left", ("none", "some", "partial", "occluding")),
    ("effusion", ("absent", "suspected", "present")),
    ("tensa_grade", (0, 1, 2, 3, 4)),
    ("attic_grade", (0, 1, 2, 3, 4)),
    ("hearing_after", ("better", "same", "worse")),
    ("perforation", ("none", "central", "marginal")),
    ("perforation", ("none", "attic")),
    ("discharge", ("none", "clear")),
    ("discharge", ("none", "purulent")),
    ("discharge", ("none", "blood")),
    ("canal_skin", ("normal", "inflamed")),
    ("canal_skin", ("normal", "fungal")),
    ("canal_skin", ("normal", "eczema")),
    ("mass_behind_drum", ("none", "white")),
    ("mass_behind_drum", ("none", "red")),
    ("foreign_body", ("none", "other")),
    ("foreign_body", ("none", "aid_part")),
    ("foreign_body", ("none", "unidentified")),
    ("foreign_body", ("none", "button_battery")),
    ("hearing_screen", ("passed", "not_passed")),
    ("hearing_dB", tuple(levels(d) for d in (5, 15, 20, 25, 35, 45, 60, 80, 100))),
    ("tympanogram", tuple({"type": t} for t in ("A", "C1", "C2", "B"))),
)
"""Every word of an ear, mildest value first."""
REPORTS: tuple[ReportWord, ...] = get_args(ReportWord)
RISKS: tuple[RiskWord, ...] = get_args(RiskWord)


def _ear(found: Found | None) -> Ear | None:
    return convert(found, Ear) if found is not None else None


def visit(on: date, right: Found | None, left: Found | None = None, **more: Any) -> Visit:
    """Return a visit."""
    return Visit(on=on, examiner="A", right=_ear(right), left=_ear(left), **more)


def history(born: date, earlier: tuple[Found, ...], gap: int, protocol: Protocol) -> Folding:
    """Return the state after the earlier visits, the last one `gap` days before `ON`."""
    days = [ON - timedelta(days=gap * n) for n in range(len(earlier), 0, -1)]
    visits = tuple(visit(day, found) for day, found in zip(days, earlier, strict=True))
    state = Folding(Case(born=born, visits=visits), protocol, None)
    for one in visits:
        state.see(one)
    return state


def seen(state: Folding, last: Visit, risk: RiskWord | None = None) -> Folding:
    """Return the state once one more visit is taken in; the state given is left as it is."""
    new = copy(state)
    for name in ("open", "referrals"):
        setattr(new, name, dict(getattr(state, name)))
    for name in ("closings", "referral_ends", "visits"):
        setattr(new, name, list(getattr(state, name)))
    new.courses = {side: _copied(course) for side, course in state.courses.items()}
    if risk is not None:
        new.case = replace(new.case, risks=(risk,), visits=(*new.case.visits, last))
        new.known = known_of(new.case)
    new.see(last)
    return new


def after(state: Folding, last: Visit, risk: RiskWord | None = None) -> Standing:
    """Return what stands once one more visit is taken in."""
    return standing(seen(state, last, risk))


def _copied(course: Any) -> Any:
    new = copy(course)
    new.tensa, new.attic = copy(course.tensa), copy(course.attic)
    return new


def standing(state: Folding, *, tries: bool = True) -> Standing:
    """Return what is open, the most pressing for each ear and track, and each ear and service.

    Second tries count among it only where asked for.
    """
    found: Standing = {}
    for due in state.open.values():
        if due.kind == "retry" and not tries:
            continue
        _join(found, (due.ear, due.track), due.latest, RANK[due.urgency], (due.rule, *due.beaten))
    for (side, to), referral in state.referrals.items():
        rules = tuple(r.rule for r in referral.reasons)
        _join(found, (side, f"to {to}"), referral.stages.seen_by, RANK[referral.urgency], rules)
    return found


def _join(
    found: Standing, key: tuple[Side, str], latest: date, rank: int, rules: tuple[str, ...]
) -> None:
    if key in found:
        other = found[key]
        latest, rank = min(latest, other[0]), min(rank, other[1])
        rules = (*other[2], *rules)
    found[key] = latest, rank, rules


def looser(before: Standing, after: Standing) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield what fell away, came later or got milder, with the rules that had asked for it."""
    for key, (latest, rank, rules) in before.items():
        new = after.get(key)
        if taken_over(key, before[key], after):
            continue
        if new is None:
            yield f"{key} fell away", rules
        elif new[0] > latest and not _gone_by(key[1], latest):
            yield f"{key} came later: {latest} to {new[0]}", rules
        elif new[1] > rank:
            yield f"{key} got milder", rules


def _gone_by(what: str, day: date) -> bool:
    """Return whether a referral's day has gone by: a more pressing one is asked by its own."""
    return what.startswith("to ") and day < ON


def chains(found: Found) -> Iterator[tuple[str, list[tuple[Any, Found]]]]:
    """Yield, for each word, the findings with each of its values that can be."""
    for name, values in CHAINS:
        made = []
        for value in values:
            changed = {k: v for k, v in found.items() if k != name}
            if value is not None:
                changed[name] = value
            if fits(changed):
                made.append((value, changed))
        if len(made) > 1:
            yield name, made


Pair = tuple[str, Any, Standing, Standing]
"""A word, its worse value, and what stands before and after it got worse."""


def worse_ear(state: Folding, look: Found, side: Side) -> Iterator[Pair]:
    """Yield each word of one ear at the last visit one step worse."""
    for name, made in chains(look if side == "right" else {}):
        several = []
        for value, found in made:
            last = visit(ON, found) if side == "right" else visit(ON, look, found)
            several.append((value, after(state, last)))
        for (_, one), (value, two) in pairwise(several):
            yield name, value, one, two


def worse_told(state: Folding, look: Found) -> Iterator[Pair]:
    """Yield each report and each risk beside a look."""
    plain = visit(ON, look)
    before = after(state, plain)
    for word in REPORTS:
        yield "report", word, before, after(state, replace(plain, reported=(word,)))
    for risk in RISKS:
        yield "risk", risk, before, after(state, plain, risk)


def worse_explained(state: Folding, found: Found, side: Side) -> Iterator[Pair]:
    """Yield each word of one ear one step worse, beside a sudden loss with its cause named."""
    told = (
        Reported(what="sudden_hearing_loss", ear="right"),
        Reported(what="loss_explained", because="wax"),
    )
    for name, made in chains(found if side == "right" else {"hearing_dB": levels(10)}):
        several = []
        for value, changed in made:
            across = {"hearing_dB": levels(10)} if "hearing_dB" in found else None
            ears = (changed, across) if side == "right" else (found, changed)
            several.append((value, after(state, visit(ON, *ears, reported=told))))
        for (_, one), (value, two) in pairwise(several):
            yield name, value, one, two


def worse_before(
    born: date, earlier: tuple[Found, ...], gap: int, look: Found, protocol: Protocol
) -> Iterator[Pair]:
    """Yield each word of the look before the last one step worse.

    An ear and track that the last look answered is left out: the worse finding asked for that
    look sooner, so that it came in time, and what it found asks for itself.
    """
    *first, found = earlier
    last = visit(ON, look)
    for name, made in chains(found):
        several = []
        for value, changed in made:
            state = seen(history(born, (*first, changed), gap, protocol), last)
            done = {
                (c.due.ear, c.due.track)
                for c in state.closings
                if c.on == ON and c.reason == "answered"
            }
            several.append((value, standing(state, tries=False), done))
        for (_, one, _), (value, two, done) in pairwise(several):
            yield name, value, {k: v for k, v in one.items() if k not in done}, two
