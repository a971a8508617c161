"""Passwords: which are taken, how they are kept, how guessing is slowed, who opens what is shut."""

from __future__ import annotations

import os
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select, update

from recall.clock import Clock
from recall.desk.core.session import Desk, staff_member
from recall.desk.practice.staff import mark_left
from recall.desk.signing import codes, hashing, passwords, waiting
from recall.desk.signing.password_rule import check_password
from recall.errors import InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store, open_store
from recall.records.tables.statements import table_of
from tests.desk.practice import DAY, desk_at, history_is_whole

START = datetime(2026, 9, 1, 9, 0, tzinfo=UTC)
GOOD = "four walnuts under snow"
OTHER = "a brass kettle by the river"


def kept_in(store: Store, table: type[tables.Base]) -> list[dict[str, Any]]:
    """All rows of a table."""
    with store.read() as session:
        return [dict(row) for row in session.execute(select(table.__table__)).mappings()]


def clock(after: timedelta = timedelta(0)) -> Clock:
    """A clock that stands so long after the start."""
    return Clock("Europe/London", START + after)


def give(store: Store, handle: str, password: str = GOOD) -> None:
    """Let somebody have a password, whoever has one already."""
    member = staff_member(store, handle, DAY)
    passwords._keep(store, clock(), member, hashing.hashed(password), member.id)


def at(desk: Desk, after: timedelta) -> Desk:
    return replace(desk, clock=clock(after))


def wrong(store: Store, when: Clock, times: int = 1, handle: str = "rob") -> str:
    said = ""
    for _ in range(times):
        with pytest.raises(Refused) as refused:
            passwords.prove(store, when, handle, "not this one at all")
        said = str(refused.value)
    return said


