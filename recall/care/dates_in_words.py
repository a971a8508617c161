"""Which date of a case is meant, in the words of the form: whose visit, which ear, what."""

from __future__ import annotations

import re
from datetime import date

from recall.care.case import Case, Reported, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.services import SERVICES

_IN_VISIT = re.compile(
    r"visits\[(?P<visit>\d+)\]\.(?:(?P<side>right|left)\.(?P<field>\w+)"
    r"|reported\[(?P<told>\d+)\]\.\w+)$"
)
_OUTSIDE = re.compile(r"(?P<list>\w+)\[(?P<number>\d+)\]\.(?P<field>\w+)$")
_FIELDS = {"since": "since", "until": "until", "on": "the day", "grommet_on": "grommet put in"}


def in_words(case: Case, path: str) -> str:
    """Return which date a path of a case file means, as the form calls it.

    >>> pain = Reported(what="pain", ear="left", since="2026-08")
    >>> case = Case(born=date(1990, 1, 1), visits=(Visit(on=date(2026, 9, 1), reported=(pain,)),))
    >>> in_words(case, "visits[0].reported[0].since")
    'Visit of 1 September 2026, pain, left ear, since when'
    """
    if found := _IN_VISIT.match(path):
        return _of_visit(case.visits[int(found["visit"])], found)
    if found := _OUTSIDE.match(path):
        part = getattr(case, found["list"])[int(found["number"])]
        return f"{_part(found['list'], part)}, {_FIELDS.get(found['field'], found['field'])}"
    return "Treatment of a sudden loss, its end" if path == "loss_treated_on" else path


def day_words(day: date) -> str:
    """Return a day as people read it.

    >>> day_words(date(2026, 9, 1))
    '1 September 2026'
    """
    return f"{day.day} {day:%B %Y}"


def _of_visit(visit: Visit, found: re.Match[str]) -> str:
    where = f"Visit of {day_words(visit.on)}"
    if found["side"]:
        finding = CATALOGUE[found["field"]]
        return f"{where}, {found['side']} ear, {(finding.label or finding.name).lower()}"
    item = visit.reported[int(found["told"])]
    what, ear = (item.what, item.ear) if isinstance(item, Reported) else (item, None)
    of = f", {ear} ear" if ear else ""
    return f"{where}, {what.replace('_', ' ')}{of}, since when"


def _part(name: str, part: object) -> str:
    """Return what a risk, care elsewhere or something told by others is about."""
    ear = getattr(part, "ear", None)
    of = f", {ear} ear" if ear else ""
    if name == "risks":
        return f"Risk: {getattr(part, 'what', '').replace('_', ' ')}{of}"
    if name == "under_care":
        return f"Under the care of {SERVICES[getattr(part, 'of')].short}{of}"  # noqa: B009
    return f"Told by others ({getattr(part, 'source', '')}){of}"
