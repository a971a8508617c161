"""The one way a function of the desk says which right it needs."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.core.site_rights import READS, refuse_other_sites
from recall.errors import NotFound
from recall.records.database.odd import Unreadable

F = TypeVar("F", bound=Callable[..., Any])
Given = Mapping[str, Any]
"""What a function of the desk was given, by the names of its parameters."""
ASKED, NUMBER, NEVER_WAITS = "__right__", "__number__", "__never_waits__"
"""The attributes of a function of the desk: the right that it needs, what its bare `number` is,
and what of it is never refused for the sake of a site."""


def always(_given: Given) -> bool:
    """Say that a function never waits for somebody who works for the person's site."""
    return True


def needs(
    right: Right,
    *,
    number: str = "",
    never_waits: Callable[[Given], bool] | None = None,
    for_the_others: bool = False,
) -> Callable[[F], F]:
    """Refuse a function of the desk to whoever lacks the right, before it does anything.

    So it is for a person of a site for which whoever acts does not work, unless the function
    only looks, or what it is given must not wait. What only looks goes on without those whose
    rows cannot be read: every list says so.

    Args:
        right: what it needs.
        number: which rows its parameter `number` names, as `site_rights` calls them.
        never_waits: says of what it was given whether it must not wait for another desk.
        for_the_others: it goes over many, keeps nothing of what it broke off in, and says whom
            it left out: it goes on without them, too.
    """
    goes_on = for_the_others or right is Right.LOOK

    def guarded(function: F) -> F:
        asks = _Asks(right, number, never_waits, inspect.signature(function))

        @functools.wraps(function)
        def checked(desk: Desk, *args: Any, **named: Any) -> Any:
            desk.require(right)
            asks.look_at_the_site(desk, args, named)
            return _without_the_unreadable(goes_on, function, desk, args, named)

        for name, said in ((ASKED, right), (NUMBER, number), (NEVER_WAITS, never_waits)):
            setattr(checked, name, said)
        return cast(F, checked)

    return guarded


@dataclass(frozen=True)
class _Asks:
    """What a function of the desk asks of whoever acts."""

    right: Right
    number: str
    never_waits: Callable[[Given], bool] | None
    takes: inspect.Signature

    def look_at_the_site(self, desk: Desk, args: Sequence[Any], named: Given) -> None:
        """Refuse what is done about somebody of another site, unless it must not wait."""
        if self.right in READS or len(desk.config.sites) < 2:
            return
        given = dict(self.takes.bind_partial(desk, *args, **named).arguments)
        if self.number:
            given[self.number] = given.pop("number", None)
        if self.never_waits is None or not self.never_waits(given):
            refuse_other_sites(self.right, desk, given)


def _without_the_unreadable(
    goes_on: bool, function: Callable[..., Any], desk: Desk, args: Sequence[Any], named: Given
) -> Any:
    """Do it; what only looks, or goes over many, goes on without whoever cannot be read."""
    try:
        return function(desk, *args, **named)
    except Unreadable:
        if not goes_on or desk.store.not_found(args):
            raise
        return function(desk, *args, **named)
    except NotFound:
        if said := desk.store.not_found(args):
            raise said from None
        raise
