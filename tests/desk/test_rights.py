"""Who may do what: the table by hand, and every function of the desk held to it.

Which role may do what is common practice, no source: what is clinically decided is for those
who examine ears (compare the professional codes' rule that one acts within one's competence).
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator
from typing import Any, get_type_hints

import pytest
from sqlalchemy.orm import Session

import recall.desk
from recall.desk.core.guarding import ASKED
from recall.desk.core.rights import RIGHTS, Right, Role
from recall.desk.core.session import Desk, StaffRow
from recall.desk.plans.decisions import Decided
from recall.errors import Refused
from recall.records.database.store import Store
from tests.desk.practice import desk_at

D, P, R, M, J = "lead", "practitioner", "reception", "manager", "jobs"
SHORT = {
    "lead": Role.CLINICAL_LEAD,
    "practitioner": Role.PRACTITIONER,
    "reception": Role.RECEPTION,
    "manager": Role.MANAGER,
    "jobs": Role.JOBS,
    "nobody": Role.NOBODY,
}
BY_HAND = {
    "LOOK": {D, P, R, M, J, "nobody"},
    "REACH": {D, P, R, M},
    "KEEP_PEOPLE": {D, P, R, M},
    "TAKE_IN_FILES": {D, P, R, M, J},
    "TYPE_VISITS": {D, P, R},
    "FOLLOW_REFERRALS": {D, P, R, M},
    "SEND_POST": {D, P, R, M, J},
    "END": {D, P, M},
    "DECIDE": {D, P},
    "ADOPT": {D},
    "KEEP_STAFF": {D, M},
    "VOUCH": {D, P, R, M},
    "SEE_LOOKS": {D, M},
    "HAND_OVER": {D, M},
    "ERASE": {D, M},
    "HOLD_KEY": {D, M},
    "MOVE": {D, M},
    "MAINTAIN": {D, P, R, M, J},
}
"""Reviewed by hand; not read from the table under test."""
ROLES = [role for role in Role if role is not Role.NOBODY]


def functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    """Yield every public function of the desk that acts for somebody, by its dotted name."""
    for module in pkgutil.walk_packages(recall.desk.__path__, "recall.desk."):
        found = importlib.import_module(module.name)
        for name, function in vars(found).items():
            own = getattr(function, "__module__", "") == module.name
            if own and inspect.isfunction(function) and not name.startswith("_"):
                yield f"{module.name.removeprefix('recall.desk.')}.{name}", function


def acts_for_somebody(function: Callable[..., Any]) -> bool:
    """Return whether it takes a desk first, and no transaction of somebody else's act."""
    hints = get_type_hints(inspect.unwrap(function), localns={"Store": Store})
    parameters = list(inspect.signature(function).parameters)
    first = hints.get(parameters[0]) if parameters else None
    return first is Desk and Session not in hints.values()


EVERY = {name: f for name, f in functions() if acts_for_somebody(f)}


def test_the_table_is_the_reviewed_one() -> None:
    assert {right.name: set(roles) for right, roles in RIGHTS.items()} == {
        name: {SHORT[each] for each in roles} for name, roles in BY_HAND.items()
    }


def test_every_function_of_the_desk_says_which_right_it_needs() -> None:
    assert len(EVERY) > 100
    assert [name for name, function in EVERY.items() if not hasattr(function, ASKED)] == []


def test_what_writes_never_asks_for_looking_alone() -> None:
    """What opens a writing transaction itself is more than looking."""
    wrong = [
        name
        for name, function in EVERY.items()
        if "store.write()" in inspect.getsource(inspect.unwrap(function))
        and getattr(function, ASKED) is Right.LOOK
    ]
    assert wrong == []


@pytest.mark.parametrize("name", sorted(EVERY))
def test_each_function_is_refused_to_each_role_without_the_right(store: Store, name: str) -> None:
    function = EVERY[name]
    right = getattr(function, ASKED)
    for role in Role:
        desk = desk_at(store).acting_for(StaffRow(0, "somebody", "Somebody", role))
        if role in RIGHTS[right]:
            desk.require(right)
            continue
        with pytest.raises(Refused, match=r"somebody .* may not"):
            function(desk)


def test_a_clinical_decision_is_not_the_managers(store: Store) -> None:
    manager = desk_at(store, by="mina")
    decide = EVERY["plans.decisions.decide"]
    for decision in ("carry_on", "clinician_decision", "move"):
        with pytest.raises(Refused, match=r"mina \(manager\) may not"):
            decide(manager, [1], Decided(decision, "why"))
