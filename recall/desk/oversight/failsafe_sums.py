"""Whether the accounts add up: every ask on record counted once, and open where its row is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from recall.accounts.cohort import EVER, Account, Day, account_of_rechecks, account_of_referrals
from recall.desk.core.session import Desk
from recall.desk.oversight.failsafe_plan import FoundFields
from recall.records import tables
from recall.records.facts.asks import rechecks, referred
from recall.records.facts.cases import stands
from recall.records.tables.statements import many

KIND = "accounts_differ"


def check(desk: Desk, session: Session) -> Iterator[FoundFields]:
    """Give every ask that the accounts count otherwise than the tables, or not at all."""
    day, rules = Day(desk.today), desk.protocol.contact
    yield from _due(session, account_of_rechecks(rechecks(session, EVER), day))
    sent = account_of_referrals(referred(session, EVER), day, rules, desk.calendar)
    yield from _referrals(session, sent)


def _due(session: Session, account: Account) -> Iterator[FoundFields]:
    d = tables.Due
    wanted = select(d.id, d.person_id, d.is_open, d.asked_on).where(
        d.asked_on <= account.day.on, stands(d)
    )
    yield from _compared("due", many(session, wanted.order_by(d.id)), account)


def _referrals(session: Session, account: Account) -> Iterator[FoundFields]:
    r = tables.Referral
    wanted = select(r.id, r.person_id, r.is_open, r.asked_on).where(
        r.asked_on <= account.day.on, stands(r)
    )
    yield from _compared("referral", many(session, wanted.order_by(r.id)), account)


def _compared(
    entity: str, rows: Iterable[Row[int, int, bool, date]], account: Account
) -> Iterator[FoundFields]:
    part = {state.id: state.part for state in account.states}
    counted = {entry.number: part[entry.state] == "open" for entry in account.entries}
    for number, person, is_open, asked_on in rows:
        if number not in counted:
            says = "On record, and counted in no line of the accounts."
        elif counted[number] != is_open:
            stands_as = "open" if is_open else "closed"
            says = f"Stands as {stands_as}; by its events it is {'not ' if is_open else ''}open."
        else:
            continue
        yield KIND, person, entity, number, asked_on, says
    if sum(line.asks for line in account.lines()) != len(account.entries):
        says = "The lines of the accounts do not sum to the asks."
        yield KIND, None, entity, 0, None, says
