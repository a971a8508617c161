"""The documented columns are those that are read."""

from __future__ import annotations

from datetime import date

import pytest

from recall.config import Import
from recall.exchange.columns import KINDS, column_rows, template
from recall.exchange.rows_in import open_rows


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_with_every_documented_heading_has_none_that_is_not_read(tmp_path, kind):
    path = tmp_path / f"{kind}.csv"
    path.write_bytes(template(kind).encode())
    reading = open_rows(path, KINDS[kind], Import(), today=date(2026, 11, 25))

    assert reading.ignored == ()
    assert len(reading.places) == len(column_rows(kind))
    assert list(reading) == []


def test_needed_columns_are_few():
    needed = {kind: [c.column for c in column_rows(kind) if c.needed] for kind in KINDS}

    assert needed == {
        "people": ["reference", "family_name", "born"],
        "visits": ["reference", "person", "on"],
        "contacts": ["person", "on", "channel", "outcome"],
        "bookings": ["person", "on", "at"],
        "referrals": ["person", "service", "sent"],
        "tests": ["person", "on", "where"],
    }
