"""What is asked before a visit is closed: slips that a second look finds.

A question changes nothing by itself; whoever closes the visit says that they looked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta

from recall.care.case import Case, Reported, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.dates import resolve
from recall.care.ear import SIDES, Ear, Side
from recall.care.findings.entry import Values
from recall.care.one_look import hearing_was_tested
from recall.schedule.calendar import say_day

SAYS_RED_FLAG: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (r"fac(e|ial)\W+(\w+\W+){0,3}(weak|droop|palsy|paraly)", "weak face", ("facial_weakness",)),
    (r"\bbell'?s\b", "weak face", ("facial_weakness",)),
    (r"(weak|droop)\w*\W+(\w+\W+){0,2}face", "weak face", ("facial_weakness",)),
    (r"\bnumb", "numbness", ("facial_numbness",)),
    (
        r"\bsudden\w*\W+(\w+\W+){0,3}(hearing|deaf|loss)|(lost|loss)\W+(\w+\W+){0,3}suddenly",
        "sudden hearing loss",
        ("sudden_hearing_loss",),
    ),
    (r"\b(vertigo|spinning|room spins|dizz\w+)", "dizziness",
     ("vertigo", "sudden_vertigo", "dizzy_after_care")),
    (r"\b(bled|bleed\w*|blood\w*)\b", "blood", ("bled", "bled_by_itself")),
    (r"\bhead injur\w*|\bfell on (his|her|their) head", "head injury", ("head_injury",)),
    (r"\bpulsat\w+|\bwhoosh\w*|\bheart\s?beat in", "pulsing noise", ("tinnitus_pulsatile",)),
    (r"\bkept awake|\bnight\W+(\w+\W+){0,2}pain|\bpain\W+(\w+\W+){0,2}night", "pain at night",
     ("night_pain",)),
    (r"\bsevere (ear ?ache|pain|otalgia)", "severe pain", ("severe_pain",)),
)  # fmt: skip
"""What a note may hold: how it is written, what to ask about, the words that would record it."""
SAYS_FINDING: tuple[tuple[str, str, tuple[str, ...]], ...] = tuple(
    (noted.pattern, noted.words, tuple(n for n, f in CATALOGUE.items() if noted in f.noted))
    for noted in dict.fromkeys(noted for f in CATALOGUE.values() for noted in f.noted)
)
_NOT = re.compile(
    r"\b(no|not|nil|denies|denied|without|never)[ -]+(?:(?!but\b|only\b)\w+[ -]+){0,2}$", re.I
)
"""A "no" close before, in the same breath: a comma ends what it is about."""
DROPPED = ("sudden_hearing_loss", "worsening_hearing_loss", "loss_explained")
"""Words that say already how the hearing went."""
LATELY = timedelta(days=30)
"""NICE NG98 (2018) 1.1.2: a sudden loss of the past 30 days is seen within 24 hours."""
WITHIN_DAYS = 3
"""Over as many days or fewer a loss is sudden, likewise."""
_ON_THE_DRUM = tuple(n for n, f in CATALOGUE.items() if f.clear_in in ("drum", "attic"))


@dataclass(frozen=True)
class Question:
    """One thing to look at again before the visit is closed."""

    about: str
    """side, note, seen, day, onset, worse, attic."""
    says: str


def questions(
    case: Case, visit: Visit, note: str, corrected: Visit | None = None
) -> tuple[Question, ...]:
    """Return what to ask about a visit of somebody with a history.

    Args:
        case: the history, without the visit that is put right.
        visit: as it is typed.
        note: what was written down with it.
        corrected: the visit that it puts right.
    """
    before = [v for v in case.visits if v.on <= visit.on]
    return (
        *(() if corrected and corrected.on == visit.on else _same_day(before, visit)),
        *_changes_of_side(before, visit),
        *_in_the_note(visit, note),
        *_really_seen(visit),
        *_of_the_attic(visit),
        *_came_lately(visit),
        *_worse_by_care(visit),
        *_later(case, visit),
    )


def _same_day(before: Sequence[Visit], visit: Visit) -> Iterator[Question]:
    if any(v.on == visit.on for v in before):
        said = f"There is a visit on {say_day(visit.on)} already: is this another one?"
        yield Question("day", said)


def _later(case: Case, visit: Visit) -> Iterator[Question]:
    later = sum(v.on > visit.on for v in case.visits)
    if later:
        yield Question("day", f"{later} later visit(s) are recorded: all are planned again.")


def _ears(visit: Visit) -> tuple[tuple[Side, Ear | None], ...]:
    return tuple((side, visit.right if side == "right" else visit.left) for side in SIDES)


def _came_lately(visit: Visit) -> Iterator[Question]:
    """Ask whether hearing that is a concern since lately dropped within days: NICE NG98 1.1.2."""
    told = {r.what if isinstance(r, Reported) else r for r in visit.reported}
    if not told.isdisjoint(DROPPED):
        return
    for report in visit.reported:
        if not isinstance(report, Reported) or report.what != "hearing_concern":
            continue
        began = resolve(report.since, visit.on).on if report.since is not None else None
        if began is not None and visit.on - began > LATELY:
            continue
        if report.onset_days is not None and report.onset_days <= WITHIN_DAYS:
            yield Question(
                "onset",
                f"Hearing is a concern that came on within {WITHIN_DAYS} days: that is a sudden "
                "hearing loss, and an emergency. Record it as one, or correct the days.",
            )
        elif began is not None and report.onset_days is None:
            yield Question(
                "onset",
                f"Hearing is a concern since {say_day(began)}: did it drop within 3 days? Then "
                "record a sudden hearing loss, which is an emergency.",
            )


def _worse_by_care(visit: Visit) -> Iterator[Question]:
    """Ask for a test where hearing is worse after the ear was cleared, and nobody measured it."""
    for side, ear in _ears(visit):
        if ear and ear.hearing_after == "worse" and not hearing_was_tested(ear):
            yield Question(
                "worse",
                f"Hearing of the {side} ear is worse after it was cleared: can it be measured "
                "today? A loss that stays is a sudden hearing loss.",
            )


def _changes_of_side(before: Sequence[Visit], visit: Visit) -> Iterator[Question]:
    """Ask where something was known in one ear alone, and is now in the other alone."""
    for field, finding in CATALOGUE.items():
        if finding.stays is None:
            continue
        words, there = finding.stays
        now = _sides_with(visit, field, there)
        was = next((s for v in reversed(before) if (s := _sides_with(v, field, there))), None)
        if was and now and len(was) == len(now) == 1 and was != now:
            known = next(v.on for v in reversed(before) if _sides_with(v, field, there))
            yield Question(
                "side",
                f"{words.capitalize()} was in the {was[0]} ear on {say_day(known)} and is now "
                f"in the {now[0]}: are the sides right?",
            )


def _sides_with(visit: Visit, field: str, there: Values) -> tuple[Side, ...]:
    return tuple(side for side, ear in _ears(visit) if ear and getattr(ear, field) in there)


def words_of_alarm(text: str) -> str:
    """Return the red flags that a text speaks of, in words; empty where it speaks of none.

    >>> words_of_alarm("Rang: her face is weak since this morning")
    'weak face'
    """
    return " and ".join(sorted(_written(text, SAYS_RED_FLAG, set())))


def _in_the_note(visit: Visit, note: str) -> Iterator[Question]:
    """Ask about words in the note that nothing in the visit records."""
    told: set[str] = {r.what if isinstance(r, Reported) else r for r in visit.reported}
    found = {f for _s, ear in _ears(visit) if ear for f in _recorded(ear)}
    asked = _written(note, SAYS_RED_FLAG, told) | _written(note, SAYS_FINDING, found)
    for words in sorted(asked):
        said = f"The note speaks of {words}, which is not recorded: record it, or is it ruled out?"
        yield Question("note", said)


def _recorded(ear: Ear) -> Iterable[str]:
    return (f for f in Ear.__struct_fields__ if getattr(ear, f) is not None)


def _written(
    note: str, table: Sequence[tuple[str, str, tuple[str, ...]]], known: set[str]
) -> set[str]:
    """Return what a note speaks of without a "no" before it, and the visit does not record."""
    return {
        words
        for pattern, words, records in table
        if known.isdisjoint(records)
        for match in re.finditer(pattern, note, re.I)
        if not _NOT.search(note[: match.start()])
    }


def _really_seen(visit: Visit) -> Iterator[Question]:
    """Ask where a drum is called clear and nothing says that it was seen."""
    for side, ear in _ears(visit):
        if ear is None or ear.drum_seen in ("full", "part"):
            continue
        if any(CATALOGUE[name].is_normal(getattr(ear, name)) for name in _ON_THE_DRUM):
            seen = "was not seen" if ear.drum_seen == "none" else "is not recorded as seen"
            yield Question("seen", f"The {side} drum {seen}, yet something on it is called clear.")


def _of_the_attic(visit: Visit) -> Iterator[Question]:
    """Ask where a sign of disease in the attic stands beside a grade that does not go with it.

    Tos and Poulsen's grades (Acta Otolaryngol 1980;89:479-86): 0 is no pocket, from 3 on bone is
    worn away. Keratin lies in a pocket, at a hole's edge or in a cavity, or it is loose skin.
    """
    for side, ear in _ears(visit):
        if ear is None:
            continue
        grade = ear.attic_grade
        if ear.keratin is True and grade in (0, None) and not _place_for_keratin(ear):
            graded = "is graded 0" if grade == 0 else "is not graded"
            yield Question(
                "attic",
                f"Keratin is recorded in the {side} ear, and the attic {graded}: is it so? Say "
                "where it lies (attic, pars tensa, edge of a hole), or take it out if it is loose "
                "skin of the canal.",
            )
        signs = [words for name, words in _OF_BONE_OR_CRUST if getattr(ear, name) is True]
        if signs and grade == 0:
            yield Question(
                "attic",
                f"{' and '.join(signs).capitalize()} in the {side} ear, and the attic is graded 0: "
                "is it so? What lies under it was seen, or the grade is left out.",
            )


_OF_BONE_OR_CRUST = (("scutum_erosion", "worn bone"), ("attic_crust", "a crust over the attic"))


def _place_for_keratin(ear: Ear) -> bool:
    """Return whether another place for keratin than the attic is recorded."""
    holed = ear.perforation in ("central", "marginal", "attic")
    return holed or bool(ear.tensa_grade) or ear.cavity is True or ear.mass_behind_drum == "white"
