"""Case files in and out: decoded, checked for what cannot be true, encoded again.

What the types cannot say is checked here: days outside 1900 to 2100, visits and
findings before birth, findings dated after their visit, `until` before `since`,
and contradictions within one ear. Every refusal names its path.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable, Iterator
from datetime import date
from operator import attrgetter
from typing import Any

import msgspec

from recall.care.case import Case, Reported, Visit
from recall.care.catalogue import holding
from recall.care.contradictions import contradictions
from recall.care.dates import Before, Day, When, resolve
from recall.care.dates_in_words import day_words, in_words
from recall.care.ear import Ear
from recall.care.refusals import refusal
from recall.errors import InputError

FIRST, LAST = date(1900, 1, 1), date(2100, 12, 31)
"""No date of a case file lies outside."""
OLDEST = 130
"""Nobody has lived longer, in years."""
_ONE_OF_TWO = "Correct one of the two."
_BOM = b"\xef\xbb\xbf"
_DATES_OF_EAR = holding("when")
_NO_DATES = (None,) * len(_DATES_OF_EAR)
_dates_of_ear = attrgetter(*_DATES_OF_EAR)
_CASE = msgspec.json.Decoder(Case)
_VISIT = msgspec.json.Decoder(Visit)
_ENCODER = msgspec.json.Encoder()


class CaseLine(msgspec.Struct, frozen=True):
    """One line of a JSON Lines file: a case, or why it was refused."""

    number: int
    case: Case | None = None
    error: InputError | None = None


class _Dated(msgspec.Struct, frozen=True):
    """One date of a case file, with what it is counted from."""

    path: str
    when: When
    anchor: date | None
    """The day that "weeks before" counts from; None where there is no visit."""
    last: date | None = None
    """The day it may not lie after."""


def decode_case(data: bytes) -> Case:
    """Decode and check one case file.

    Raises:
        InputError: it is no case file, or says what cannot be true; with its path.

    >>> decode_case(b'{"born": "2018-03-02"}').born
    datetime.date(2018, 3, 2)
    """
    case: Case = _decoded(_CASE, data, Case)
    check_case(case)
    return case


def decode_visit(data: bytes, born: date) -> Visit:
    """Decode and check one visit of somebody born on a day."""
    visit: Visit = _decoded(_VISIT, data, Visit)
    check_visit(visit, born, "")
    return visit


def decode_cases(lines: Iterable[bytes]) -> Iterator[CaseLine]:
    """Decode JSON Lines: each line is a case or its refusal; blank lines are passed over."""
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            yield CaseLine(number, case=decode_case(line))
        except InputError as error:
            told = InputError(f"Line {number}: {error.message}", hint=error.hint)
            yield CaseLine(number, error=told)


def encode(part: Case | Visit | Ear) -> bytes:
    """Return a case file, a visit or one ear's findings as JSON, in the order of its fields.

    >>> encode(Ear(effusion="absent"))
    b'{"effusion":"absent"}'
    """
    return _ENCODER.encode(part)


def _decoded(decoder: msgspec.json.Decoder[Any], data: bytes, kind: type) -> Any:
    try:
        return decoder.decode(data.removeprefix(_BOM))
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise refusal(error, kind, data) from None


def first_visit_on(case: Case) -> date | None:
    """Return the day that "weeks before" counts from outside a visit: the earliest it can mean."""
    return min((visit.on for visit in case.visits), default=None)


def check_case(case: Case) -> None:
    """Refuse a case that says what cannot be true.

    Raises:
        InputError: with the path of the field.
    """
    if not FIRST <= case.born <= LAST:
        raise _outside_years(case.born, "born")
    for number, visit in enumerate(case.visits):
        check_visit(visit, case.born, f"visits[{number}].")
    if case.risks or case.under_care or case.told_by_others or case.loss_treated_on is not None:
        for dated in _dates_outside(case):
            _check_dated(dated, case.born)
        _check_spans(case)


def check_visit(visit: Visit, born: date, at: str = "") -> None:
    """Refuse a visit that says what cannot be true; `at` is what its paths start with."""
    check_days(visit, born, at)
    if visit.right is not None:
        check_ear(visit.right, f"{at}right")
    if visit.left is not None:
        check_ear(visit.left, f"{at}left")


def check_days(visit: Visit, born: date, at: str = "") -> None:
    """Refuse a visit whose days cannot be true of somebody born on a day."""
    on = visit.on
    if not born <= on <= LAST or on.year - born.year > OLDEST:
        raise _impossible_visit(on, born, at)
    if _is_dated(visit):
        for dated in _dates_within(visit, at):
            _check_dated(dated, born)


def check_ear(ear: Ear, at: str) -> None:
    """Refuse findings of one ear that cannot be true together."""
    found = contradictions(ear)
    if found:
        raise InputError(f"{at}.{found[0].row.other}: {found[0].says}.", hint=found[0].row.instead)


def _impossible_visit(on: date, born: date, at: str) -> InputError:
    if not FIRST <= on <= LAST:
        return _outside_years(on, f"{at}on")
    wrong = "before" if on < born else f"more than {OLDEST} years after"
    return InputError(f"{at}on: {on} is {wrong} the birth on {born}.", hint=_ONE_OF_TWO)


def _outside_years(on: date, path: str) -> InputError:
    return InputError(
        f"{path}: {on} is not between {FIRST.year} and {LAST.year}.", hint="Correct the year."
    )


def _dates_within(visit: Visit, at: str) -> Iterator[_Dated]:
    """Yield the dates of one visit, all of which lie on or before it."""
    for side, ear in (("right", visit.right), ("left", visit.left)):
        if ear is None or (dates := _dates_of_ear(ear)) == _NO_DATES:
            continue
        for field, when in zip(_DATES_OF_EAR, dates, strict=True):
            if when is not None:
                yield _Dated(f"{at}{side}.{field}", when, visit.on, visit.on)
    for number, report in enumerate(visit.reported):
        if isinstance(report, Reported) and report.since is not None:
            yield _Dated(f"{at}reported[{number}].since", report.since, visit.on, visit.on)


def _is_dated(visit: Visit) -> bool:
    """Return whether a visit may hold a date."""
    right, left = visit.right, visit.left
    return (
        bool(visit.reported)
        or (right is not None and _dates_of_ear(right) != _NO_DATES)
        or (left is not None and _dates_of_ear(left) != _NO_DATES)
    )


def _dates_outside(case: Case) -> Iterator[_Dated]:
    """Yield the dates of a case that belong to no visit."""
    anchor = first_visit_on(case)
    for path, part in _spans(case):
        for field in ("since", "until"):
            when = getattr(part, field)
            if when is not None:
                yield _Dated(f"{path}.{field}", when, anchor)
    for number, told in enumerate(case.told_by_others):
        path = f"told_by_others[{number}]"
        yield _Dated(f"{path}.on", told.on, anchor)
        if told.grommet_on is not None:
            on = _day(_Dated(f"{path}.on", told.on, anchor))
            last = _latest(told.on, on) if on else None
            yield _Dated(f"{path}.grommet_on", told.grommet_on, on.on if on else None, last)
    if case.loss_treated_on is not None:
        yield _Dated("loss_treated_on", case.loss_treated_on, anchor)


def _spans(case: Case) -> Iterator[tuple[str, Any]]:
    for name in ("risks", "under_care"):
        for number, part in enumerate(getattr(case, name)):
            if not isinstance(part, str):
                yield f"{name}[{number}]", part


def _day(dated: _Dated) -> Day | None:
    """Return the day a date means; None where there is nothing to count back from.

    Raises:
        InputError: it is no day of the calendar.
    """
    if dated.anchor is None and isinstance(dated.when, Before):
        return None
    try:
        return resolve(dated.when, dated.anchor or date.min)
    except (ValueError, OverflowError):
        raise InputError(
            f"{dated.path}: {str(dated.when).strip()} is no day of the calendar.",
            hint="Write a day as YYYY-MM-DD, or a month as YYYY-MM.",
        ) from None


def _latest(when: When, day: Day) -> date:
    """Return the latest day a date can mean: a month's last, or the day itself."""
    if isinstance(when, Before) or not day.vague:
        return day.on
    return day.on.replace(day=monthrange(day.on.year, day.on.month)[1])


