"""The one way a function of the desk says which right it needs."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, TypeVar, cast

from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import NotFound
from recall.records.database.odd import Unreadable

F = TypeVar("F", bound=Callable[..., Any])
ASKED = "__right__"
"""The attribute under which a function of the desk carries the right that it needs."""


def needs(right: Right) -> Callable[[F], F]:
    """Refuse a function of the desk to whoever lacks the right, before it does anything.

    What only looks goes on without those whose rows cannot be read: every list says so.
    """

    def guarded(function: F) -> F:
        @functools.wraps(function)
        def checked(desk: Desk, *args: Any, **named: Any) -> Any:
            desk.require(right)
            try:
                return function(desk, *args, **named)
            except Unreadable:
                if right is not Right.LOOK or desk.store.not_found(args):
                    raise
                return function(desk, *args, **named)  # without whoever cannot be read
            except NotFound:
                if said := desk.store.not_found(args):
                    raise said from None
                raise

        setattr(checked, ASKED, right)
        return cast(F, checked)

    return guarded
