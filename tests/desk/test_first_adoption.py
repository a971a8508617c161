"""A register that takes up rules for the first time: its years, its digest, its history."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import msgspec
import pytest

from recall import config
from recall.care.case import Reported
from recall.care.case import Visit as Seen
from recall.care.ear import Ear
from recall.clock import Clock
from recall.desk.core.session import Desk, open_desk
from recall.desk.plans.adoption import adopt
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.errors import Refused, StorageError
from recall.protocol.loading import load
from recall.protocol.own_days import taken_up_first
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import PRACTICE, history_is_whole, rows, somebody

TODAY, LONG_AGO = date(2027, 1, 11), date(2026, 6, 1)
BETTER = Ear(
    wax_found="occluding",
    clearance="cleared",
    wax_left="none",
    hearing_after="better",
    drum_seen="full",
)


def opened(store: Store, on: date = TODAY) -> Desk:
    """The desk as it opens with the file that comes with the program."""
    files = config.Files(database=store.path)
    settings = msgspec.structs.replace(PRACTICE, files=files)
    return replace(open_desk(settings, by="clara", clock=Clock.at(on)), store=store)


def typed_late(desk: Desk) -> None:
    """Type a visit from before the register: a sudden loss that wax explains for that ear."""
    somebody(desk, born=date(1960, 1, 1), adult=False)
    told = Reported(what="sudden_hearing_loss", ear="right", onset_days=2)
    seen = Seen(on=LONG_AGO, reported=(told,), right=BETTER)
    close_visit(desk, draft(desk, "W1", seen), Acceptance(looked=True))


def test_a_visit_from_before_is_judged_by_the_rules_that_were_taken_up(store: Store) -> None:
    desk = opened(store)
    assert desk.protocol.file == taken_up_first(load(), TODAY).file
    typed_late(desk)
    assert rows(store, tables.Referral) == []
    assert history_is_whole(store)


def test_it_opens_again_by_them_whatever_the_day_and_they_are_sealed(store: Store) -> None:
    typed_late(opened(store))
    again = opened(store, date(2028, 2, 29))
    assert again.protocol.file == taken_up_first(load(), TODAY).file
    assert (again.file_digest, again.protocol.digest) == ("", load().digest)
    with pytest.raises(Refused, match="is the adopted one"):
        adopt(again, load())
    with store.write() as session:
        session.connection().exec_driver_sql(
            "UPDATE protocol SET content = replace(content, '6 weeks', '60 weeks')"
        )
    with pytest.raises(StorageError, match="not as they were"):
        opened(store)