def _check_dated(dated: _Dated, born: date) -> None:
    day = _day(dated)
    if day is None:
        return
    if not FIRST <= day.on <= LAST:
        raise _outside_years(day.on, dated.path)
    if day.on < born and _latest(dated.when, day) < born:
        raise InputError(f"{dated.path}: {day.on} is before the birth on {born}.", hint=_ONE_OF_TWO)
    if dated.last is not None and day.on > dated.last:
        raise InputError(
            f"{dated.path}: {day.on} is after {dated.last}, when it was recorded.",
            hint=_ONE_OF_TWO,
        )


def _check_spans(case: Case) -> None:
    """Refuse an `until` before its `since`."""
    anchor = first_visit_on(case)
    for path, part in _spans(case):
        if part.since is None or part.until is None:
            continue
        since = _day(_Dated(f"{path}.since", part.since, anchor))
        until = _day(_Dated(f"{path}.until", part.until, anchor))
        if since and until and _latest(part.until, until) < since.on:
            raise InputError(
                f"{path}.until: {until.on} is before its since, {since.on}.",
                hint=_ONE_OF_TWO,
            )


def vague_dates(case: Case, on: date) -> tuple[str, ...]:
    """Return a notice for each date that was taken as the earliest day it can mean.

    Visits after `on` are left out.
    """
    found = [
        d
        for n, v in enumerate(case.visits)
        if v.on <= on and _is_dated(v)
        for d in _dates_within(v, f"visits[{n}].")
    ]
    if case.risks or case.under_care or case.told_by_others or case.loss_treated_on is not None:
        found += _dates_outside(case)
    notices = []
    for dated in found:
        day = _day(dated)
        if day is None:
            said = "not used, for want of a visit to count back from."
        elif day.vague:
            said = f"taken as {day_words(day.on)}, the earliest day it can mean."
        else:
            continue
        notices.append(f"{in_words(case, dated.path)}: {said}")
    return tuple(notices)
