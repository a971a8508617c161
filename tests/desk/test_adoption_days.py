"""A register that adopts an older file later: its visits, its plans and its digest afterwards."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import msgspec
import pytest
from sqlalchemy import select

from recall import config
from recall.clock import Clock
from recall.desk.core.replanning import mark_everybody, replan
from recall.desk.core.session import Desk, open_desk
from recall.desk.oversight import failsafe
from recall.desk.plans.adoption import adopt
from recall.errors import Refused
from recall.protocol.loading import Protocol, digest_of, load
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, PRACTICE, desk_at, history_is_whole, rows, somebody, visit
from tests.protocol.versions import at_first

ADOPTED = date(2027, 1, 10)
FROM_THEN = timedelta(days=1)


def of_its_own(protocol: Protocol) -> Protocol:
    """The protocol with the digest of its content, as if it had been read from a file."""
    digest = digest_of(protocol.file, protocol.contact)
    return Protocol(protocol.file, protocol.contact, digest, False)


def before(store: Store) -> Desk:
    """A register of the first versions alone, with a visit by them after the file was written."""
    desk = replace(desk_at(store, date(2027, 1, 5), by="clara"), protocol=of_its_own(at_first()))
    visit(desk, somebody(desk), right=FLUID)
    return replace(desk, clock=Clock.at(ADOPTED))


def reopened(store: Store, on: date) -> Desk:
    """The desk as it opens with the file that comes with the program."""
    files = config.Files(database=store.path)
    settings = msgspec.structs.replace(PRACTICE, files=files)
    return replace(open_desk(settings, by="clara", clock=Clock.at(on)), store=store)


def looks(store: Store) -> list[tuple[str, int, date]]:
    open_dues = (d for d in rows(store, tables.Due) if d["is_open"])
    return [(d["rule"], d["rule_version"], d["latest"]) for d in open_dues]


def test_what_is_new_in_an_older_file_counts_from_the_day_of_adoption(store: Store) -> None:
    """The file that comes with the program gives its new rules the day they were written."""
    desk, shipped = before(store), load()
    assert any(r.since < ADOPTED and r.version > 1 for r in shipped.file.rule)
    stood = looks(store)

    adopt(desk, shipped)

    now = reopened(store, ADOPTED + FROM_THEN)
    assert now.file_digest == ""
    assert now.protocol.digest == shipped.digest
    known = {(r.id, r.version) for r in at_first().file.rule}
    new = [r for r in now.protocol.file.rule if (r.id, r.version) not in known]
    assert {r.since for r in new} == {ADOPTED}
    mark_everybody(now)
    replan(now)
    assert looks(store) == stood
    assert failsafe.run(now).findings == ()
    assert history_is_whole(store)


def test_the_day_of_adoption_is_in_the_history(store: Store) -> None:
    adopt(before(store), load())

    with store.read() as session:
        h, payload = tables.History, tables.HistoryPayload
        wanted = select(payload.content).join(h, h.id == payload.history_id)
        (told,) = session.scalars(wanted.where(h.what == "adopted"))
    assert told is not None
    assert f'"counts_from":"{ADOPTED}"' in told


def test_the_adopted_file_is_not_adopted_twice(store: Store) -> None:
    adopt(before(store), load())

    with pytest.raises(Refused, match="is the adopted one"):
        adopt(reopened(store, ADOPTED + FROM_THEN), load())


def test_a_changed_file_of_ones_own_keeps_the_days_of_the_first_adoption(store: Store) -> None:
    adopt(before(store), load())
    later = reopened(store, ADOPTED + timedelta(days=30))
    mine = of_its_own(
        Protocol(msgspec.structs.replace(load().file, name="own"), load().contact, "", False)
    )

    adopt(later, mine)

    again = reopened(store, ADOPTED + timedelta(days=31)).protocol
    assert (again.file.name, again.digest) == ("own", mine.digest)
    assert {r.since for r in again.file.rule} == {r.since for r in later.protocol.file.rule}