@pytest.fixture
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cheaper hashes where many are made; how they are made is tried with the real ones."""
    from argon2 import PasswordHasher

    hashing._nobodys.cache_clear()
    cheaper = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(hashing, "_HASHER", cheaper)


def test_a_hash_of_the_reference_program_is_understood() -> None:
    """The hash that test.c of the reference implementation of Argon2 (version 0x13) expects."""
    kept = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"
    assert hashing.fits(kept, "password")
    assert not hashing.fits(kept, "passwore")
    assert hashing.is_outdated(kept)


def test_what_is_kept_has_the_parameters_of_the_standard() -> None:
    """RFC 9106, section 4, second recommended option: t=3, m=64 MiB, p=4, salt 128, tag 256 bit."""
    kept = hashing.hashed(GOOD)
    _, kind, version, parameters, salt, tag = kept.split("$")
    assert (kind, version, parameters) == ("argon2id", "v=19", "m=65536,t=3,p=4")
    assert (len(salt), len(tag)) == (22, 43), "16 and 32 bytes in base 64 without its padding"
    assert kept != hashing.hashed(GOOD), "each with a salt of its own"


def test_a_password_is_the_same_however_its_letters_are_composed() -> None:
    """NIST SP 800-63B (2017), 5.1.1.2: normalised before it is hashed."""
    assert hashing.fits(
        hashing.hashed("zwölf Äpfel im Schnee"), "zwo\u0308lf A\u0308pfel im Schnee"
    )


@pytest.mark.parametrize(
    ("text", "taken"),
    [
        ("x7!kQ2vB9m#Lp4", False),  # 14, whatever is in it
        ("seven red doors", True),  # 15
        ("k-" * 40 + "walnut snow seven", True),  # more than 64
        ("aaaaaaaaaaaaaaaaaaaa", False),
        ("abcdefghijklmnopqrst", False),
        ("98765432109876543210", False),
        ("passwordpassword12", False),
        ("rob.tanner.wrenfield1", False),
        ("wrenfield ear care 2026", False),
        ("ρόδι στο παράθυρο μου", True),  # any script
        ("two\tlines of a text", False),
    ],
)
def test_which_passwords_are_taken(text: str, taken: bool) -> None:
    """NIST SP 800-63B-4, 3.1.1.2: 15 characters, no mixture of kinds, nothing expected."""
    known = ("rob", "Rob Tanner", "Wrenfield Ear Care")
    if taken:
        check_password(text, known)
        return
    with pytest.raises(InputError):
        check_password(text, known)


def test_who_gives_the_right_one_is_known_and_the_wrong_one_is_not(store: Store) -> None:
    give(store, "rob")
    assert passwords.prove(store, clock(), " ROB ", GOOD).handle == "rob"
    assert wrong(store, clock()) == f"{passwords.WRONG} {passwords.FORGOTTEN}"
    assert wrong(store, clock(), handle="nobody") == f"{passwords.WRONG} {passwords.FORGOTTEN}"
    assert wrong(store, clock(), handle="mina") == f"{passwords.WRONG} {passwords.FORGOTTEN}"
    assert wrong(store, clock(), handle="nightly").startswith(passwords.WRONG)


def test_who_has_left_proves_nothing(store: Store) -> None:
    give(store, "rob")
    mark_left(store, Clock.at(DAY), "rob", DAY, by="mina")
    with pytest.raises(Refused, match="not right"):
        passwords.prove(store, clock(), "rob", GOOD)


@pytest.mark.usefixtures("cheap")
def test_guessing_is_slowed_and_the_wait_outlives_the_program(store: Store) -> None:
    give(store, "rob")
    wrong(store, clock(), 3)
    assert "The next try is in 1 second" in wrong(store, clock())
    again = open_store(store.path)  # the program was started anew
    try:
        with pytest.raises(Refused, match="4 wrong passwords in a row"):
            passwords.prove(again, clock(), "rob", GOOD)
        assert passwords.prove(again, clock(timedelta(seconds=1)), "rob", GOOD).handle == "rob"
    finally:
        again.close()
    (row,) = kept_in(store, tables.StaffPassword)
    assert (row["tries"], row["wait_until"]) == (0, None)


@pytest.mark.usefixtures("cheap")
def test_a_hundred_guesses_take_a_day_and_the_next_one_another(store: Store) -> None:
    """NIST SP 800-63B-4, 3.2.2: not more than 100 wrong ones in a row."""
    give(store, "rob")
    give(store, "mina", OTHER)
    now, tried = START, 0
    while tried < waiting.MANY:
        wrong(store, Clock("UTC", now))
        tried += 1
        now += waiting.wait_after(tried)
        assert passwords.prove(store, Clock("UTC", now), "mina", OTHER), "others are not kept out"
    assert now - START > timedelta(hours=20)
    with pytest.raises(Refused, match="100 wrong passwords in a row"):
        passwords.prove(store, Clock("UTC", now - timedelta(seconds=1)), "rob", GOOD)
    assert passwords.prove(store, Clock("UTC", now), "rob", GOOD), "never shut for good"


@pytest.mark.usefixtures("cheap")
def test_a_clock_that_was_put_back_shuts_nobody_out(store: Store) -> None:
    give(store, "rob")
    wrong(store, clock(timedelta(days=400)), 4)
    with pytest.raises(Refused, match="The next try is in 1 second"):
        passwords.prove(store, clock(), "rob", GOOD)
    with store.write() as session:
        late = {"wait_until": START + timedelta(seconds=1)}
        session.execute(update(table_of(tables.StaffPassword)).values(**late))
    assert passwords.prove(store, clock(timedelta(seconds=1)), "rob", GOOD)


@pytest.mark.usefixtures("cheap")
def test_guesses_at_once_are_counted_each(store: Store) -> None:
    give(store, "rob")
    done: list[str] = []

    def guess() -> None:
        try:
            passwords.prove(store, clock(), "rob", "not this one at all")
        except Refused as refused:
            done.append(refused.message)

    threads = [threading.Thread(target=guess) for _ in range(12)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    (row,) = kept_in(store, tables.StaffPassword)
    assert (len(done), row["tries"]) == (12, 4), "four were looked at, and eight were too soon"


def test_a_password_is_changed_by_the_old_one_and_stands_in_the_history(store: Store) -> None:
    give(store, "rob")
    with pytest.raises(Refused, match="not right"):
        passwords.set_password(store, clock(), "rob", OTHER, OTHER)
    with pytest.raises(InputError, match="15 characters"):
        passwords.set_password(store, clock(), "rob", GOOD, "short")
    passwords.set_password(store, clock(), "rob", GOOD, OTHER)
    assert passwords.prove(store, clock(), "rob", OTHER)
    wrong(store, clock())
    assert history_is_whole(store)
    kept = str(kept_in(store, tables.HistoryPayload))
    assert "set a password" in kept and OTHER not in kept and "argon2" not in kept


def test_the_first_password_is_that_of_a_lead_or_the_manager(store: Store) -> None:
    assert not passwords.anybody_has_one(store)
    with pytest.raises(Refused, match="clinical lead or the manager"):
        passwords.set_first(store, clock(), "rob", GOOD)
    passwords.set_first(store, clock(), "mina", GOOD)
    assert passwords.anybody_has_one(store)
    with pytest.raises(Refused, match="clinical lead or the manager"):
        passwords.set_first(store, clock(), "clara", GOOD)


def test_the_manager_alone_gives_a_code_and_it_is_used_once(store: Store) -> None:
    give(store, "rob")
    code = codes.give_code(desk_at(store, by="mina"), "rob")
    assert code is not None
    lower = f" {code.lower()} "
    passwords.set_password(store, clock(), "rob", lower, OTHER)
    assert passwords.prove(store, clock(), "rob", OTHER)
    with pytest.raises(Refused):
        passwords.set_password(store, clock(), "rob", code, GOOD)
    said = str(kept_in(store, tables.HistoryPayload))
    assert "gave a code for rob" in said and code not in said
    (row,) = kept_in(store, tables.StaffPassword)
    assert row["set_by_id"] == desk_at(store, by="mina").by.id


def test_without_the_manager_it_takes_two_people_within_the_hour(store: Store) -> None:
    for handle in ("rob", "clara"):
        give(store, handle)
    lead, manager = desk_at(store, by="clara"), staff_member(store, "mina", DAY)
    other = replace(lead, by=replace(manager, role=lead.by.role))
    assert codes.give_code(at(lead, timedelta(0)), "rob") is None
    assert codes.give_code(at(lead, timedelta(minutes=1)), "rob") is None, "the same one twice"
    assert codes.give_code(at(other, timedelta(minutes=70)), "rob") is None, "too late"
    assert codes.give_code(at(lead, timedelta(minutes=80)), "rob") is not None
    assert codes.waiting_asks(store, START + timedelta(days=1)) == ()


def test_a_code_is_old_after_an_hour_and_passes_the_wait(store: Store) -> None:
    give(store, "rob")
    wrong(store, clock(), 4)
    code = codes.give_code(at(desk_at(store, by="mina"), timedelta(0)), "rob")
    assert code is not None
    late = clock(timedelta(minutes=61))
    with pytest.raises(Refused, match="not right"):
        passwords.set_password(store, late, "rob", code, OTHER)
    code = codes.give_code(at(desk_at(store, by="mina"), timedelta(0)), "rob")
    assert code is not None
    passwords.set_password(store, clock(), "rob", code, OTHER)
    assert passwords.prove(store, clock(), "rob", OTHER)


def test_nobody_lets_themselves_in(store: Store) -> None:
    with pytest.raises(Refused, match="mina does not let themselves in"):
        codes.give_code(desk_at(store, by="mina"), "mina")
    with pytest.raises(NotFound):
        codes.give_code(desk_at(store, by="mina"), "nightly")


def test_who_signs_in_has_not_forgotten(store: Store) -> None:
    give(store, "clara")
    codes.give_code(at(desk_at(store, by="rob"), timedelta(0)), "clara")
    assert codes.waiting_asks(store, START + timedelta(hours=1)) == ("clara",)
    passwords.prove(store, clock(), "clara", GOOD)
    assert codes.waiting_asks(store, START + timedelta(hours=1)) == ()


@pytest.mark.parametrize(("alone", "days"), [(True, 1), (False, 3)])
def test_the_owner_of_the_file_waits_for_another_day(store: Store, alone: bool, days: int) -> None:
    give(store, "clara")
    if alone:
        for handle in ("rob", "mina"):
            mark_left(store, Clock.at(DAY), handle, DAY, by="mina" if handle == "rob" else "clara")
    for day in range(days):
        assert codes.code_for_owner(store, clock(timedelta(days=day)), "clara") is None
    assert codes.code_for_owner(store, clock(timedelta(days=days)), "clara") is not None
    assert "asked for a code for clara" in str(kept_in(store, tables.HistoryPayload))


def test_what_the_owner_asked_for_long_ago_counts_no_more(store: Store) -> None:
    give(store, "clara")
    codes.code_for_owner(store, clock(), "clara")
    assert codes.code_for_owner(store, clock(timedelta(days=15)), "clara") is None


def test_another_account_gives_no_code(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "getuid", lambda: store.path.parent.stat().st_uid + 1)
    with pytest.raises(Refused, match="Nobody is signed in"):
        codes.code_for_owner(store, clock(), "clara")


def test_all_can_be_taken_away_by_name(store: Store) -> None:
    give(store, "clara")
    passwords.take_all_away(store, clock(), staff_member(store, "clara", DAY))
    assert not passwords.anybody_has_one(store)
    assert "took every password away" in str(kept_in(store, tables.HistoryPayload))
