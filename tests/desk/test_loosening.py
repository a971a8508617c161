"""What an adopted protocol no longer asks, or asks later: listed by rule, answered as a group."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import msgspec
import pytest

from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.plans.adoption import adopt, compare_over_register
from recall.desk.plans.judging import struck_by_rule
from recall.desk.plans.loosening import LoosenedRule, answer_loosened, loosened
from recall.desk.referrals.progress import sent
from recall.errors import InputError, NotFound, Refused
from recall.protocol.loading import Protocol
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import KERATIN, desk_at, history_is_whole, rows, visit
from tests.desk.test_adoption import a_practice, changed, looks, with_rules
from tests.protocol.versions import at_first, first

LOOK = "fluid-child-look"
REFER = "tensa-stuck-refer"
STUCK = Ear(drum_seen="full", attic_seen=True, tensa_grade=2, tensa_mobile=False)


def ended(rule: str, since: date) -> Protocol:
    """The protocol with a rule that ends on a day, and nothing in its place."""
    old = first(rule)
    gone = msgspec.structs.replace(old, until=since)
    return with_rules(tuple(gone if r == old else r for r in at_first().rules))


def adopted(store: Store, new: Protocol, desk: Desk | None = None) -> Desk:
    desk = desk or a_practice(store)
    adopt(desk, new)
    return replace(desk, protocol=new)


def test_what_is_no_longer_asked_is_listed_and_stands_until_it_is_answered(store: Store) -> None:
    desk = a_practice(store)
    new = ended(LOOK, desk.today)
    assert any(m.window is None for m in compare_over_register(desk, at_first(), new).moves)
    before = looks(store)
    desk = adopted(store, new, desk)
    assert loosened(desk) == (LoosenedRule(LOOK, 1, 0, ("W1",)),)
    assert looks(store) == before


def test_taken_it_is_struck_out_for_everybody_at_once(store: Store) -> None:
    desk = a_practice(store)
    desk = adopted(store, ended(LOOK, desk.today), desk)
    with pytest.raises(InputError):
        answer_loosened(desk, LOOK, take=True, why=" ")
    assert answer_loosened(desk, LOOK, take=True, why="Agreed with the team.") == 1
    assert [d for d in looks(store) if d["rule"] == LOOK] == []
    assert struck_by_rule(desk)[0].rule == LOOK
    assert loosened(desk) == () and history_is_whole(store)
    with pytest.raises(NotFound):
        answer_loosened(desk, LOOK, take=True, why="Again.")


def test_left_it_stands_and_is_not_asked_about_again(store: Store) -> None:
    desk = a_practice(store)
    desk = adopted(store, ended(LOOK, desk.today), desk)
    before = looks(store)
    assert answer_loosened(desk, LOOK, take=False, why="They were promised it.") == 1
    assert looks(store) == before and loosened(desk) == ()
    (row,) = rows(store, tables.LoosenedLine)
    assert (row["answer"], row["why"], row["answered_by_id"]) == (
        "left",
        "They were promised it.",
        desk.by.id,
    )


def test_what_comes_later_is_moved_to_the_new_days(store: Store) -> None:
    """10 weeks from 1 September 2026 is 10 November, against 27 October before."""
    desk = a_practice(store)
    desk = adopted(store, changed("10 weeks", desk.today), desk)
    assert loosened(desk) == (LoosenedRule(LOOK, 0, 1, ("W1",)),)
    assert [d["latest"] for d in looks(store)] == [date(2026, 10, 27)]
    answer_loosened(desk, LOOK, take=True, why="Agreed.")
    assert [d["latest"] for d in looks(store)] == [date(2026, 11, 10)]


def test_what_presses_is_never_answered_as_a_group(store: Store) -> None:
    desk = a_practice(store)
    visit(desk, 1, left=KERATIN)
    urgent = [r for r in rows(store, tables.Referral) if r["urgency"] == "urgent"]
    assert urgent
    bare = with_rules(tuple(r for r in at_first().rules if r.urgency != "urgent"))
    moves = compare_over_register(desk, at_first(), bare).moves
    assert any(m.kind == "refer" for m in moves)
    ends = tuple(
        msgspec.structs.replace(r, until=desk.today)
        if r.urgency == "urgent" and r.since < desk.today
        else r
        for r in at_first().rules
    )
    desk = adopted(store, with_rules(ends), desk)
    assert not [r for r in rows(store, tables.LoosenedLine) if r["referral_id"] == urgent[0]["id"]]


@pytest.mark.parametrize("was_sent", [False, True])
def test_a_referral_that_is_no_longer_asked_is_listed_unless_it_was_sent(
    store: Store, was_sent: bool
) -> None:
    desk = a_practice(store)
    visit(desk, 1, left=STUCK)
    (row,) = [r for r in rows(store, tables.Referral) if r["is_open"]]
    if was_sent:
        sent(desk, row["id"], None)

    desk = adopted(store, ended(REFER, desk.today), desk)

    listed = [line for line in loosened(desk) if line.rule == REFER]
    assert listed == ([] if was_sent else [LoosenedRule(REFER, 1, 0, ("W1",))])
    if listed:
        answer_loosened(desk, REFER, take=True, why="Agreed.")
    (row,) = rows(store, tables.Referral, id=row["id"])
    assert row["is_open"] is was_sent


def test_it_is_the_clinical_leads(store: Store) -> None:
    desk = a_practice(store)
    desk = adopted(store, ended(LOOK, desk.today), desk)
    for handle in ("rob", "mina"):
        with pytest.raises(Refused, match="may not"):
            answer_loosened(desk_at(store, by=handle), LOOK, take=True, why="So.")
