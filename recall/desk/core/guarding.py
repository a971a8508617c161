"""The one way a function of the desk says which right it needs."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, TypeVar, cast

from recall.desk.core.rights import Right
from recall.desk.core.session import Desk

F = TypeVar("F", bound=Callable[..., Any])
ASKED = "__right__"
"""The attribute under which a function of the desk carries the right that it needs."""


def needs(right: Right) -> Callable[[F], F]:
    """Refuse a function of the desk to whoever lacks the right, before it does anything."""

    def guarded(function: F) -> F:
        @functools.wraps(function)
        def checked(desk: Desk, *args: Any, **named: Any) -> Any:
            desk.require(right)
            return function(desk, *args, **named)

        setattr(checked, ASKED, right)
        return cast(F, checked)

    return guarded
