"""What an ear's course takes for a reason to give it no drops is what the catalogue says, each."""

from __future__ import annotations

from datetime import date

import pytest
from msgspec import convert

from recall.care.catalogue import CATALOGUE
from recall.care.course import Course
from recall.care.ear import Ear

ON = date(2026, 9, 1)
EACH = [
    (name, value, value in finding.signs.get("no_drops", ()))
    for name, finding in CATALOGUE.items()
    for value in finding.values
]


@pytest.mark.parametrize(("name", "value", "against"), EACH)
def test_each_finding_alone_speaks_against_drops_as_the_catalogue_says(
    name: str, value: object, against: bool
) -> None:
    course = Course()
    course.see(convert({name: value}, Ear), ON, None)
    assert course.against_drops_on == (ON if against else None)
