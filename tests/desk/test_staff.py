"""Who is taken on, by whose leave, and who may leave: to the word, with a line of history."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest
from sqlalchemy import select

from recall.clock import Clock
from recall.desk.core.rights import Role
from recall.desk.core.session import StaffRow, signs_as, staff, staff_member
from recall.desk.practice.staff import add_staff, ensure_jobs, mark_left
from recall.errors import InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store, open_store
from recall.records.database.upgrade import upgrade
from tests.conftest import NOW
from tests.desk.practice import DAY, desk_at, history_is_whole, rows

CLOCK = Clock.at(DAY)


@pytest.fixture
def new_register(tmp_path: Path) -> Iterator[Store]:
    """A register on which nobody is taken on yet."""
    path = tmp_path / "new.db"
    upgrade(path, at=NOW)
    store = open_store(path)
    yield store
    store.close()


def member(handle: str, role: Role = Role.RECEPTION, **more: Any) -> StaffRow:
    return StaffRow(0, handle, more.pop("name", "Wyn Abel"), role, **more)


def last_line(store: Store) -> tuple[str, str, int, dict[str, Any]]:
    """What the last line of the history says, and who is named in it."""
    h, told = tables.History, tables.HistoryPayload
    wanted = select(h.what, h.entity, h.by_id, told.content).join(told, told.history_id == h.id)
    with store.read() as session:
        what, entity, by_id, content = session.execute(wanted.order_by(h.id.desc())).first()
    return what, entity, by_id, msgspec.json.decode(content)["now"]


def test_the_first_needs_nobodys_leave_and_stands_in_the_history(new_register: Store) -> None:
    made = add_staff(
        new_register,
        CLOCK,
        member(" Wyn.A ", Role.CLINICAL_LEAD, name=" Wyn  Abel ", title="Audiologist"),
        by=None,
    )

    (row,) = staff(new_register)
    assert made and (row.handle, row.name, row.title) == ("wyn.a", "Wyn Abel", "Audiologist")
    what, entity, by_id, said = last_line(new_register)
    assert (what, entity, by_id) == ("added", "staff", row.id)
    assert said["handle"] == "wyn.a" and said["role"] == "clinical_lead"


def test_as_long_as_nobody_may_decide_anybody_adds_them(new_register: Store) -> None:
    add_staff(new_register, CLOCK, member("wyn"), by=None)
    add_staff(new_register, CLOCK, member("lee", Role.PRACTITIONER), by="wyn")
    with pytest.raises(Refused, match=r"wyn \(reception\) may not add staff"):
        add_staff(new_register, CLOCK, member("kit"), by="wyn")


def test_everything_given_of_somebody_is_kept(store: Store) -> None:
    given = member("wyn", Role.PRACTITIONER, title="Nurse", registration="NMC 1", site="East")

    assert add_staff(store, CLOCK, given, by="CLARA") is True

    found = staff_member(store, "wyn", DAY)
    assert (found.title, found.registration, found.site) == ("Nurse", "NMC 1", "East")
    assert signs_as(found) == "Nurse, NMC 1"
    assert rows(store, tables.Staff, handle="wyn")[0]["is_job"] is False
    assert last_line(store)[2] == desk_at(store, by="clara").by.id
    assert history_is_whole(store)


@pytest.mark.parametrize(
    ("role", "by", "able"),
    [
        (Role.PRACTITIONER, "clara", True),
        (Role.CLINICAL_LEAD, "clara", True),
        (Role.MANAGER, "clara", True),
        (Role.RECEPTION, "mina", True),
        (Role.MANAGER, "mina", True),
        (Role.PRACTITIONER, "mina", False),
        (Role.CLINICAL_LEAD, "mina", False),
        (Role.RECEPTION, "rob", False),
    ],
)
def test_only_a_clinical_lead_adds_somebody_who_decides_about_care(
    store: Store, role: Role, by: str, able: bool
) -> None:
    if able:
        assert add_staff(store, CLOCK, member("wyn", role), by=by)
        return
    with pytest.raises(Refused) as refused:
        add_staff(store, CLOCK, member("wyn", role), by=by)
    said = {
        "mina": "mina may not let others decide.",
        "rob": "rob (reception) may not add staff and let them leave.",
    }
    assert str(refused.value).startswith(said[by])
    assert [s.handle for s in staff(store)] == ["clara", "mina", "nightly", "rob"]


def test_who_may_not_let_others_decide_is_told_whom_to_ask(store: Store) -> None:
    with pytest.raises(Refused) as refused:
        add_staff(store, CLOCK, member("wyn", Role.PRACTITIONER), by="mina")
    assert refused.value.hint == "Ask one of: clara."


@pytest.mark.parametrize("handle", ["", "  ", "wyn abel", "wyn!"])
def test_a_handle_is_a_short_word(store: Store, handle: str) -> None:
    with pytest.raises(InputError, match="is no handle"):
        add_staff(store, CLOCK, member(handle), by="clara")


def test_nobody_is_taken_on_without_a_name_or_by_nobody(store: Store) -> None:
    with pytest.raises(InputError, match="wyn needs a name"):
        add_staff(store, CLOCK, member("wyn", name=" "), by="clara")
    with pytest.raises(InputError, match="Nobody is named as acting"):
        add_staff(store, CLOCK, member("wyn"), by=None)


def test_a_handle_stays_with_whom_it_belongs_to(store: Store) -> None:
    assert add_staff(store, CLOCK, member("rob", name="Rob Tanner"), by="clara") is False
    with pytest.raises(InputError, match="The handle rob is taken"):
        add_staff(store, CLOCK, member("rob", name="Robin Tanner"), by="clara")
    with pytest.raises(InputError, match="The handle rob is taken"):
        add_staff(store, CLOCK, member("rob", Role.MANAGER, name="Rob Tanner"), by="clara")


def test_who_left_acts_until_the_day_before(store: Store) -> None:
    mark_left(store, CLOCK, "ROB", DAY + timedelta(days=3), by="mina")

    assert staff_member(store, "rob", DAY + timedelta(days=2)).handle == "rob"
    with pytest.raises(NotFound, match="rob left on 2026-09-04"):
        staff_member(store, "rob", DAY + timedelta(days=3))
    what, entity, by_id, said = last_line(store)
    assert (what, entity, by_id) == ("left", "staff", desk_at(store, by="mina").by.id)
    assert said["on"] == "2026-09-04"


def test_reception_lets_nobody_leave_but_themselves(store: Store) -> None:
    with pytest.raises(Refused, match=r"rob \(reception\) may not add staff and let them leave"):
        mark_left(store, CLOCK, "mina", DAY, by="rob")
    mark_left(store, CLOCK, "rob", DAY, by="rob")
    with pytest.raises(NotFound, match="rob left on 2026-09-01"):
        staff_member(store, "rob", DAY)


def test_one_who_may_decide_leaves_where_another_stays(store: Store) -> None:
    with pytest.raises(Refused, match="clara is the last who may decide"):
        mark_left(store, CLOCK, "clara", DAY, by="mina")
    add_staff(store, CLOCK, member("wyn", Role.PRACTITIONER), by="clara")
    mark_left(store, CLOCK, "clara", DAY, by="mina")
    with pytest.raises(Refused, match="wyn is the last who may decide"):
        mark_left(store, CLOCK, "wyn", DAY, by="mina")
    mark_left(store, CLOCK, "rob", DAY, by="mina")


def test_the_jobs_have_one_row_and_do_not_leave(store: Store) -> None:
    ensure_jobs(store)
    ensure_jobs(store)

    (row,) = rows(store, tables.Staff, handle="jobs")
    assert (row["name"], row["role"], row["is_job"]) == ("The jobs", "jobs", True)
    with pytest.raises(Refused, match="The jobs do not leave"):
        mark_left(store, CLOCK, "jobs", DAY, by="mina")


def test_whom_there_is_not_is_told_with_whom_there_is(store: Store) -> None:
    with pytest.raises(NotFound) as unknown:
        staff_member(store, "wyn", date(2026, 9, 1))
    assert str(unknown.value).startswith("There is no member of staff 'wyn'.")
    assert unknown.value.hint == "It may be: clara, mina, nightly, rob."


def test_where_nobody_decides_yet_anybody_may_leave(new_register: Store) -> None:
    add_staff(new_register, CLOCK, member("wyn"), by=None)
    mark_left(new_register, CLOCK, "wyn", DAY, by="wyn")
    assert staff(new_register)[0].left_on == DAY
