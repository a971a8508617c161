"""The public holidays that are written down here are those of the library, day by day.

The library keeps to the proclaimed days (gov.uk, "UK bank holidays"); beyond what is proclaimed it
goes by the Banking and Financial Dealings Act 1971, as this table then does.
"""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import date

import holidays
import msgspec
import pytest

from recall.exchange.holidays_source import HOLIDAYS, public_holidays

FIRST, LAST = 2020, 2045
SUBDIVISIONS = ("", "ENG", "WLS", "SCT", "NIR")


def of_the_library(subdivision: str) -> dict[date, str]:
    years = range(FIRST, LAST + 1)
    found = holidays.country_holidays("GB", subdiv=subdivision or None, years=years)
    return dict(sorted(found.items()))


@pytest.fixture(scope="module", autouse=True)
def _renewed() -> None:
    if os.environ.get("RECALL_HOLIDAYS") == "write":
        days = {each: of_the_library(each) for each in SUBDIVISIONS}
        table = {"first": FIRST, "last": LAST, "days": days}
        HOLIDAYS.write_bytes(msgspec.json.format(msgspec.json.encode(table), indent=1) + b"\n")


@pytest.mark.parametrize("subdivision", SUBDIVISIONS)
def test_every_day_of_every_year_is_the_library_s(subdivision: str) -> None:
    assert public_holidays("GB", subdivision, FIRST, LAST) == of_the_library(subdivision)


@pytest.mark.parametrize("years", [(FIRST - 1, FIRST), (LAST, LAST + 1)])
def test_beyond_what_is_written_down_the_library_is_asked(years: tuple[int, int]) -> None:
    found = public_holidays("GB", "ENG", *years)
    assert {day.year for day in found} == set(years)
    assert date(years[0], 12, 25) in found and date(years[1], 12, 25) in found


def test_a_calendar_of_ours_loads_no_library() -> None:
    words = (
        "import sys; from recall.exchange.holidays_source import public_holidays as h;"
        "print(len(h('GB', 'ENG', 2026, 2031)), 'holidays' in sys.modules)"
    )
    ran = subprocess.run((sys.executable, "-c", words), capture_output=True, text=True, check=True)
    count, loaded = ran.stdout.split()
    assert int(count) > 45 and loaded == "False"
